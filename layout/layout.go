// Package layout is the geometry of a comparison: where the panes, the name
// tabs, the readouts, the graphs and every line of text stand in the output.
//
// It is pure integer arithmetic: a Spec goes in, a Screen of rectangles comes
// out, the same on every machine. Coordinates are pixels of the output, y grows
// downwards, rectangles are half-open. Edges that the video pipeline cuts along
// (panes, dividers, strip) are even, because 4:2:0 chroma has one sample for
// two by two pixels.
package layout

import (
	"fmt"
	"image"
	"strings"
)

// Place says where the deck stands.
type Place int

const (
	Below Place = iota // under the panes, which hide nothing of their footage
	Over               // translucent over the bottom of panes of full height
	None               // no deck; the panes fill the output
)

// String returns the word the comparison file uses.
func (p Place) String() string {
	switch p {
	case Below:
		return "below"
	case Over:
		return "over"
	case None:
		return "none"
	}
	return fmt.Sprintf("Place(%d)", int(p))
}

// Limits of what Solve accepts. The shape is limited too: at most four times as
// wide as high and at most two and a half times as high as wide.
const (
	MinSide     = 96
	MaxSide     = 16384
	MinCaptures = 1
	MaxCaptures = 4
)

// Spec is what a screen is solved from.
type Spec struct {
	Size     image.Point // of the output, in pixels; both even
	Captures int         // 1 to 4, as the view takes them
	View     View
	Place    Place
	Tabs     bool // show name tabs
	Caption  bool // leave room for a caption

	Main     int         // single: index of the capture on screen; inset: of the one shown whole
	Over     bool        // inset: the windows lie over the whole capture, not beside it
	Opposite bool        // inset, over: they lie at the left or the top
	Shape    image.Point // inset: size of the capture shown whole; zero: 16 to 9
	Alone    bool        // difference: without the captures themselves
	// wipe: the lines lie rather than stand, so that the captures stand one under the other
	Lying bool
}

// Screen is a solved arrangement, in output coordinates. Parts that are not
// shown are empty.
type Screen struct {
	Size     image.Point
	View     View
	Place    Place             // below where over was asked for and panes stand one under the other
	Captures int               // how many are compared
	Panes    []Pane            // in the order of painting; later ones may lie over earlier ones
	Dividers []image.Rectangle // bars drawn over the boundaries between panes
	Safe     image.Rectangle   // graphics-safe area, EBU R 95; holds all text

	Strip    image.Rectangle // tab row and deck, as wide as the output
	Deck     image.Rectangle // the strip without its tab row
	Tabs     []Tab           // one for each capture, in the strip or at its pane
	Labels   []Label         // for panes that no tab names
	Readouts []Readout
	Clock    image.Rectangle // scene time
	Line     Plot            // frame rate over the whole scene
	Treads   Treads          // frame times of the last moments
	Caption  image.Rectangle

	Type Type
}

// Type holds the sizes of type in pixels (font size, that is the em).
type Type struct {
	Small int // axis labels, titles, units: the smallest text of the screen
	Name  int // a capture's name on its tab
	Rate  int // the frame rate in a readout
	Time  int // the frame time in a readout
}

// Label is the room for what a pane says of itself: text is set from its foot
// upwards, and what it takes of the box gets a ground.
type Label struct {
	Pane int // index
	Box  image.Rectangle
	Text image.Rectangle
}

// Tab is the label that ties a pane to its colour and dash.
type Tab struct {
	Box    image.Rectangle   // room the tab may fill, inside its pane's width
	Swatch image.Rectangle   // a piece of the capture's line
	Lines  []image.Rectangle // lines of text, top down; the first holds the name
}

// Readout is one capture's numbers.
type Readout struct {
	Swatch image.Rectangle
	Rate   image.Rectangle // frame rate and its unit
	Time   image.Rectangle // frame time and its unit
}

// Plot is a graph with labelled axes.
type Plot struct {
	Title  image.Rectangle
	Unit   image.Rectangle // the unit of the values, above their labels
	Values image.Rectangle // room for the value labels, left of the area
	Area   image.Rectangle
	Times  image.Rectangle // room for the time labels, below the area
}

// Treads is the frame-time graph: one lane a capture.
type Treads struct {
	Title image.Rectangle
	Unit  image.Rectangle
	Lanes []Lane
}

// Lane is one capture's part of the frame-time graph.
type Lane struct {
	Swatch image.Rectangle
	Values image.Rectangle // room for the value labels
	Area   image.Rectangle
	Pen    image.Rectangle // right of the area: marks the value now on screen
}

