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
//	default  what an absent key stands for
//	doc      the description in the schema

type document struct {
	mark
	Title    text                `key:"title" max:"200" doc:"What is compared; heads the title pages"`
	Output   output              `key:"output" doc:"What every clip is made like"`
	Captures table[capture]      `key:"captures" need:"true" min:"1" max:"100" doc:"The recordings, each under a short key"`
	Fonts    fonts               `key:"fonts" doc:"Font files (TTF or OTF) to use instead of the embedded ones"`
	Defaults sceneKeys           `key:"defaults" doc:"Scene keys that hold wherever a scene does not set its own"`
	Scenes   list[sceneDocument] `key:"scenes" need:"true" min:"1" max:"2000" doc:"The stretches of play, each of which becomes a clip"`
}

type output struct {
	mark
	Folder   path         `key:"folder" default:"out" doc:"Folder of the clips, relative to this file"`
	Size     size         `key:"size" min:"128" max:"7680" even:"true" default:"1920x1080" doc:"Width x height in pixels, even numbers"`
	Rate     rate         `key:"rate" min:"1" max:"240" default:"60" doc:"Frames a second, a whole number or a fraction such as 60000/1001"`
	Delivery word         `key:"delivery" words:"web hevc av1 hdr edit dnxhr lossless overlay gif webp" default:"web" doc:"How the clips are encoded"`
	Codec    word         `key:"codec" words:"prores ffv1 vp9 png" doc:"What an overlay is coded in; prores unless set"`
	Transfer word         `key:"transfer" words:"pq hlg" doc:"How an hdr clip codes light (ITU-R BT.2100); that of the captures unless set, and pq where they differ or are SDR"`
	Encoder  word         `key:"encoder" words:"libx264 libx265 libsvtav1 h264_nvenc h264_qsv h264_amf h264_vaapi h264_videotoolbox hevc_nvenc hevc_qsv hevc_amf hevc_vaapi hevc_videotoolbox av1_nvenc av1_qsv av1_amf av1_vaapi" doc:"ffmpeg's name of the encoder, such as a graphics card's; the delivery's own unless set, and where it does not work"`
	Quality  word         `key:"quality" words:"visually-lossless high small" doc:"How good the pictures are; visually-lossless unless set"`
	Effort   word         `key:"effort" words:"quick normal thorough" doc:"How much work is spent on a small file; normal unless set"`
	FFmpeg   list[option] `key:"ffmpeg" min:"1" max:"64" doc:"Further options that steer the encoder, name and value in turns, such as [-tune, film]"`
}

type capture struct {
	mark
	Name   text   `key:"name" min:"1" max:"80" doc:"Shown on the name tab; the key unless set"`
	Detail text   `key:"detail" max:"80" doc:"Second text on the name tab"`
	Raster size   `key:"raster" min:"16" max:"16384" doc:"Resolution the machine renders at, as the reviewer states it"`
	Video  path   `key:"video" need:"true" doc:"Path of the recording, relative to this file"`
	Pacing source `key:"pacing" doc:"Path of a pacing log, how to read one, or measure to work it out from the pictures; needed wherever a deck is drawn"`
}

type logFormat struct {
	mark
	File   path `key:"file" need:"true" doc:"Path of the log: delimited text with a header"`
	Column text `key:"column" min:"1" max:"200" doc:"The column to read; the tool's own columns unless set"`
	Means  word `key:"means" words:"frame-time time-stamp new-frame" doc:"What the column's values are; needed with column"`
	Unit   word `key:"unit" words:"s ms us ns" doc:"The values' unit; ms for frame-time and s for time-stamp unless set"`
	Starts span `key:"starts" min:"-24h" max:"24h" default:"0s" doc:"Capture time of the log's own zero"`
}

// measureKeys say which part of the pictures decides what was a new frame.
type measureKeys struct {
	mark
	Region box       `key:"region" doc:"What counts, as [x, y, width, height] in pixels of the capture; the whole picture unless set"`
	Ignore list[box] `key:"ignore" min:"1" max:"32" doc:"What does not count, such as a display that moves at another rate than the game"`
	Tears  word      `key:"tears" words:"search none" default:"search" doc:"Whether frames may begin in mid-picture; none: the machine is v-synced"`
	// Measure says in words what the other keys imply.
	Measure toggle `key:"measure" doc:"true; may be left out beside the others"`
}

