package layout

import "image"

// shape is the arrangement of the deck's parts.
type shape int

const (
	wide  shape = iota // readouts, line and treads from left to right
	block              // readouts on top; line and treads side by side below
	tall               // readouts, line and treads from top to bottom
)

// arrangement measures a screen in its own em, the size of the smallest text:
// every length of the deck follows the type, so that the deck looks the same at
// every size of one shape.
type arrangement struct {
	spec  Spec
	shape shape
	em    int
	safe  image.Rectangle
}

func arrangementOf(s Spec) arrangement {
	a := arrangement{spec: s, safe: Safe(s.Size)}
	w, h := s.Size.X, s.Size.Y
	switch {
	case 3*w >= 4*h:
		a.shape = wide
	case 4*w > 3*h:
		a.shape = block
	default:
		a.shape = tall
	}
	// The smallest text is to be at least 1/60 of the height. A tall output is
	// narrow for its height, so it gets no more than that.
	if a.shape == tall {
		a.em = (h + 59) / 60
	} else {
		a.em = (h + 53) / 54
	}
	return a
}

// ems returns n tenths of an em, in pixels.
func (a arrangement) ems(tenths int) int { return (tenths*a.em + 5) / 10 }

func (a arrangement) types() Type {
	t := Type{Small: a.em, Name: a.ems(14), Rate: a.ems(24), Time: a.ems(12)}
	switch {
	case a.shape == wide && a.spec.Captures > 2, a.spec.Captures > 3:
		t.Rate = a.ems(18)
	case a.shape == tall && a.spec.Captures > 2:
		t.Rate = a.ems(22)
	}
	return t
}

// tabLines is how many lines of text a tab has: as many as its parts need in
// the width of its slot.
func (a arrangement) tabLines() int {
	n := a.slots()
	switch {
	case a.shape == wide:
		return max(1, n-1)
	case a.shape == block:
		return n
	case a.spec.View == Rows && a.spec.Captures > 3:
		return 1
	default:
		return n + 1
	}
}

// nameLine and textLine are the heights of a tab's first line and of the rest.
func (a arrangement) nameLine() int { return a.ems(18) }
func (a arrangement) textLine() int { return a.ems(13) }

// tabRow is the height of the row of name tabs, even.
func (a arrangement) tabRow() int {
	return even(a.ems(9) + a.nameLine() + (a.tabLines()-1)*a.textLine() + 1)
}

// tabs places the captures' tabs. Where the panes are rows, each tab is under its pane, the last ones in
// the row at height top; otherwise all are in that row. Text keeps an inset from its slot's edges and stays
// inside the safe area.
func (a arrangement) tabs(panes []Pane, top int) []Tab {
	var out []Tab
	slots := columns(image.Rect(0, top, a.spec.Size.X, top+a.tabRow()), a.slots())
	for i := range a.spec.Captures {
		box := slots[i%len(slots)]
		if a.ranks() && i < len(panes)-len(slots) {
			box = a.foot(panes[i].Area)
		}
		out = append(out, a.tab(box))
	}
	return out
}

// foot is the row of a rank's tab: below its pane where there is a bar, or else
// over the pane's lower edge.
func (a arrangement) foot(pane image.Rectangle) image.Rectangle {
	y := pane.Max.Y
	if a.between() == 0 {
		y -= a.tabRow()
	}
	return image.Rect(pane.Min.X, y, pane.Max.X, y+a.tabRow())
}

func (a arrangement) tab(box image.Rectangle) Tab {
	t := Tab{Box: box}
	x0 := max(box.Min.X+a.ems(12), a.safe.Min.X)
	x1 := min(box.Max.X-a.ems(12), a.safe.Max.X)
	y := box.Min.Y + (a.tabRow()-a.nameLine()-(a.tabLines()-1)*a.textLine())/2
	swatch := a.ems(24)
	if a.shape != wide {
		swatch = a.ems(18)
	}
	text := x0 + swatch + a.ems(7)
	bar := a.ems(3)
	mid := y + a.nameLine()/2
	t.Swatch = image.Rect(x0, mid-bar/2, x0+swatch, mid-bar/2+max(bar, 1))
	for i := range a.tabLines() {
		h := a.textLine()
		if i == 0 {
			h = a.nameLine()
		}
		left := text
		// Narrow tabs use the room below the swatch for their further lines.
		if i > 0 && a.shape != wide {
			left = x0
		}
		t.Lines = append(t.Lines, image.Rect(left, y, x1, y+h))
		y += h
	}
	return t
}

