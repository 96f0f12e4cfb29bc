package comparison

// The types in this file are the comparison file as it is written: decode.go
// fills them from YAML, schema.go turns them into the JSON Schema, and
// resolve.go makes a File of them. Their tags mean:
//
//	key      the key in the file; a field without one holds keys of its own
//	need     the key must be there
//	planned  keys that the design has and that do nothing yet
//	words    the values of a word
//	min, max limits of the value, in the value's own notation; of a text, a
//	         list or a mapping those of its length
//	even     both sides must be even numbers
//	unique   no value may stand in the list twice; resolve.go says so
//	default  the value of a key that is not set
//	unset    the same in words, where it is no fixed value
//	doc      what the key does: the description in the schema and in the help

type document struct {
	mark
	Title    text                `key:"title" max:"200" doc:"What is compared; heads the title pages"`
	Output   output              `key:"output" doc:"How all clips are made"`
	Captures table[capture]      `key:"captures" need:"true" min:"1" max:"100" doc:"The recordings, each under a short key"`
	Fonts    fonts               `key:"fonts" doc:"Font files of your own (TTF or OTF), used instead of the embedded ones"`
	Defaults sceneKeys           `key:"defaults" doc:"Any key of a scene except 'id', set once for all scenes"`
	Scenes   list[sceneDocument] `key:"scenes" need:"true" min:"1" max:"2000" doc:"The stretches of play, each of which becomes a clip"`
}

type output struct {
	mark
	Folder   path         `key:"folder" default:"out" doc:"Folder for the clips, relative to this file"`
	Size     size         `key:"size" min:"128" max:"7680" even:"true" default:"1920x1080" doc:"Width x height in pixels, even numbers; any shape from wide to portrait"`
	Rate     rate         `key:"rate" min:"1" max:"240" default:"60" doc:"Frames a second: a whole number, or a fraction such as 60000/1001, never a decimal"`
	Delivery word         `key:"delivery" words:"web hevc av1 hdr edit dnxhr lossless overlay gif webp" default:"web" doc:"How the clips are encoded"`
	Codec    word         `key:"codec" words:"prores ffv1 vp9 png" unset:"prores" doc:"Codec of an 'overlay'"`
	Transfer word         `key:"transfer" words:"pq hlg" unset:"that of the captures; pq where they differ or are SDR" doc:"Transfer of an 'hdr' clip (ITU-R BT.2100): 'pq' or 'hlg'"`
	Encoder  word         `key:"encoder" words:"libx264 libx265 libsvtav1 h264_nvenc h264_qsv h264_amf h264_vaapi h264_videotoolbox hevc_nvenc hevc_qsv hevc_amf hevc_vaapi hevc_videotoolbox av1_nvenc av1_qsv av1_amf av1_vaapi" unset:"the delivery's own" doc:"ffmpeg's name of the encoder, such as a graphics card's 'hevc_nvenc'. If it does not work here, the delivery's own encoder is used"`
	Quality  word         `key:"quality" words:"visually-lossless high small" unset:"visually-lossless" doc:"How good the pictures are"`
	Effort   word         `key:"effort" words:"quick normal thorough" unset:"normal" doc:"How much work goes into a small file"`
	FFmpeg   list[option] `key:"ffmpeg" min:"1" max:"64" unset:"none" doc:"More options for the encoder, each name followed by its value, such as [-tune, film]"`
}

type capture struct {
	mark
	Name   text   `key:"name" min:"1" max:"80" unset:"the key" doc:"Name shown on the name tab"`
	Detail text   `key:"detail" max:"80" unset:"none" doc:"Second text on the name tab"`
	Raster size   `key:"raster" min:"16" max:"16384" unset:"not shown" doc:"Resolution the machine renders at, as you state it. Shown with the pixel ratio to the first capture that states one: 1920x1080 against 1408x792 is +86 %"`
	Video  path   `key:"video" need:"true" doc:"Path of the recording, relative to this file"`
	Pacing source `key:"pacing" doc:"Path of its pacing log, or how to read one, or 'measure' to work it out from the pictures. Every scene with a deck needs it"`
}

