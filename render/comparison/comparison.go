// Package comparison reads the comparison file: the YAML text that names the
// captures, the scenes and the output. Parse checks every key and every value
// and returns a File in which defaults are merged and paths are complete.
//
// Each mapping of the file is one struct. The tags of its fields describe each
// key in full. Reading, checking, defaults, the JSON Schema, the tables of the manual
// and the clip's record use these tags:
//
//	key      the key in the file
//	kind     how the value is written, where the field's type does not say it
//	need     the key must be there
//	words    the values of a word; of a bool the word for false and that for true
//	min, max limits of the value, in the value's own notation; of a text, a
//	         list or a mapping those of its length
//	even     both sides must be even numbers
//	unique   no value may stand in the list twice
//	except   a key of the type that is not allowed here
//	default  the value of a key that is not set
//	unset    the same in words, where it is no fixed value
//	doc      what the key does: the description in the schema and in the help
//
// Mistakes come back as Errors, several at a time, each with its line, its
// column and, where one is known, a hint.
package comparison

import (
	"image"
	"slices"
	"time"

	"fairframe/render/pacing"
)

// File is a comparison file that was read, checked and resolved.
type File struct {
	Path string // as given to Read or Parse
	Dir  string // the folder of Path, where relative paths start

	Title    string    `key:"title" max:"200" doc:"What is compared; heads the title pages"`
	Output   Output    `key:"output" doc:"How all clips are made"`
	Captures []Capture `key:"captures" kind:"table" need:"true" min:"1" max:"100" doc:"The recordings, each under a short key"`
	Fonts    Fonts     `key:"fonts" doc:"Font files of your own (TTF or OTF), used instead of the embedded ones"`
	// Defaults is empty in what Parse returns: the scenes hold it.
	Defaults Scene   `key:"defaults" except:"id" doc:"Any key of a scene except 'id', set once for all scenes"`
	Scenes   []Scene `key:"scenes" need:"true" min:"1" max:"2000" doc:"The stretches of play, each of which becomes a clip"`

	output map[string]pos // where the keys of output stand
}

// Output says how every clip is made. An empty string means that the delivery or the
// captures decide.
type Output struct {
	Folder   string      `json:"-" key:"folder" kind:"path" default:"out" doc:"Folder for the clips, relative to this file"`
	Size     image.Point `key:"size" min:"128" max:"7680" even:"true" default:"1920x1080" doc:"Width x height in pixels, even numbers; any shape from wide to portrait"`
	Rate     pacing.Rate `key:"rate" min:"1" max:"240" default:"60" doc:"Frames a second: a whole number, or a fraction such as 60000/1001, never a decimal"`
	Delivery string      `key:"delivery" words:"web hevc av1 hdr edit dnxhr lossless overlay gif webp" default:"web" doc:"How the clips are encoded"`
	Codec    string      `key:"codec" words:"prores ffv1 vp9 png" unset:"prores" doc:"Codec of an 'overlay'"`
	Transfer string      `key:"transfer" words:"pq hlg" unset:"that of the captures; pq where they differ or are SDR" doc:"Transfer of an 'hdr' clip (ITU-R BT.2100): 'pq' or 'hlg'"`
	Encoder  string      `key:"encoder" words:"libx264 libx265 libsvtav1 h264_nvenc h264_qsv h264_amf h264_vaapi h264_videotoolbox hevc_nvenc hevc_qsv hevc_amf hevc_vaapi hevc_videotoolbox av1_nvenc av1_qsv av1_amf av1_vaapi" unset:"the delivery's own" doc:"ffmpeg's name of the encoder, such as a graphics card's 'hevc_nvenc'. If it does not work here, the delivery's own encoder is used"`
	Quality  string      `key:"quality" words:"visually-lossless high small" unset:"visually-lossless" doc:"How good the pictures are"`
	Effort   string      `key:"effort" words:"quick normal thorough" unset:"normal" doc:"How much work goes into a small file"`
	FFmpeg   []string    `key:"ffmpeg" kind:"option" min:"1" max:"64" unset:"none" doc:"More options for the encoder, each name followed by its value, such as [-tune, film]"`
}

// Mistake returns the error of a value under output that is valid in the file, but that
// the program cannot use.
func (f *File) Mistake(key, msg, hint string) error {
	at := f.output[key]
	return &Error{File: f.Path, Line: at.line, Col: at.col, Msg: msg, Hint: hint}
}

// Deliveries.
const (
	DeliveryWeb      = "web"
	DeliveryLossless = "lossless"
)