// labels gives room to what panes say of themselves: the whole capture and the
// windows of an inset, and differences. A difference that has a place in the tab
// row stands there, any other label at its pane's foot.
func (a arrangement) labels(sc *Screen, seen image.Rectangle) []Label {
	var list []Label
	pad := max(2, even(a.ems(5)))
	for i, p := range sc.Panes {
		if p.Role == AsWindow && sc.View != Inset {
			continue
		}
		l := Label{Pane: i}
		if row := a.slots() > a.spec.Captures || a.ranks(); row && len(sc.Tabs) > 0 {
			// The last slot of the row, or the last rank's foot.
			slots := columns(image.Rect(0, sc.Strip.Min.Y, sc.Size.X, sc.Strip.Min.Y+a.tabRow()), a.slots())
			t := a.tab(slots[len(slots)-1])
			l.Box = t.Box
			l.Text = image.Rect(t.Swatch.Min.X, t.Lines[0].Min.Y, t.Lines[0].Max.X,
				t.Lines[len(t.Lines)-1].Max.Y)
			list = append(list, l)
			continue
		}
		in := p.Area.Intersect(seen)
		text := in.Inset(pad).Intersect(a.safe)
		for _, q := range sc.Panes[i+1:] {
			// The windows over the whole capture leave it a side of its own.
			switch r := q.Area.Inset(-2 * pad); {
			case !q.Area.In(p.Area):
			case 3*seen.Dx() < 4*seen.Dy():
				if !a.spec.Opposite {
					text.Max.Y = min(text.Max.Y, r.Min.Y)
				}
			case a.spec.Opposite:
				text.Min.X = r.Max.X
			default:
				text.Max.X = r.Min.X
			}
		}
		text.Min.Y = max(text.Min.Y, text.Max.Y-5*a.textLine())
		l.Text = text
		l.Box = evened(text.Inset(-pad)).Intersect(in)
		list = append(list, l)
	}
	return list
}

// evened grows a rectangle to even edges.
func evened(r image.Rectangle) image.Rectangle {
	return image.Rect(r.Min.X&^1, r.Min.Y&^1, (r.Max.X+1)&^1, (r.Max.Y+1)&^1)
}

// Heights of the deck's rows.
func (a arrangement) title() int       { return a.ems(13) }
func (a arrangement) gap() int         { return a.ems(3) }
func (a arrangement) caption() int     { return a.ems(23) }
func (a arrangement) captionLine() int { return a.ems(17) }
func (a arrangement) margin() int      { return a.spec.Size.Y - a.safe.Max.Y }

// plotHeight is the height of the frame-rate line's area, or of area and time
// labels together where the treads stand beside it.
func (a arrangement) plotHeight() int {
	switch a.shape {
	case wide:
		// Lanes of at least 4.5 em for two captures, 3.6 em for three.
		return a.ems([]int{97, 97, 120, 132}[min(a.spec.Captures, 4)-1])
	case block:
		return a.ems(84 + 14*(a.spec.Captures-2))
	default:
		return a.ems(53)
	}
}

func (a arrangement) laneGap() int { return a.ems(5) }

// laneHeight is the height of one lane where the treads stand alone.
func (a arrangement) laneHeight() int { return a.ems(max(18, 56-10*a.spec.Captures)) }

// abreast is how many readouts stand side by side: of four captures two, as their
// panes do.
func (a arrangement) abreast() int {
	if a.spec.Captures > 3 {
		return 2
	}
	return a.spec.Captures
}

// stackedReadouts reports whether a frame time stands under its frame rate, not
// beside it. Four captures have no height for that.
func (a arrangement) stackedReadouts() bool { return a.shape == tall && a.spec.Captures < 4 }

// readoutRows is the height of all readouts that stand in rows under the panes.
func (a arrangement) readoutRows() int {
	n := (a.spec.Captures + a.abreast() - 1) / a.abreast()
	row := a.ems(28)
	if a.stackedReadouts() {
		row = a.ems(40)
	}
	return n*row + (n-1)*a.laneGap()
}

