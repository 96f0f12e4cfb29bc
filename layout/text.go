package layout

import (
	"fmt"
	"image"
	"strings"
)

// String lists the screen's parts, one a line, for tables of expected layouts:
// the name, then x,y of the upper left corner and the width and height.
func (s Screen) String() string {
	var b strings.Builder
	put := func(name string, r image.Rectangle) {
		if !r.Empty() {
			fmt.Fprintf(&b, "%s %d,%d %dx%d\n", name, r.Min.X, r.Min.Y, r.Dx(), r.Dy())
		}
	}
	fmt.Fprintf(&b, "screen %dx%d %v %v\n", s.Size.X, s.Size.Y, s.View, s.Place)
	for _, p := range s.parts() {
		put(p.name, p.rect)
	}
	if s.Type.Small > 0 {
		fmt.Fprintf(&b, "type %d %d %d %d\n", s.Type.Small, s.Type.Name, s.Type.Rate, s.Type.Time)
	}
	return b.String()
}

// part is a rectangle with its name; text tells whether text is set in it.
type part struct {
	name string
	rect image.Rectangle
	text bool
}

// parts returns all rectangles in reading order.
func (s Screen) parts() []part {
	var out []part
	add := func(text bool, r image.Rectangle, name string, args ...any) {
		out = append(out, part{fmt.Sprintf(name, args...), r, text})
	}
	for i, p := range s.Panes {
		add(false, p.Area, "pane %d", i+1)
	}
	for i, r := range s.Dividers {
		add(false, r, "divider %d", i+1)
	}
	add(false, s.Safe, "safe")
	add(false, s.Strip, "strip")
	for i, t := range s.Tabs {
		add(false, t.Box, "tab %d", i+1)
		add(false, t.Swatch, "tab %d swatch", i+1)
		for j, l := range t.Lines {
			add(true, l, "tab %d line %d", i+1, j+1)
		}
	}
	for i, l := range s.Labels {
		add(false, l.Box, "label %d", i+1)
		add(true, l.Text, "label %d text", i+1)
	}
	add(false, s.Deck, "deck")
	add(true, s.Clock, "clock")
	for i, r := range s.Readouts {
		add(false, r.Swatch, "readout %d swatch", i+1)
		add(true, r.Rate, "readout %d rate", i+1)
		add(true, r.Time, "readout %d time", i+1)
	}
	add(true, s.Line.Title, "line title")
	add(true, s.Line.Unit, "line unit")
	add(true, s.Line.Values, "line values")
	add(false, s.Line.Area, "line area")
	add(true, s.Line.Times, "line times")
	add(true, s.Treads.Title, "treads title")
	add(true, s.Treads.Unit, "treads unit")
	for i, l := range s.Treads.Lanes {
		add(false, l.Swatch, "lane %d swatch", i+1)
		add(true, l.Values, "lane %d values", i+1)
		add(false, l.Area, "lane %d area", i+1)
		add(false, l.Pen, "lane %d pen", i+1)
	}
	add(true, s.Caption, "caption")
	return out
}
