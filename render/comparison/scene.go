package comparison

import (
	"slices"
	"strings"
	"time"

	"fairframe/render/pacing"
)

// Scene is one stretch of play, shown in several captures at once.
type Scene struct {
	ID       string   `key:"id" kind:"identifier" need:"true" doc:"Name of the scene and of its clip's file"` // also the clip's file name, without its ending
	Captures []string `key:"captures" kind:"capture" min:"1" max:"4" unique:"true" doc:"Keys of one to four captures, in the order shown; four are two by two"`
	// for each capture the first instant shown, in capture time
	Start      map[string]Time   `json:"-" key:"start" min:"1" max:"100" doc:"The first instant shown, in capture time: one for all captures, or one for each"`
	Length     time.Duration     `key:"length" kind:"time" doc:"How long the scene is; frames are counted at the output's rate"`
	Speed      Ratio             `key:"speed" min:"1/64" max:"64" default:"1" doc:"How fast the scene plays: 0.25 is slow motion, which repeats frames; 2 is fast motion, which drops frames"` // zero: 1
	Hold       []Hold            `key:"hold" min:"0" max:"20" unset:"none" doc:"Instants that stay on screen for a while, such as [{at: 3s, for: 2s}]"`
	View       string            `key:"view" words:"auto columns rows single inset wipe alternate difference" default:"auto" doc:"How the captures share the picture; auto takes columns or rows, whichever shows whole captures larger; wipe and alternate take two captures or more, difference two or three"`
	Single     string            `key:"single" kind:"capture" unset:"the first one" doc:"For view 'single': key of the capture on screen"`
	Inset      Inset             `key:"inset" doc:"For view 'inset': which capture is shown whole, and where the windows are"`
	Wipe       Wipe              `key:"wipe" doc:"For view 'wipe': where the line between the captures is, and how it moves"`
	Alternate  Alternate         `key:"alternate" doc:"For view 'alternate': when the picture changes"`
	Difference Difference        `key:"difference" doc:"For view 'difference': what is compared, how much it is enlarged, and whether the captures are shown too"`
	Window     map[string]Window `json:"-" key:"window" min:"1" max:"100" doc:"What the panes show: 'whole', or a centre and a scale; one for all captures, or one for each"`
	Deck       Deck              `key:"deck" doc:"The strip with the readouts, the frame-rate line and the frame times"`
	Caption    string            `key:"caption" max:"300" unset:"none" doc:"One line of text about the scene, shown in the deck and on the pages"`
	Marks      []Mark            `key:"marks" min:"0" max:"40" unset:"none" doc:"Boxes, arrows and short notes on the footage"`
	Audio      string            `key:"audio" kind:"capture" words:"mix ears none" unset:"the first one shown" doc:"What is heard: the key of a capture; 'mix': the mean of all; 'ears': the first on the left, the second on the right; or 'none'"`
	Loudness   float64           `key:"loudness" min:"-50" max:"-5" unset:"unchanged" doc:"Loudness of the clip in LUFS (EBU R 128), such as -14 or -23, reached by one gain that keeps the true peak at or below -1 dBTP"` // 0: untouched
	Tolerate   Faults            `key:"tolerate" words:"none decode-errors gaps" default:"none" doc:"Faults that do not stop the clip: one, or a list such as [gaps, decode-errors]. 'decode-errors': a damaged capture is shown with whatever the decoder makes of it. 'gaps': where a recorder dropped pictures, the one before is shown. The manifest, the closing page and verify say so. 'none': every fault stops it"`
	Still      string            `key:"still" words:"judged counts leaves+out" default:"judged" doc:"What becomes of a stretch of half a second or more in which the picture does not change. 'counts': it is one long frame. 'leaves out': it enters no figure. 'judged': up to 2 s between moving pictures is a freeze and counts as a hitch; what is longer, lies at an edge of the scene or has no movement on both sides may be a menu and is left out; either way it is said"` // StillCounts, StillLeavesOut or ""
	Timecode   string            `key:"timecode" kind:"capture" words:"none" unset:"none" doc:"Key of the capture whose timecode the clip carries, or 'none'"`                                                                                                                                                                                                                                                                                                                       // "": none
	Title      time.Duration     `key:"title" min:"0s" max:"1m" default:"0s" doc:"How long a still page opens the clip, with the file's title, the caption and the captures' names; 0s: no page"`
	Summary    time.Duration     `key:"summary" min:"0s" max:"1m" default:"0s" doc:"How long a still page with the key figures closes the clip; 0s: no page"`
	Line       int               `json:"-"` // of the comparison file, where the scene begins
}