type fonts struct {
	mark
	Text path `key:"text" doc:"Font file of the plain text"`
	Bold path `key:"bold" doc:"Font file of names and numbers; the text font's unless it is set"`
}

type sceneDocument struct {
	mark
	ID identifier `key:"id" need:"true" doc:"Name of the scene and of its clip's file"`
	sceneKeys
}

// sceneKeys are the keys that a scene and defaults have in common.
type sceneKeys struct {
	mark
	Captures   list[reference]    `key:"captures" min:"1" max:"4" unique:"true" doc:"Keys of one to four captures, in the order shown; four stand two by two"`
	Start      perCapture[moment] `key:"start" min:"1" max:"100" doc:"The first instant shown, in capture time: one for all captures or one for each"`
	Length     moment             `key:"length" doc:"How long the scene is; frames are counted at the output's rate"`
	Speed      ratio              `key:"speed" min:"1/64" max:"64" default:"1" doc:"How fast the scene passes: 0.25 is slow motion that repeats frames, 2 is fast motion that drops them"`
	Hold       list[holdKeys]     `key:"hold" min:"0" max:"20" doc:"Instants at which the scene stands still for a while"`
	View       word               `key:"view" words:"columns rows single inset wipe alternate difference" default:"columns" doc:"How the panes are arranged; wipe and alternate take two captures or more, difference two or three"`
	Single     reference          `key:"single" doc:"With view single: key of the capture on screen; the first one unless set"`
	Inset      inset              `key:"inset" doc:"With view inset: what is shown whole, and where the windows stand"`
	Wipe       wipe               `key:"wipe" doc:"With view wipe: where the line between the captures stands, and how it moves"`
	Alternate  alternate          `key:"alternate" doc:"With view alternate: when the picture changes"`
	Difference difference         `key:"difference" doc:"With view difference: of what, how much enlarged, and whether the captures stand beside it"`
	Window     perCapture[window] `key:"window" min:"1" max:"100" doc:"What the panes show: whole, or a centre and a scale; one for all captures or one for each"`
	Deck       deck               `key:"deck" doc:"The strip with the readouts, the frame-rate line and the frame times"`
	Caption    text               `key:"caption" max:"300" doc:"One line of text about the scene"`
	Marks      list[annotation]   `key:"marks" min:"0" max:"40" doc:"Boxes, arrows and short notes at places of the captures"`
	Audio      reference          `key:"audio" words:"mix ears none" doc:"Key of the capture that is heard; mix: the mean of all; ears: the first on the left, the second on the right; or none; the first one shown unless set"`
	Loudness   level              `key:"loudness" min:"-50" max:"-5" doc:"What the clip's sound is brought to, in LUFS (EBU R 128), by one gain that keeps its true peak at or below -1 dBTP; untouched unless set"`
	Tolerate   word               `key:"tolerate" words:"none decode-errors" default:"none" doc:"Faults that do not stop the clip: decode-errors shows what the decoder makes up where a capture is damaged, and the manifest, the summary and verify say so; frames that are missing still stop it"`
	Timecode   reference          `key:"timecode" words:"none" doc:"Key of the capture whose time code the clip carries, or none; none unless set"`
	Title      span               `key:"title" min:"0s" max:"1m" default:"0s" doc:"How long a still page with the file's title, the caption and the captures' names opens the clip; 0s: no page"`
	Summary    span               `key:"summary" min:"0s" max:"1m" default:"0s" doc:"How long a still page with the key figures closes the clip; 0s: no page"`
}

// The options of single views.

type inset struct {
	mark
	Whole reference `key:"whole" doc:"Key of the capture shown whole; the first one unless set"`
	Place word      `key:"place" words:"beside over" default:"beside" doc:"Whether the windows stand beside the whole capture or lie over it"`
}

type wipe struct {
	mark
	At    places        `key:"at" doc:"Where the line stands in the picture, from 0 to 1; a list for more than two captures, one place for each line between them"`
	Angle whole         `key:"angle" min:"-90" max:"90" default:"0" doc:"Degrees by which the line leans: 0 upright, 90 lying with the first capture above it"`
	Keys  list[wipeKey] `key:"keys" min:"1" max:"100" doc:"Where the line stands at which times; it eases from one to the next"`
	Swing span          `key:"swing" min:"500ms" max:"1m" doc:"The time in which the line swings over and back"`
}