// Capture is the recording of one machine, with its pacing.
type Capture struct {
	Key    string      // its name within the file
	Name   string      `key:"name" min:"1" max:"80" unset:"the key" doc:"Name shown on the name tab"`
	Detail string      `key:"detail" max:"80" unset:"none" doc:"Second text on the name tab"`
	Raster image.Point `key:"raster" min:"16" max:"16384" unset:"not shown" doc:"Resolution the machine renders at, as you state it. Shown with the pixel ratio to the first capture that states one: 1920x1080 against 1408x792 is +86 %"`
	Video  string      `key:"video" kind:"path" need:"true" doc:"Path of the recording, relative to this file"`
	Pacing Source      `key:"pacing" doc:"Path of its pacing log, or how to read one, or 'measure' to work it out from the pictures. Every scene with a deck needs it"`

	video string // as written
}

// Source says where the pacing of a capture comes from. The zero Source says
// nothing, which Parse allows only for captures whose scenes draw no deck. In the
// file it is a path, a logFormat, the word measure, or measureKeys.
type Source struct {
	File    string            // path of a pacing log
	Format  pacing.Format     // how to read it; zero for the tool's own format
	Measure bool              // to be worked out from the pictures
	Log     string            // path of the log that is measured
	Region  image.Rectangle   // of the pictures that are measured; empty: the whole picture
	Ignore  []image.Rectangle // parts of it that do not count
	// "none": no frame begins in mid-picture, the machine is v-synced; else "search" or empty
	Tears string

	file string // as written
	log  string // as file would be written, of a measured log
}

// Given reports whether s says where the pacing comes from.
func (s Source) Given() bool { return s.File != "" || s.Measure }

// logFormat says how a pacing log is read.
type logFormat struct {
	File   string        `key:"file" kind:"path" need:"true" doc:"Path of the log: delimited text with a header"`
	Column string        `key:"column" min:"1" max:"200" unset:"the program's own columns" doc:"Header of the one column to read"`
	Means  string        `key:"means" words:"frame-time time-stamp new-frame" doc:"What the values are. 'frame-time': how long each frame stayed. 'time-stamp': when each frame appeared. 'new-frame': a row for each captured frame, 1 for a new frame, 0 for a repeated one. Goes with 'column'"`
	Unit   string        `key:"unit" words:"s ms us ns" unset:"ms for frame times, s for time stamps" doc:"Unit of the values: 's', 'ms', 'us' or 'ns'"`
	Starts time.Duration `key:"starts" min:"-600000h" max:"600000h" default:"0s" doc:"Capture time of the log's own zero; may be negative"`
}

// measureKeys say which part of the pictures decides what was a new frame.
type measureKeys struct {
	Region image.Rectangle   `key:"region" unset:"the whole picture" doc:"The part of the picture to measure, as [x, y, width, height] in pixels of the capture"`
	Ignore []image.Rectangle `key:"ignore" min:"1" max:"32" unset:"none" doc:"Parts of the picture to leave out, such as a speed display that updates at another rate than the game"`
	Tears  string            `key:"tears" words:"search none" default:"search" doc:"Whether frames may begin in mid-picture. 'none': never, because the machine is v-synced"`
	// Measure says in words what the other keys imply.
	Measure bool `key:"measure" unset:"true beside the other keys" doc:"Measure the capture's pacing; only true is allowed"`
}

// Fonts names the user's own font files; an empty path stands for the
// embedded face.
type Fonts struct {
	Text string `key:"text" kind:"path" unset:"the embedded font" doc:"Font file for plain text. Glyphs it lacks come from the embedded font; a glyph that no font has is an error"`
	Bold string `key:"bold" kind:"path" unset:"the text font" doc:"Font file for names and numbers"`

	text, bold string // as written
}

// Scene returns the scene of that id. An unknown id is an error
// that suggests the nearest one and lists all.
func (f *File) Scene(id string) (*Scene, error) {
	ids := make([]string, len(f.Scenes))
	for i := range f.Scenes {
		if f.Scenes[i].ID == id {
			return &f.Scenes[i], nil
		}
		ids[i] = f.Scenes[i].ID
	}
	return nil, &Error{File: f.Path, Msg: "no scene " + quote(id), Hint: Suggest(id, ids, "scenes here")}
}

// Capture returns the capture of that key.
func (f *File) Capture(key string) (*Capture, bool) {
	i := slices.IndexFunc(f.Captures, func(c Capture) bool { return c.Key == key })
	if i < 0 {
		return nil, false
	}
	return &f.Captures[i], true
}

// PixelBase is the capture with which the others' rasters are compared, in all scenes. It
// is the first capture in the file that states a raster, nil if none does.
func (f *File) PixelBase() *Capture {
	for i := range f.Captures {
		if r := f.Captures[i].Raster; r.X > 0 && r.Y > 0 {
			return &f.Captures[i]
		}
	}
	return nil
}