// stripHeight is the height of tab row and deck together, even.
func (a arrangement) stripHeight() int {
	h := 2*a.gap() + a.title() + a.plotHeight() + a.margin()
	n := a.spec.Captures
	switch a.shape {
	case block:
		h += a.readoutRows() + 2*a.gap()
	case tall:
		h += a.readoutRows() + 2*a.gap() + a.ems(13) // time labels
		h += a.ems(8) + a.title() + a.gap() + n*a.laneHeight() + (n-1)*a.laneGap()
	}
	if a.spec.Tabs {
		h += a.tabRow()
	} else {
		h += a.ems(6)
	}
	if a.spec.Caption && a.shape != wide { // where it stands beside the clock
		h += a.caption()
	}
	return even(h + 1)
}

// deck places everything below the tab row.
func (a arrangement) deck(sc *Screen) {
	x0, x1 := a.safe.Min.X, a.safe.Max.X
	y0, y1 := sc.Deck.Min.Y+a.gap(), a.safe.Max.Y
	if !a.spec.Tabs {
		y0 += a.ems(6)
	}
	if a.spec.Caption && a.shape != wide {
		sc.Caption = image.Rect(x0, y1-a.ems(17), x1, y1)
		y1 -= a.caption()
	}
	switch a.shape {
	case wide:
		y1 -= a.ems(1) // a graph's base line lies below its area
		left := a.ems(120)
		if a.spec.Captures > 2 {
			left = a.ems(138)
		}
		a.readoutColumn(sc, image.Rect(x0, y0, x0+left, y1))
		a.graphs(sc, image.Rect(x0+left+a.ems(16), y0, x1, y1))
		if a.spec.Caption {
			// Beside the clock, above the line, whose own title is below it.
			sc.Caption = image.Rect(sc.Line.Area.Min.X, y0, sc.Line.Area.Max.X, y0+a.captionLine())
		}
	case block:
		row := y0 + a.readoutRows()
		a.readoutsAcross(sc, image.Rect(x0, y0, x1, row))
		a.graphs(sc, image.Rect(x0, row+2*a.gap(), x1, y1))
	case tall:
		row := y0 + a.readoutRows()
		a.readoutsAcross(sc, image.Rect(x0, y0, x1, row))
		row += 2 * a.gap()
		lineEnd := row + a.title() + a.gap() + a.plotHeight() + a.ems(13)
		a.line(sc, image.Rect(x0, row, x1, lineEnd), true)
		a.lanes(sc, image.Rect(x0, lineEnd+a.ems(8), x1, y1), 0)
	}
}

// readoutColumn stacks the readouts under the scene clock.
func (a arrangement) readoutColumn(sc *Screen, r image.Rectangle) {
	sc.Clock = image.Rect(r.Min.X, r.Min.Y, r.Max.X, r.Min.Y+a.title())
	rows := a.split(image.Rect(r.Min.X, r.Min.Y+a.title()+a.gap(), r.Max.X, r.Max.Y), a.spec.Captures)
	for _, row := range rows {
		o := Readout{Swatch: image.Rect(row.Min.X, row.Min.Y, row.Min.X+a.bar(), row.Max.Y)}
		text := row.Min.X + a.ems(14)
		if a.spec.Captures > 2 {
			// No height for two lines: side by side on one baseline.
			cut := text + a.ems(70)
			o.Rate = image.Rect(text, row.Min.Y, cut, row.Max.Y)
			o.Time = image.Rect(cut, row.Min.Y, row.Max.X, row.Max.Y)
		} else {
			cut := row.Min.Y + row.Dy()*62/100
			o.Rate = image.Rect(text, row.Min.Y, row.Max.X, cut)
			o.Time = image.Rect(text, cut, row.Max.X, row.Max.Y)
		}
		sc.Readouts = append(sc.Readouts, o)
	}
}

// bar is the thickness of a readout's or a lane's swatch.
func (a arrangement) bar() int { return max(2, a.ems(3)) }

// readoutsAcross stands the readouts side by side, under the panes.
func (a arrangement) readoutsAcross(sc *Screen, all image.Rectangle) {
	slots := columns(image.Rectangle{Max: sc.Size}, a.abreast())
	rows := a.split(all, a.spec.Captures/len(slots))
	for i := range a.spec.Captures {
		p, r := slots[i%len(slots)], rows[i/len(slots)]
		x0, x1 := r.Min.X, r.Max.X
		if i%len(slots) > 0 {
			x0 = p.Min.X + a.ems(12)
		}
		if i%len(slots) < len(slots)-1 {
			x1 = p.Max.X - a.ems(6)
		}
		o := Readout{Swatch: image.Rect(x0, r.Min.Y, x0+a.bar(), r.Max.Y)}
		text := x0 + a.ems(10)
		if a.stackedReadouts() {
			cut := r.Min.Y + r.Dy()*62/100
			o.Rate = image.Rect(text, r.Min.Y, x1, cut)
			o.Time = image.Rect(text, cut, x1, r.Max.Y)
		} else {
			cut := text + min(a.ems(110-10*a.abreast()), (x1-text)*6/10)
			o.Rate = image.Rect(text, r.Min.Y, cut, r.Max.Y)
			o.Time = image.Rect(cut, r.Min.Y, x1, r.Max.Y)
		}
		sc.Readouts = append(sc.Readouts, o)
	}
}