type wipeKey struct {
	mark
	T  moment `key:"t" need:"true" doc:"Time from the clip's beginning"`
	At places `key:"at" need:"true" doc:"Where the line stands then"`
}

type alternate struct {
	mark
	Every span         `key:"every" min:"100ms" max:"1h" default:"2s" doc:"How long each capture is shown, rounded to whole frames"`
	At    list[moment] `key:"at" min:"1" max:"200" doc:"The times at which the next capture takes its turn"`
}

type difference struct {
	mark
	Gain ratio `key:"gain" min:"1/4" max:"64" default:"4" doc:"How many times the difference is enlarged"`
	Of   word  `key:"of" words:"luma colour" default:"luma" doc:"Of the brightness alone, or of red, green and blue each"`
	Show word  `key:"show" words:"beside alone" default:"beside" doc:"Whether the captures stand beside it"`
}

// annotation is a mark; mark is the place of a value.
type annotation struct {
	mark
	Box     region    `key:"box" doc:"What is outlined, as [x, y, width, height] in fractions of the capture"`
	Arrow   arrow     `key:"arrow" doc:"An arrow's tail and tip, as [[x, y], [x, y]] in fractions of the capture"`
	At      point     `key:"at" doc:"The middle of a note that belongs to no box and no arrow, as [x, y]"`
	Note    text      `key:"note" min:"1" max:"200" doc:"A few words, beside the box, at the arrow's tail, or at a place of their own"`
	Capture reference `key:"capture" doc:"Key of the capture that is marked; every one of the scene unless set"`
	From    moment    `key:"from" doc:"When the mark appears, in scene time; with the scene unless set"`
	To      moment    `key:"to" doc:"When the mark goes, in scene time; with the scene unless set"`
}

// holdKeys are one hold of a scene.
type holdKeys struct {
	mark
	At  moment `key:"at" need:"true" doc:"The instant held, in scene time"`
	For span   `key:"for" need:"true" min:"10ms" max:"10m" doc:"How long it stays on screen"`
}

// windowKeys is the written-out form of a window.
type windowKeys struct {
	mark
	Center  point          `key:"center" default:"[0.5, 0.5]" doc:"The window's centre in fractions of the capture's width and height"`
	Magnify ratio          `key:"magnify" min:"1/64" max:"64" default:"1" doc:"1: the capture's shorter side is scaled to the output's shorter side"`
	Kernel  word           `key:"kernel" words:"nearest bicubic lanczos" default:"lanczos" doc:"How the picture is scaled; nearest shows true pixels"`
	Moves   list[moveKeys] `key:"moves" min:"0" max:"50" doc:"Where the window stands at which instants; it glides from one to the next"`
}

// moveKeys are one stop of a window that moves.
type moveKeys struct {
	mark
	At      moment `key:"at" need:"true" doc:"The instant of the scene at which the window stands there"`
	Held    span   `key:"held" min:"0s" max:"10m" default:"0s" doc:"How long after that instant, while the scene is held at it"`
	Center  point  `key:"center" doc:"The window's centre then; that of the move before unless set"`
	Magnify ratio  `key:"magnify" min:"1/64" max:"64" doc:"The window's scale then; that of the move before unless set"`
}

type deck struct {
	mark
	Place      word   `key:"place" words:"below over none" default:"below" doc:"Below the panes, translucent over them, or not at all"`
	RateAxis   axis   `key:"rate-axis" max:"1000" doc:"Range of the frame-rate line in frames a second; the deck chooses one that fits the scene unless it is set"`
	TimeAxis   axis   `key:"time-axis" max:"10000" doc:"Range of the frame times in milliseconds; the deck chooses one unless it is set"`
	Rate       word   `key:"rate" words:"spans trailing" default:"spans" doc:"What the frame rate is a mean of: spans stays inside the stretch that keeps to one frame time; trailing takes the time before, whatever happens in it"`
	RateWindow span   `key:"rate-window" min:"10ms" max:"1m" default:"1s" doc:"Time over which the frame rate is a mean"`
	TreadSpan  span   `key:"tread-span" min:"100ms" max:"1m" default:"1.5s" doc:"How much of the past the frame times show"`
	Tabs       toggle `key:"tabs" doc:"Whether name tabs are drawn; true unless set, with place none false"`
}