type logFormat struct {
	mark
	File   path `key:"file" need:"true" doc:"Path of the log: delimited text with a header"`
	Column text `key:"column" min:"1" max:"200" unset:"the program's own columns" doc:"Header of the one column to read"`
	Means  word `key:"means" words:"frame-time time-stamp new-frame" doc:"What the values are. 'frame-time': how long each frame stayed. 'time-stamp': when each frame appeared. 'new-frame': a row for each captured frame, 1 for a new frame, 0 for a repeated one. Goes with 'column'"`
	Unit   word `key:"unit" words:"s ms us ns" unset:"ms for frame times, s for time stamps" doc:"Unit of the values: 's', 'ms', 'us' or 'ns'"`
	Starts span `key:"starts" min:"-600000h" max:"600000h" default:"0s" doc:"Capture time of the log's own zero; may be negative"`
}

// measureKeys say which part of the pictures decides what was a new frame.
type measureKeys struct {
	mark
	Region box       `key:"region" unset:"the whole picture" doc:"The part of the picture to measure, as [x, y, width, height] in pixels of the capture"`
	Ignore list[box] `key:"ignore" min:"1" max:"32" unset:"none" doc:"Parts of the picture to leave out, such as a speed display that updates at another rate than the game"`
	Tears  word      `key:"tears" words:"search none" default:"search" doc:"Whether frames may begin in mid-picture. 'none': never, because the machine is v-synced"`
	// Measure says in words what the other keys imply.
	Measure toggle `key:"measure" unset:"true beside the other keys" doc:"Measure the capture's pacing; only true is allowed"`
}

type fonts struct {
	mark
	Text path `key:"text" unset:"the embedded font" doc:"Font file for plain text. Glyphs it lacks come from the embedded font; a glyph that no font has is an error"`
	Bold path `key:"bold" unset:"the text font" doc:"Font file for names and numbers"`
}

type sceneDocument struct {
	mark
	ID identifier `key:"id" need:"true" doc:"Name of the scene and of its clip's file"`
	sceneKeys
}