// Hold keeps an instant of a scene on screen.
type Hold struct {
	At  time.Duration `key:"at" kind:"time" need:"true" doc:"The instant to hold, in scene time"`
	For time.Duration `key:"for" need:"true" min:"10ms" max:"10m" doc:"How long it stays on screen"`
}

// Time ties the time of the scene's clip, at a rate of so many frames a second,
// to the scene's own.
func (s *Scene) Time(rate pacing.Rate) (pacing.TimeMap, error) {
	holds := make([]pacing.Freeze, len(s.Hold))
	for i, h := range s.Hold {
		holds[i] = pacing.Freeze(h)
	}
	return pacing.NewTimeMap(rate, s.Length, s.Speed.Rat(), holds)
}

// Views.
const (
	ViewAuto       = "auto" // columns or rows, whichever shows whole captures larger
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

// Faults are what a scene tolerates: TolerateDecodeErrors, TolerateGaps, both or neither.
type Faults []string

// String lists the faults.
func (f Faults) String() string { return strings.Join(f, ", ") }

// MarshalText writes String: the fingerprints of clips have one text for all faults.
func (f Faults) MarshalText() ([]byte, error) { return []byte(f.String()), nil }

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
	Whole string `key:"whole" kind:"capture" unset:"the first one" doc:"Key of the capture shown whole"`
	Over  bool   `key:"place" words:"beside over" default:"beside" doc:"The windows are 'beside' the whole capture, or lie 'over' it, clear of what they magnify"`
}

// Wipe are the options of ViewWipe. The line stands, follows keys, or swings.
type Wipe struct {
	At    []Ratio       `key:"at" kind:"places" unset:"equal parts" doc:"Where the line is, from 0 to 1; for more than two captures a list, one place for each line between them"`
	Angle int           `key:"angle" min:"-90" max:"90" default:"0" doc:"Degrees by which the line leans: 0 is upright, 90 is level with the first capture above it"`
	Keys  []WipeKey     `key:"keys" min:"1" max:"100" unset:"none" doc:"Where the line is at which times, such as [{t: 0s, at: 0.2}, {t: 2s, at: 0.8}]; it eases from one to the next"`
	Swing time.Duration `key:"swing" min:"500ms" max:"1m" unset:"it stands still" doc:"Time in which the line swings over and back around 'at', as a sine does, as far as 0.1 or 0.9"` // 0: it does not swing
}

// WipeKey says where the lines stand at a time of the clip.
type WipeKey struct {
	T  time.Duration `key:"t" kind:"time" need:"true" doc:"The time, from the scene's start in clip time"`
	At []Ratio       `key:"at" kind:"places" need:"true" doc:"Where the line is then"`
}

// Alternate are the options of ViewAlternate: one of both is set.
type Alternate struct {
	Every time.Duration   `key:"every" min:"100ms" max:"1h" default:"2s" doc:"How long each capture is shown, rounded to whole frames. Less than 170ms allows more than three flashes a second, which can harm people: see help check"`
	At    []time.Duration `key:"at" kind:"time" min:"1" max:"200" doc:"Instead of 'every': the times at which the next capture is shown"`
}