// graphs stands line and treads side by side.
func (a arrangement) graphs(sc *Screen, r image.Rectangle) {
	gutter, gap := a.ems(40), a.ems(20)
	share := (r.Dx() - gap) * 42 / 100
	area := share - gutter - a.pen()
	// At 60 or 30 frames a second a graph of 1.5 s whose width is a multiple of
	// 90 pixels scrolls by whole pixels, which keeps its edges crisp.
	if area >= 180 {
		area -= area % 90
	}
	cut := r.Max.X - area - gutter - a.pen()
	top := r.Min.Y
	if a.spec.Caption && a.shape == wide {
		top += a.captionLine() + a.gap()
	}
	a.line(sc, image.Rect(r.Min.X, top, cut-gap, r.Max.Y), a.shape != wide)
	a.lanes(sc, image.Rect(cut, r.Min.Y, r.Max.X, r.Max.Y), gutter)
}

// pen is the room right of a lane for the mark of the present value.
func (a arrangement) pen() int { return a.ems(6) }

// line places the frame-rate line. With clock, the scene clock takes the right
// end of its title row.
func (a arrangement) line(sc *Screen, r image.Rectangle, clock bool) {
	x := r.Min.X + a.ems(30)
	top := r.Min.Y + a.title() + a.gap()
	bottom := r.Max.Y - a.ems(13)
	l := &sc.Line
	l.Title = image.Rect(x, r.Min.Y, r.Max.X, r.Min.Y+a.title())
	if clock {
		c := r.Max.X - a.ems(66)
		sc.Clock = image.Rect(c, r.Min.Y, r.Max.X, r.Min.Y+a.title())
		l.Title.Max.X = c - a.ems(4)
	}
	l.Unit = image.Rect(r.Min.X, r.Min.Y, x-a.ems(5), r.Min.Y+a.title())
	l.Area = image.Rect(x, top, r.Max.X, bottom-a.ems(1))
	l.Values = image.Rect(r.Min.X, top, x-a.ems(5), bottom)
	l.Times = image.Rect(r.Min.X, bottom, r.Max.X, r.Max.Y)
}

// lanes places the frame-time graph.
func (a arrangement) lanes(sc *Screen, r image.Rectangle, gutter int) {
	if gutter == 0 {
		gutter = a.ems(40)
		if area := r.Dx() - gutter - a.pen(); area >= 180 {
			gutter += area % 90
		}
	}
	x, x1 := r.Min.X+gutter, r.Max.X-a.pen()
	t := &sc.Treads
	t.Title = image.Rect(x, r.Min.Y, x1, r.Min.Y+a.title())
	t.Unit = image.Rect(r.Min.X+a.bar()+a.ems(3), r.Min.Y, x-a.ems(5), r.Min.Y+a.title())
	below := image.Rect(r.Min.X, r.Min.Y+a.title()+a.gap(), r.Max.X, r.Max.Y)
	for _, row := range a.split(below, a.spec.Captures) {
		t.Lanes = append(t.Lanes, Lane{
			Swatch: image.Rect(r.Min.X, row.Min.Y, r.Min.X+a.bar(), row.Max.Y),
			Values: image.Rect(r.Min.X+a.bar()+a.ems(3), row.Min.Y, x-a.ems(5), row.Max.Y),
			Area:   image.Rect(x, row.Min.Y, x1, row.Max.Y),
			Pen:    image.Rect(x1, row.Min.Y, r.Max.X, row.Max.Y),
		})
	}
}

// split cuts r into n rows of equal height with a lane gap between them.
func (a arrangement) split(r image.Rectangle, n int) []image.Rectangle {
	h := (r.Dy() - (n-1)*a.laneGap()) / n
	var rows []image.Rectangle
	for i := range n {
		y := r.Min.Y + i*(h+a.laneGap())
		rows = append(rows, image.Rect(r.Min.X, y, r.Max.X, y+h))
	}
	return rows
}
