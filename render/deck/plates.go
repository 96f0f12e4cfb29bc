package deck

import (
	"image"
	"image/color"
	"strings"

	"golang.org/x/image/math/fixed"

	"fairframe/fonts"
	"fairframe/layout"
)

// Label is what a pane says of itself. The note is never dropped.
type Label struct {
	Capture int    // index of the capture whose line stands before the name
	Name    string // "": the note alone
	Note    string
}

// Frame is a place marked by a frame, such as the one that is magnified elsewhere.
type Frame struct {
	Area    image.Rectangle   // in the output
	Capture int               // index of the capture whose line it is drawn in; -1: of all
	Within  image.Rectangle   // nothing is drawn outside of it
	Avoid   []image.Rectangle // nor here
}

// Plate is a piece of the picture outside of the strip, which never changes: a
// name tab at its pane, a label, an edge of a mark.
type Plate struct {
	Area  image.Rectangle // in the output, even
	Alpha bool            // yuva420p with straight alpha; otherwise yuv420p

	pixels []byte
}

// Draw writes the plate, as Deck.Draw writes the strip.
func (p *Plate) Draw(dst []byte, _ int) { copy(dst, p.pixels) }

// Plates returns what is drawn outside of the strip.
func (d *Deck) Plates() []Plate { return d.plates }

// plate draws a piece at r, in the strip's coordinates, on a ground of that
// opacity, and keeps it.
func (d *Deck) plate(r image.Rectangle, origin image.Point, opacity uint8, draw func(c *canvas)) {
	if r = even(r); r.Empty() {
		return
	}
	c := &canvas{image.NewNRGBA(r)}
	g := ground
	g.A = opacity
	c.fill(r, g)
	draw(c)
	p := c.planes(r, opacity < 255)
	pixels := append(append(append(append([]byte(nil), p.y...), p.u...), p.v...), p.a...)
	d.plates = append(d.plates, Plate{Area: r.Add(origin), Alpha: opacity < 255, pixels: pixels})
}

// drawPlates draws tabs and labels that stand at their panes, and marks.
func (d *Deck) drawPlates(origin image.Point) {
	strip := image.Rectangle{Max: d.size}
	opacity := uint8(255)
	if d.Screen.Place != layout.Below {
		opacity = d.backing()
	}
	for _, m := range d.Places {
		d.mark(m, origin)
	}
	for i, t := range d.Screen.Tabs {
		if t.Box.In(strip) {
			continue
		}
		box := t.Box
		if d.Screen.Place != layout.Below {
			_, end := d.setTab(i, t)
			box.Max.X = min(box.Max.X, max(end, t.Swatch.Max.X)+int(d.em))
		}
		d.plate(box, origin, opacity, func(c *canvas) { d.drawTab(c, i, t, plain) })
	}
	for i, l := range d.Screen.Labels {
		d.drawLabel(l, d.Labels[i], strip, origin, opacity)
	}
}

// mark draws a frame around its place: light between two dark lines, so that it is
// seen on any footage. Where the picture ends at the place, it stands inside.
func (d *Deck) mark(f Frame, origin image.Point) {
	w := 2 * max(1, int(d.em/10))
	out := even(f.Area.Inset(-w)).Intersect(f.Within)
	in := image.Rect(out.Min.X+w, out.Min.Y+w, out.Max.X-w, out.Max.Y-w)
	for _, side := range []image.Rectangle{
		{out.Min, image.Pt(out.Max.X, in.Min.Y)}, {image.Pt(out.Min.X, in.Max.Y), out.Max},
		image.Rect(out.Min.X, in.Min.Y, in.Min.X, in.Max.Y),
		image.Rect(in.Max.X, in.Min.Y, out.Max.X, in.Max.Y),
	} {
		for _, piece := range without(side, f.Avoid) {
			d.edge(side.Sub(origin), piece.Sub(origin), origin, w/4, f.Capture)
		}
	}
}

// edge draws a piece of a frame's side.
func (d *Deck) edge(side, piece image.Rectangle, origin image.Point, dark, i int) {
	d.plate(piece, origin, 255, func(c *canvas) {
		core := side.Inset(dark)
		if side.Dx() > side.Dy() {
			core.Min.X, core.Max.X = side.Min.X+dark, side.Max.X-dark
		} else {
			core.Min.Y, core.Max.Y = side.Min.Y-dark, side.Max.Y+dark
		}
		if i < 0 {
			c.fill(core, bright)
			return
		}
		c.swatch(core.Intersect(side), d.style(i), d.em)
	})
}

