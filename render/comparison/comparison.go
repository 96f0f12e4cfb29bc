// Package comparison reads the comparison file: the YAML text that names the
// captures, the scenes and the output. Parse checks every key and every value
// and returns a File in which defaults are merged, paths lead to the files and
// nothing is left to look up.
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
	Path     string    // as given to Read or Parse
	Dir      string    // the folder of Path, where relative paths start
	Title    string    // may be empty
	Output   Output    //
	Captures []Capture // in file order
	Scenes   []Scene   // in file order, defaults merged
	Fonts    Fonts     //

	output map[string]mark // where the keys of output stand
}

// Output says what every clip is made like.
type Output struct {
	Folder   string      // where clips go; relative paths are joined to File.Dir
	Size     image.Point // both sides even
	Rate     pacing.Rate // frames a second
	Delivery string      // DeliveryWeb, DeliveryLossless or another
	Codec    string      // of an overlay; "": the delivery's own
	Transfer string      // of hdr, pq or hlg; "": that of the captures
	Encoder  string      // ffmpeg's name; "": the delivery's own
	Quality  string      // "": the delivery's own
	Effort   string      // "": the delivery's own
	FFmpeg   []string    // further output options, name and value in turns
}

// Mistake returns the error of a value under output that the program cannot
// work with, though the file may hold it.
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
	Name   string      // shown; the key unless set
	Detail string      // second text on the name tab; may be empty
	Raster image.Point // resolution the machine renders at, as stated; zero when not stated
	Video  string      // path of the recording
	Pacing Source      // where its pacing comes from

	video string // as written
}

// Source says where the pacing of a capture comes from. The zero Source says
// nothing, which Parse lets pass only for captures whose scenes draw no deck.
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

// Scene is one stretch of play, shown in several captures at once.
type Scene struct {
	ID         string            // also the clip's file name, without its ending
	Captures   []string          // keys, in the order shown
	Start      map[string]Time   // for each capture the first instant shown, in capture time
	Length     time.Duration     // more than 0
	Speed      Ratio             // scene time for each second of the clip; zero: 1, the captures' own pace
	Hold       []Hold            // instants at which the scene stands still, in their order
	View       string            // ViewColumns and so on
	Single     string            // with ViewSingle: key of the capture on screen
	Inset      Inset             // with ViewInset
	Wipe       Wipe              // with ViewWipe
	Alternate  Alternate         // with ViewAlternate
	Difference Difference        // with ViewDifference
	Window     map[string]Window // for each capture what its pane shows
	Deck       Deck              //
	Caption    string            // may be empty
	Marks      []Mark            // in the order in which they are drawn
	Audio      string            // key of the capture that is heard, AudioMix, AudioEars or AudioNone
	Loudness   float64           // what the clip is brought to, in LUFS; 0: untouched
	Tolerate   []string          // TolerateDecodeErrors and TolerateGaps, where they do not stop the clip
	Still      string            // StillCounts or StillLeavesOut; "": each stretch is judged
	Timecode   string            // key of the capture whose time code the clip carries; "": none
	// how long a page with title, caption and names precedes the scene; 0: no page
	Title   time.Duration
	Summary time.Duration // how long a page with the key figures follows the scene; 0: no page
	Line    int           // of the comparison file, where the scene begins
}

// Hold keeps an instant of a scene on screen.
type Hold struct {
	At  time.Duration // scene time, from 0 to the scene's length
	For time.Duration // more than 0
}

// Time ties the time of the scene's clip, at a rate of so many frames a second,
// to the scene's own.
func (s *Scene) Time(rate pacing.Rate) (pacing.TimeMap, error) {
	holds := make([]pacing.Freeze, len(s.Hold))
	for i, h := range s.Hold {
		holds[i] = pacing.Freeze(h)
	}
	return pacing.NewTimeMap(rate, s.Length, pacing.Speed(s.Speed), holds)
}

// Views.
const (
	ViewColumns    = "columns"
	ViewRows       = "rows"
	ViewSingle     = "single"
	ViewInset      = "inset"
	ViewWipe       = "wipe"
	ViewAlternate  = "alternate"
	ViewDifference = "difference"
)

// What becomes of stretches in which the picture does not change.
const (
	StillCounts    = "counts"
	StillLeavesOut = "leaves out"
)