// Difference are the options of ViewDifference.
type Difference struct {
	Gain   Ratio `key:"gain" min:"1/4" max:"64" default:"4" doc:"How many times the difference is enlarged; what gets too bright is clipped"`
	Colour bool  `key:"of" words:"luma colour" default:"luma" doc:"'luma': the brightness alone, in grey; 'colour': red, green and blue each"`
	Alone  bool  `key:"show" words:"beside alone" default:"beside" doc:"The difference 'beside' the captures, or 'alone'"`
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
	Center  Point  `key:"center" default:"[0.5, 0.5]" doc:"The window's centre [x, y] in fractions of the capture's width and height; [0, 0] is the top left corner"`
	Magnify Ratio  `key:"magnify" min:"1/64" max:"64" default:"1" doc:"The scale: at 1 the capture's shorter side equals the output's shorter side, so a 1080-line capture is one to one in 1920x1080, 1080x1920 and 1080x1080"`
	Kernel  string `key:"kernel" words:"nearest bicubic lanczos" default:"lanczos" doc:"How the picture is scaled: 'nearest' shows true pixels, 'bicubic' and 'lanczos' smooth them"`
	Moves   []Move `key:"moves" min:"0" max:"50" unset:"none" doc:"Stops through which the window glides"`
}

// Move is a stop of a window that glides.
type Move struct {
	At      time.Duration `key:"at" kind:"time" need:"true" doc:"When the window is at this stop, in scene time"`
	Held    time.Duration `key:"held" min:"0s" max:"10m" default:"0s" doc:"How long after that, while 'hold' keeps the scene at that instant"`
	Center  Point         `key:"center" unset:"that of the move before, of the first move that of the window" doc:"The window's centre then"`
	Magnify Ratio         `key:"magnify" min:"1/64" max:"64" unset:"that of the move before, of the first move that of the window" doc:"The window's scale then"`
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

// annotation is a mark as it is written: its key is its shape.
type annotation struct {
	Box     [2]Point      `key:"box" kind:"region" doc:"An outline, as [x, y, width, height] in fractions of the capture"`
	Arrow   [2]Point      `key:"arrow" kind:"arrow" doc:"Tail and tip of an arrow, as [[x, y], [x, y]] in fractions of the capture; the tip is at the place meant"`
	At      Point         `key:"at" doc:"Middle of a note without box or arrow, as [x, y] in fractions of the capture"`
	Note    string        `key:"note" min:"1" max:"200" doc:"A few words, shown beside the box, at the arrow's tail, or at 'at'"`
	Capture string        `key:"capture" kind:"capture" unset:"all of the scene" doc:"Key of the only capture to mark"`
	From    time.Duration `key:"from" kind:"time" unset:"the start" doc:"When the mark appears, in scene time, with the frame then on screen"`
	To      time.Duration `key:"to" kind:"time" unset:"the end" doc:"When the mark goes, in scene time, just before the frame then on screen"`
}

// Shapes of marks.
const (
	MarkBox   = "box"
	MarkArrow = "arrow"
	MarkNote  = "note"
)

// Deck says where the deck goes and what its axes span.
type Deck struct {
	Place      string        `key:"place" words:"below over none" default:"below" doc:"'below' the panes, which keep their pixels; translucent 'over' the footage; or 'none'"`
	RateAxis   Axis          `key:"rate-axis" max:"1000" unset:"chosen to fit the scene" doc:"Range of the frame-rate line in fps, such as [0, 70]"`
	TimeAxis   Axis          `key:"time-axis" max:"10000" unset:"chosen to fit the scene" doc:"Range of the frame times in ms"`
	Trailing   bool          `key:"rate" words:"spans trailing" default:"spans" doc:"What the frame rate is a mean of. 'spans': the window stays inside the stretch that keeps to one frame time, so a lock falls in one step. 'trailing': the time before, whatever happens in it"`
	RateWindow time.Duration `key:"rate-window" min:"10ms" max:"1m" default:"1s" doc:"Time over which the frame rate is a mean"`
	TreadSpan  time.Duration `key:"tread-span" min:"100ms" max:"1m" default:"1.5s" doc:"How much of the past the frame times show"`
	Tabs       bool          `key:"tabs" unset:"true; with place none, false" doc:"Whether name tabs are drawn"`
}

// Places of the deck.
const (
	DeckBelow = "below"
	DeckOver  = "over"
	DeckNone  = "none"
)

// Axis is the range of a graph, Min < Max, or zero for one that is left open.
type Axis struct{ Min, Max float64 }
