package deck

import (
	"image"

	"golang.org/x/image/math/fixed"

	"fairframe/layout"
)

// drawStatic draws all that never changes.
func (d *Deck) drawStatic() {
	sc := d.Screen
	g := ground
	if sc.Place != layout.Below {
		g.A = d.backing()
	}
	if sc.Place != layout.None {
		d.static.fill(image.Rectangle{Max: d.size}, g)
	} else {
		g.A = 0
		d.static.fill(image.Rectangle{Max: d.size}, g)
	}
	d.drawTabs()
	if sc.Deck.Empty() {
		return
	}
	if len(sc.Tabs) > 0 {
		h := d.hairline()
		d.static.fill(image.Rect(0, sc.Deck.Min.Y-h, d.size.X, sc.Deck.Min.Y), hair)
	}
	d.drawCaption()
	for i, r := range sc.Readouts {
		d.static.swatch(r.Swatch, d.style(i), d.em)
	}
	small := d.faces.small
	d.graph(sc.Line.Area)
	d.static.text(small, sc.Line.Unit, right, "fps", soft)
	d.valueAxis(d.static, small, d.rateAxis, d.rateTicks(), sc.Line.Values, sc.Line.Area)
	t := sc.Treads
	d.static.text(small, t.Unit, right, "ms", soft)
	for i, l := range t.Lanes {
		d.graph(l.Area)
		d.static.swatch(l.Swatch, d.style(i), d.em)
		d.valueAxis(d.static, small, d.timeAxis, d.timeTicks(), l.Values, l.Area)
		now := image.Rect(l.Area.Max.X, l.Area.Min.Y, l.Area.Max.X+int(d.playhead/fxOne),
			l.Area.Max.Y+d.hairline())
		d.static.fill(now, bright)
	}
	d.drawTreadsTitle()
}

// graph lays the ground of a graph. Over footage it stays the strip's own,
// which lets the footage show evenly.
func (d *Deck) graph(r image.Rectangle) {
	if !d.alpha {
		d.static.fill(r, well)
	}
	h := d.hairline()
	d.static.fill(image.Rect(r.Min.X, r.Max.Y, r.Max.X, r.Max.Y+h), hair)
}

func (d *Deck) drawCaption() {
	r := d.Screen.Caption
	if r.Empty() || d.Caption == "" {
		return
	}
	face := d.faces.caption
	s, short := face.Fit(d.Caption, fixed.I(r.Dx()))
	if short {
		// Smaller type comes before fewer words.
		face = d.faces.small
		if s, short = face.Fit(d.Caption, fixed.I(r.Dx())); short {
			d.warn("caption shortened to %q", s)
		}
	}
	d.static.textIn(face, r, left, s, bright)
}