// without returns what the rectangles leave free of a side of a frame.
func without(side image.Rectangle, avoid []image.Rectangle) []image.Rectangle {
	list := []image.Rectangle{side}
	for _, a := range avoid {
		var rest []image.Rectangle
		for _, r := range list {
			b := a.Intersect(r)
			if b.Empty() {
				rest = append(rest, r)
				continue
			}
			for _, one := range []image.Rectangle{
				{r.Min, image.Pt(r.Max.X, b.Min.Y)}, {image.Pt(r.Min.X, b.Max.Y), r.Max},
				image.Rect(r.Min.X, b.Min.Y, b.Min.X, b.Max.Y),
				image.Rect(b.Max.X, b.Min.Y, r.Max.X, b.Max.Y),
			} {
				if !one.Empty() {
					rest = append(rest, one)
				}
			}
		}
		list = rest
	}
	return list
}

// drawLabel sets a label's text from the foot of its room upwards, on a ground
// as large as that needs; in the strip it stands like a name tab.
func (d *Deck) drawLabel(l layout.Label, text Label, strip image.Rectangle, origin image.Point,
	opacity uint8) {
	if text.Name == "" && text.Note == "" {
		return
	}
	step := max(1, int(1.3*d.em+0.5))
	rows := d.setLabel(text, fixed.I(l.Text.Dx()), max(1, l.Text.Dy()/step))
	pad := l.Text.Min.X - l.Box.Min.X
	top := l.Text.Max.Y - len(rows)*step
	inStrip := !strip.Empty() && l.Box.In(strip)
	if inStrip {
		top = l.Text.Min.Y + (l.Text.Dy()-len(rows)*step)/2
	}
	var wide fixed.Int26_6
	for _, r := range rows {
		wide = max(wide, r.width)
	}
	draw := func(c *canvas) {
		for n, r := range rows {
			line := image.Rect(l.Text.Min.X, top+n*step, l.Text.Max.X, top+(n+1)*step)
			if r.swatch {
				h := max(2, int(0.3*d.em))
				mid := (line.Min.Y + line.Max.Y) / 2
				c.swatch(image.Rect(line.Min.X, mid-h/2, line.Min.X+d.labelSwatch(), mid-h/2+h),
					d.style(text.Capture), d.em)
			}
			for _, w := range r.words {
				c.textAt(w.face, fixed.I(line.Min.X)+w.x, line, left, w.text, w.colour)
			}
		}
	}
	if inStrip {
		if d.Screen.Place == layout.None {
			// Without a strip it has its own background, as a tab has.
			g, under := ground, l.Box
			g.A = d.backing()
			under.Max.X = min(under.Max.X, l.Text.Min.X+wide.Ceil()+int(d.em))
			d.static.fill(under, g)
		}
		draw(d.static)
		return
	}
	box := image.Rect(l.Box.Min.X, top-pad/2, l.Text.Min.X+wide.Ceil()+pad, l.Box.Max.Y).Intersect(l.Box)
	d.plate(box, origin, opacity, draw)
}

func (d *Deck) labelSwatch() int { return int(1.6 * d.em) }

// labelRow is one line of a label; its words' x counts from its left end.
type labelRow struct {
	swatch bool
	words  []word
	width  fixed.Int26_6
}

// setLabel breaks a label into lines. Where room is short the name gives way.
func (d *Deck) setLabel(l Label, room fixed.Int26_6, most int) []labelRow {
	small, bold := d.faces.small, d.faces.smallBold
	gap := fixed.Int26_6(0.6 * d.em * 64)
	row := func(name, note string) labelRow {
		var r labelRow
		put := func(f *fonts.Face, s string, col color.NRGBA) {
			if s == "" {
				return
			}
			if r.width > 0 {
				r.width += gap
			}
			r.words = append(r.words, word{text: s, face: f, colour: col, x: r.width})
			r.width += f.Measure(s)
		}
		if name != "" {
			r.swatch, r.width = true, fixed.I(d.labelSwatch())
		}
		put(bold, name, bright)
		put(small, note, bright)
		return r
	}
	if r := row(l.Name, l.Note); r.width <= room {
		return []labelRow{r}
	}
	var rows []labelRow
	if l.Name != "" && most > 1 {
		name := l.Name
		if r := row(name, ""); r.width > room {
			name, _ = bold.Fit(l.Name, room-fixed.I(d.labelSwatch())-gap)
			d.warn("label of capture %d: name shortened to %q", l.Capture+1, name)
		}
		rows = append(rows, row(name, ""))
	}
	wrapped, short := small.Wrap(l.Note, room, most-len(rows))
	if short && len(rows) > 0 {
		d.warn("label of capture %d: name %q left out", l.Capture+1, l.Name)
		rows = nil
		wrapped, short = small.Wrap(l.Note, room, most)
	}
	if short {
		d.warn("label %q shortened to %q", l.Note, strings.Join(wrapped, " "))
	}
	for _, s := range wrapped {
		rows = append(rows, row("", s))
	}
	return rows
}