// Tolerates reports whether that fault of a capture does not stop the scene's clip.
func (s *Scene) Tolerates(fault string) bool { return slices.Contains(s.Tolerate, fault) }

// TolerateDecodeErrors lets a clip show what a decoder makes up where a capture is
// damaged.
const TolerateDecodeErrors = "decode-errors"

// TolerateGaps lets a clip show the picture before where a recorder dropped pictures.
// What the pacing was there is not known, and the clip says so.
const TolerateGaps = "gaps"

// Inset are the options of ViewInset.
type Inset struct {
	Whole string // key of the capture shown whole
	Over  bool   // the windows lie over it instead of beside it
}

// Wipe are the options of ViewWipe. The line stands, follows keys, or swings.
type Wipe struct {
	At    []Ratio       // of each line, rising; one less than captures
	Angle int           // degrees, -90 to 90
	Keys  []WipeKey     // in order of time; may be empty
	Swing time.Duration // over and back; 0: it does not swing
}

// WipeKey says where the lines stand at a time of the clip.
type WipeKey struct {
	T  time.Duration
	At []Ratio
}

// Alternate are the options of ViewAlternate: one of both is set.
type Alternate struct {
	Every time.Duration
	At    []time.Duration // rising, more than 0
}

// Difference are the options of ViewDifference.
type Difference struct {
	Gain   Ratio
	Colour bool // of each of R'G'B', not of the luma
	Alone  bool // without the captures beside it
}

// Words for the sound of a clip. They are reserved and never a capture's key.
const (
	AudioMix  = "mix"  // the mean of all captures
	AudioEars = "ears" // the first capture on the left, the second on the right
	AudioNone = "none" // a silent clip
)

// Window is the part of a capture that a pane shows.
type Window struct {
	Whole   bool   // the entire capture is fitted into its pane; Center and Magnify say nothing
	Center  Point  // in fractions of the capture's width and height, within [0, 1]
	Magnify Ratio  // 1: the capture's shorter side is scaled to the output's shorter side
	Kernel  string // KernelNearest, KernelBicubic or KernelLanczos
	Moves   []Move // where it stands at which instants, in their order; none: it stands still
}

// Move is a stop of a window that glides.
type Move struct {
	At      time.Duration // scene time
	Held    time.Duration // how long after that, while the scene is held there
	Center  Point
	Magnify Ratio
}

// Resampling kernels.
const (
	KernelNearest = "nearest"
	KernelBicubic = "bicubic"
	KernelLanczos = "lanczos"
)

// Point is a place in a capture as exact fractions of its width and height,
// with y growing downwards.
type Point struct{ X, Y Ratio }

// Mark is a box, an arrow or a note at a place of a capture.
type Mark struct {
	Shape string // MarkBox, MarkArrow or MarkNote
	// the box's upper left and lower right corner; the arrow's tail and tip; the note's middle, twice
	A, B    Point
	Note    string        // may be empty, but for MarkNote
	Capture string        // key; "": every capture of the scene
	From    time.Duration // scene time at which it appears
	To      time.Duration // and goes; 0: with the scene
}

// Shapes of marks.
const (
	MarkBox   = "box"
	MarkArrow = "arrow"
	MarkNote  = "note"
)

// Deck says where the deck goes and what its axes span.
type Deck struct {
	Place      string        // DeckBelow, DeckOver or DeckNone
	Tabs       bool          // name tabs are drawn
	RateAxis   Axis          // of the frame-rate line, in frames a second; zero: the deck chooses
	TimeAxis   Axis          // of the treads, in milliseconds; zero: the deck chooses
	Trailing   bool          // the frame rate is the mean of the time before, not of one span
	RateWindow time.Duration // over which the frame rate is a mean
	TreadSpan  time.Duration // how much of the past the treads show
}

// Places of the deck.
const (
	DeckBelow = "below"
	DeckOver  = "over"
	DeckNone  = "none"
)

// Axis is the range of a graph, Min < Max, or zero for one that is left open.
type Axis struct{ Min, Max float64 }

// Fonts names the user's own font files; an empty path stands for the
// embedded face.
type Fonts struct {
	Text, Bold string // paths

	text, bold string // as written
}

// Scene returns the scene of that id. The error of an id that no scene bears
// suggests the nearest one and lists all.
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