// sceneKeys are the keys that a scene and defaults have in common.
type sceneKeys struct {
	mark
	Captures   list[reference]    `key:"captures" min:"1" max:"4" unique:"true" doc:"Keys of one to four captures, in the order shown; four are two by two"`
	Start      perCapture[moment] `key:"start" min:"1" max:"100" doc:"The first instant shown, in capture time: one for all captures, or one for each"`
	Length     moment             `key:"length" doc:"How long the scene is; frames are counted at the output's rate"`
	Speed      ratio              `key:"speed" min:"1/64" max:"64" default:"1" doc:"How fast the scene plays: 0.25 is slow motion, which repeats frames; 2 is fast motion, which drops frames"`
	Hold       list[holdKeys]     `key:"hold" min:"0" max:"20" unset:"none" doc:"Instants that stay on screen for a while, such as [{at: 3s, for: 2s}]"`
	View       word               `key:"view" words:"columns rows single inset wipe alternate difference" default:"columns" doc:"How the captures share the picture; wipe and alternate take two captures or more, difference two or three"`
	Single     reference          `key:"single" unset:"the first one" doc:"For view 'single': key of the capture on screen"`
	Inset      inset              `key:"inset" doc:"For view 'inset': which capture is shown whole, and where the windows are"`
	Wipe       wipe               `key:"wipe" doc:"For view 'wipe': where the line between the captures is, and how it moves"`
	Alternate  alternate          `key:"alternate" doc:"For view 'alternate': when the picture changes"`
	Difference difference         `key:"difference" doc:"For view 'difference': what is compared, how much it is enlarged, and whether the captures are shown too"`
	Window     perCapture[window] `key:"window" min:"1" max:"100" doc:"What the panes show: 'whole', or a centre and a scale; one for all captures, or one for each"`
	Deck       deck               `key:"deck" doc:"The strip with the readouts, the frame-rate line and the frame times"`
	Caption    text               `key:"caption" max:"300" unset:"none" doc:"One line of text about the scene, shown in the deck and on the pages"`
	Marks      list[annotation]   `key:"marks" min:"0" max:"40" unset:"none" doc:"Boxes, arrows and short notes on the footage"`
	Audio      reference          `key:"audio" words:"mix ears none" unset:"the first one shown" doc:"What is heard: the key of a capture; 'mix': the mean of all; 'ears': the first on the left, the second on the right; or 'none'"`
	Loudness   level              `key:"loudness" min:"-50" max:"-5" unset:"unchanged" doc:"Loudness of the clip in LUFS (EBU R 128), such as -14 or -23, reached by one gain that keeps the true peak at or below -1 dBTP"`
	Tolerate   choices            `key:"tolerate" words:"none decode-errors gaps" default:"none" doc:"Faults that do not stop the clip: one, or a list such as [gaps, decode-errors]. 'decode-errors': a damaged capture is shown with whatever the decoder makes of it. 'gaps': where a recorder dropped pictures, the one before is shown. The manifest, the closing page and verify say so. 'none': every fault stops it"`
	Still      word               `key:"still" words:"judged counts leaves+out" default:"judged" doc:"What becomes of a stretch of half a second or more in which the picture does not change. 'counts': it is one long frame. 'leaves out': it enters no figure. 'judged': up to 2 s between moving pictures is a freeze and counts as a hitch; what is longer, lies at an edge of the scene or has no movement on both sides may be a menu and is left out; either way it is said"`
	Timecode   reference          `key:"timecode" words:"none" unset:"none" doc:"Key of the capture whose timecode the clip carries, or 'none'"`
	Title      span               `key:"title" min:"0s" max:"1m" default:"0s" doc:"How long a still page opens the clip, with the file's title, the caption and the captures' names; 0s: no page"`
	Summary    span               `key:"summary" min:"0s" max:"1m" default:"0s" doc:"How long a still page with the key figures closes the clip; 0s: no page"`
}

// The options of single views.

type inset struct {
	mark
	Whole reference `key:"whole" unset:"the first one" doc:"Key of the capture shown whole"`
	Place word      `key:"place" words:"beside over" default:"beside" doc:"The windows are 'beside' the whole capture, or lie 'over' it, clear of what they magnify"`
}

type wipe struct {
	mark
	At    places        `key:"at" unset:"equal parts" doc:"Where the line is, from 0 to 1; for more than two captures a list, one place for each line between them"`
	Angle whole         `key:"angle" min:"-90" max:"90" default:"0" doc:"Degrees by which the line leans: 0 is upright, 90 is level with the first capture above it"`
	Keys  list[wipeKey] `key:"keys" min:"1" max:"100" unset:"none" doc:"Where the line is at which times, such as [{t: 0s, at: 0.2}, {t: 2s, at: 0.8}]; it eases from one to the next"`
	Swing span          `key:"swing" min:"500ms" max:"1m" unset:"it stands still" doc:"Time in which the line swings over and back around 'at', as a sine does, as far as 0.1 or 0.9"`
}

type wipeKey struct {
	mark
	T  moment `key:"t" need:"true" doc:"The time, from the scene's start in clip time"`
	At places `key:"at" need:"true" doc:"Where the line is then"`
}

type alternate struct {
	mark
	Every span         `key:"every" min:"100ms" max:"1h" default:"2s" doc:"How long each capture is shown, rounded to whole frames"`
	At    list[moment] `key:"at" min:"1" max:"200" doc:"Instead of 'every': the times at which the next capture is shown"`
}

type difference struct {
	mark
	Gain ratio `key:"gain" min:"1/4" max:"64" default:"4" doc:"How many times the difference is enlarged; what gets too bright is clipped"`
	Of   word  `key:"of" words:"luma colour" default:"luma" doc:"'luma': the brightness alone, in grey; 'colour': red, green and blue each"`
	Show word  `key:"show" words:"beside alone" default:"beside" doc:"The difference 'beside' the captures, or 'alone'"`
}