// Solve lays out a screen, or says why it cannot. Errors name the offending
// numbers; no spec makes it panic.
func Solve(s Spec) (Screen, error) {
	w, h := s.Size.X, s.Size.Y
	switch {
	case w < MinSide || h < MinSide || w > MaxSide || h > MaxSide:
		return Screen{}, fmt.Errorf("layout: size %dx%d is outside %d..%d pixels a side",
			w, h, MinSide, MaxSide)
	case w%2 != 0 || h%2 != 0:
		return Screen{}, fmt.Errorf("layout: size %dx%d is not even in both directions", w, h)
	case w > 4*h || 2*h > 5*w:
		return Screen{}, fmt.Errorf("layout: size %dx%d is too long and narrow (4:1 to 2:5 can be laid out)",
			w, h)
	case s.Captures < MinCaptures || s.Captures > MaxCaptures:
		return Screen{}, fmt.Errorf("layout: %d captures (%d to %d can be shown)",
			s.Captures, MinCaptures, MaxCaptures)
	case s.Place < Below || s.Place > None:
		return Screen{}, fmt.Errorf("layout: unknown place %v", s.Place)
	case s.View < 0 || int(s.View) >= len(viewNames):
		return Screen{}, fmt.Errorf("layout: unknown view %v (valid: %s)",
			s.View, strings.Join(viewNames[:], ", "))
	case !s.View.Takes(s.Captures):
		least, most := s.View.Limits()
		return Screen{}, fmt.Errorf("layout: view %v of %d captures (it takes %d to %d)",
			s.View, s.Captures, least, most)
	case s.Main < 0 || s.Main >= s.Captures:
		return Screen{}, fmt.Errorf("layout: capture %d of %d cannot be shown", s.Main+1, s.Captures)
	}
	a := arrangementOf(s)
	if s.Place == Over && a.stacked() {
		s.Place, a.spec.Place = Below, Below
	}
	sc := Screen{Size: s.Size, View: s.View, Place: s.Place, Captures: s.Captures, Safe: a.safe}
	picture := image.Rectangle{Max: s.Size}
	if s.Place != None || s.Tabs || s.View == Inset || s.View == Difference {
		sc.Type = a.types()
	}
	top := h
	switch s.Place {
	case Below:
		top = h - a.stripHeight()
		picture.Max.Y = top
	case Over:
		top = h - a.stripHeight()
	}
	if s.Place == None && s.Tabs {
		// Nothing but tabs: a row that rests on the safe area's lower edge.
		top = even(sc.Safe.Max.Y - a.tabRow())
	}
	seen := picture // what nothing lies over
	seen.Max.Y = min(seen.Max.Y, top)
	sc.Panes = a.arrange(picture, seen)
	for _, p := range sc.Panes {
		if p.Area.Dx() < 2 || p.Area.Dy() < 2 {
			return Screen{}, fmt.Errorf("layout: size %dx%d has no room for %d captures as %v",
				w, h, s.Captures, s.View)
		}
	}
	sc.Dividers = dividers(picture, sc.Panes)
	switch {
	case s.Place != None:
		sc.Strip = image.Rect(0, top, w, h)
		sc.Deck = sc.Strip
		if s.Tabs {
			sc.Deck.Min.Y += a.tabRow()
			sc.Tabs = a.tabs(sc.Panes, top)
		}
		a.deck(&sc)
	case s.Tabs:
		sc.Strip = image.Rect(0, top, w, top+a.tabRow())
		sc.Tabs = a.tabs(sc.Panes, top)
	}
	sc.Labels = a.labels(&sc, seen)
	for _, l := range sc.Labels {
		if l.Text.Dy() < sc.Type.Small || l.Text.Dx() < 1 {
			return Screen{}, fmt.Errorf("layout: size %dx%d has no room for the labels of %d captures as %v",
				w, h, s.Captures, s.View)
		}
	}
	switch {
	case s.Place == None && !(s.View == Inset && s.Over):
		sc.Dividers = nil
	case s.Place == Over:
		// The strip is translucent: a divider behind it would show through.
		for i := range sc.Dividers {
			sc.Dividers[i].Max.Y = min(sc.Dividers[i].Max.Y, top)
		}
	}
	return sc, nil
}

// Safe returns the graphics-safe area of a picture: the middle 90 % of its
// width and of its height (EBU R 95), rounded inwards.
func Safe(size image.Point) image.Rectangle {
	dx, dy := (size.X+19)/20, (size.Y+19)/20
	return image.Rect(dx, dy, size.X-dx, size.Y-dy)
}

// even rounds down to an even number.
func even(n int) int { return n &^ 1 }

// Sub returns the screen moved by -p, for drawing the strip in coordinates of
// its own.
func (s Screen) Sub(p image.Point) Screen {
	rects := func(in []image.Rectangle) []image.Rectangle {
		var out []image.Rectangle
		for _, r := range in {
			out = append(out, r.Sub(p))
		}
		return out
	}
	s.Dividers = rects(s.Dividers)
	var panes []Pane
	for _, one := range s.Panes {
		one.Area = one.Area.Sub(p)
		panes = append(panes, one)
	}
	var labels []Label
	for _, l := range s.Labels {
		labels = append(labels, Label{l.Pane, l.Box.Sub(p), l.Text.Sub(p)})
	}
	s.Panes, s.Labels = panes, labels
	for _, r := range []*image.Rectangle{&s.Safe, &s.Strip, &s.Deck, &s.Clock, &s.Caption,
		&s.Line.Title, &s.Line.Unit, &s.Line.Values, &s.Line.Area, &s.Line.Times,
		&s.Treads.Title, &s.Treads.Unit} {
		*r = r.Sub(p)
	}
	var tabs []Tab
	for _, t := range s.Tabs {
		tabs = append(tabs, Tab{t.Box.Sub(p), t.Swatch.Sub(p), rects(t.Lines)})
	}
	var readouts []Readout
	for _, r := range s.Readouts {
		readouts = append(readouts, Readout{r.Swatch.Sub(p), r.Rate.Sub(p), r.Time.Sub(p)})
	}
	var lanes []Lane
	for _, l := range s.Treads.Lanes {
		lanes = append(lanes, Lane{l.Swatch.Sub(p), l.Values.Sub(p), l.Area.Sub(p), l.Pen.Sub(p)})
	}
	s.Tabs, s.Readouts, s.Treads.Lanes = tabs, readouts, lanes
	return s
}