// annotation is a mark; mark is the place of a value.
type annotation struct {
	mark
	Box     region    `key:"box" doc:"An outline, as [x, y, width, height] in fractions of the capture"`
	Arrow   arrow     `key:"arrow" doc:"Tail and tip of an arrow, as [[x, y], [x, y]] in fractions of the capture; the tip is at the place meant"`
	At      point     `key:"at" doc:"Middle of a note without box or arrow, as [x, y] in fractions of the capture"`
	Note    text      `key:"note" min:"1" max:"200" doc:"A few words, shown beside the box, at the arrow's tail, or at 'at'"`
	Capture reference `key:"capture" unset:"all of the scene" doc:"Key of the only capture to mark"`
	From    moment    `key:"from" unset:"the start" doc:"When the mark appears, in scene time, with the frame then on screen"`
	To      moment    `key:"to" unset:"the end" doc:"When the mark goes, in scene time, just before the frame then on screen"`
}

// holdKeys are one hold of a scene.
type holdKeys struct {
	mark
	At  moment `key:"at" need:"true" doc:"The instant to hold, in scene time"`
	For span   `key:"for" need:"true" min:"10ms" max:"10m" doc:"How long it stays on screen"`
}

// windowKeys is the written-out form of a window.
type windowKeys struct {
	mark
	Center  point          `key:"center" default:"[0.5, 0.5]" doc:"The window's centre [x, y] in fractions of the capture's width and height; [0, 0] is the top left corner"`
	Magnify ratio          `key:"magnify" min:"1/64" max:"64" default:"1" doc:"The scale: at 1 the capture's shorter side equals the output's shorter side, so a 1080-line capture is one to one in 1920x1080, 1080x1920 and 1080x1080"`
	Kernel  word           `key:"kernel" words:"nearest bicubic lanczos" default:"lanczos" doc:"How the picture is scaled: 'nearest' shows true pixels, 'bicubic' and 'lanczos' smooth them"`
	Moves   list[moveKeys] `key:"moves" min:"0" max:"50" unset:"none" doc:"Stops through which the window glides"`
}

// moveKeys are one stop of a window that moves.
type moveKeys struct {
	mark
	At      moment `key:"at" need:"true" doc:"When the window is at this stop, in scene time"`
	Held    span   `key:"held" min:"0s" max:"10m" default:"0s" doc:"How long after that, while 'hold' keeps the scene at that instant"`
	Center  point  `key:"center" unset:"that of the move before, of the first move that of the window" doc:"The window's centre then"`
	Magnify ratio  `key:"magnify" min:"1/64" max:"64" unset:"that of the move before, of the first move that of the window" doc:"The window's scale then"`
}

type deck struct {
	mark
	Place      word   `key:"place" words:"below over none" default:"below" doc:"'below' the panes, which keep their pixels; translucent 'over' the footage; or 'none'"`
	RateAxis   axis   `key:"rate-axis" max:"1000" unset:"chosen to fit the scene" doc:"Range of the frame-rate line in fps, such as [0, 70]"`
	TimeAxis   axis   `key:"time-axis" max:"10000" unset:"chosen to fit the scene" doc:"Range of the frame times in ms"`
	Rate       word   `key:"rate" words:"spans trailing" default:"spans" doc:"What the frame rate is a mean of. 'spans': the window stays inside the stretch that keeps to one frame time, so a lock falls in one step. 'trailing': the time before, whatever happens in it"`
	RateWindow span   `key:"rate-window" min:"10ms" max:"1m" default:"1s" doc:"Time over which the frame rate is a mean"`
	TreadSpan  span   `key:"tread-span" min:"100ms" max:"1m" default:"1.5s" doc:"How much of the past the frame times show"`
	Tabs       toggle `key:"tabs" unset:"true; with place none, false" doc:"Whether name tabs are drawn"`
}
