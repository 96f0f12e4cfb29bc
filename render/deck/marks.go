package deck

import (
	"fmt"
	"image"
	"math"
	"slices"

	"github.com/fogleman/gg"
	"golang.org/x/image/math/fixed"

	"fairframe/fonts"
	"fairframe/layout"
)

// Shape is what a mark looks like.
type Shape int

// Shapes of marks.
const (
	Box   Shape = iota // an outline around what it marks, which it leaves free
	Arrow              // from a tail to a tip
	Note               // words alone
)

// Mark is a box, an arrow or a note over one pane. Its places are those of the
// output, in pixels: of a box the upper left and the lower right corner, of an
// arrow tail and tip, of a note its middle.
type Mark struct {
	Shape          Shape
	X0, Y0, X1, Y1 float64
	Note           string // beside the box, or at the arrow's tail; may be empty
	Style          int    // of a box: 1, 2 or 3 draws its line in that colour and dash; 0: white
	From, To       int64  // the output frames in which it stands, [From, To); both 0: all
}

// meets reports whether two marks are on screen at one time.
func (m Mark) meets(o Mark) bool {
	always := func(m Mark) bool { return m.From == 0 && m.To == 0 }
	return always(m) || always(o) || m.From < o.To && o.From < m.To
}

// MarkSettings says what marks are drawn into one pane.
type MarkSettings struct {
	Size  image.Point       // of the output
	Area  image.Rectangle   // the pane: nothing is drawn outside of it
	Avoid []image.Rectangle // where nothing is drawn either, because other text stands there
	Marks []Mark
	// Others are the moving marks that stand in the pane already, whose notes one
	// more is to leave alone.
	Others []*Moving
	Fonts  *fonts.Set // nil: the embedded fonts
}

// Marks draws marks. Lines have the same width in all windows, in white between
// dark edges, and notes their own ground: so they stand out from any footage. It
// serves one goroutine at a time.
type Marks struct {
	MarkSettings
	em       float64
	face     *fonts.Face
	line     float64 // width of strokes
	edge     float64 // width of the dark edge on each side of them
	free     image.Rectangle
	drawn    []drawnMark
	warnings []string
}

// drawnMark is a mark with its place; an empty area means that the pane does not
// show what it marks.
type drawnMark struct {
	Mark
	area  image.Rectangle // even
	plate image.Rectangle // of the note; empty: none
	lines []string
}

// NewMarks places marks. It reports notes with glyphs that no font has.
func NewMarks(s MarkSettings) (*Marks, error) {
	if s.Fonts == nil {
		set, err := fonts.New()
		if err != nil {
			return nil, err
		}
		s.Fonts = set
	}
	m := &Marks{MarkSettings: s, em: stillEm(s.Size)}
	m.line, m.edge = math.Max(2, math.Round(0.14*m.em)), math.Max(1, math.Round(0.1*m.em))
	var err error
	if m.face, err = s.Fonts.Face(fonts.Bold, math.Round(1.15*m.em)); err != nil {
		return nil, err
	}
	m.free = m.room()
	for i, one := range s.Marks {
		if err := s.Fonts.Missing(one.Note); err != nil {
			return nil, fmt.Errorf("deck: note %q: %w", one.Note, err)
		}
		for _, v := range []*float64{&one.X0, &one.Y0, &one.X1, &one.Y1} {
			if math.IsNaN(*v) || math.Abs(*v) > 1e6 {
				return nil, fmt.Errorf("deck: mark %d at %v", i+1, *v)
			}
			*v = math.Round(*v) // whole pixels keep lines crisp
		}
		m.drawn = append(m.drawn, m.place(one))
	}
	return m, nil
}

// room is the part of the pane in which notes stand: inside the safe area, and
// clear of what is to be avoided, on whichever side of it there is more room.
func (m *Marks) room() image.Rectangle {
	r := m.Area.Intersect(layout.Safe(m.Size))
	for _, a := range m.Avoid {
		if a = a.Intersect(r); a.Empty() {
			continue
		}
		best := image.Rectangle{}
		for _, side := range []image.Rectangle{
			{r.Min, image.Pt(r.Max.X, a.Min.Y)}, {image.Pt(r.Min.X, a.Max.Y), r.Max},
			{r.Min, image.Pt(a.Min.X, r.Max.Y)}, {image.Pt(a.Max.X, r.Min.Y), r.Max},
		} {
			if !side.Empty() && side.Dx()*side.Dy() > best.Dx()*best.Dy() {
				best = side
			}
		}
		r = best
	}
	return r.Inset(int(0.4 * m.em))
}

// stroke is how far a line with its edges reaches.
func (m *Marks) stroke() float64 { return m.line + 2*m.edge }

func (m *Marks) place(one Mark) drawnMark {
	d := drawnMark{Mark: one}
	if !m.sees(one) {
		return d
	}
	if one.Note != "" {
		m.setNote(&d)
	}
	d.area = m.around(one, d.plate)
	return d
}

// around is the part of the pane, along even edges, that a mark covers together
// with its note's plate.
func (m *Marks) around(one Mark, plate image.Rectangle) image.Rectangle {
	r := image.Rect(
		int(math.Floor(math.Min(one.X0, one.X1))), int(math.Floor(math.Min(one.Y0, one.Y1))),
		int(math.Ceil(math.Max(one.X0, one.X1))), int(math.Ceil(math.Max(one.Y0, one.Y1))))
	switch one.Shape {
	case Box:
		r = r.Inset(-int(m.stroke()))
	case Arrow:
		r = r.Inset(-int(0.6*m.em + m.stroke()))
	case Note:
		r = image.Rectangle{}
	}
	r = r.Union(plate).Intersect(m.Area)
	return image.Rect(r.Min.X&^1, r.Min.Y&^1, (r.Max.X+1)&^1, (r.Max.Y+1)&^1)
}

// sees reports whether the pane shows anything of what is marked.
func (m *Marks) sees(one Mark) bool {
	a := m.Area
	if one.Shape == Box {
		return one.X0 < float64(a.Max.X) && math.Max(one.X1, one.X0+1) > float64(a.Min.X) &&
			one.Y0 < float64(a.Max.Y) && math.Max(one.Y1, one.Y0+1) > float64(a.Min.Y)
	}
	return image.Pt(int(math.Floor(one.X1)), int(math.Floor(one.Y1))).In(a)
}

// mostLines bounds the height of a note.
const mostLines = 3

// setNote breaks a note into lines and finds a place for it.
func (m *Marks) setNote(d *drawnMark) {
	var size image.Point
	if d.lines, size = m.wrap(d.Note); len(d.lines) > 0 {
		d.plate = m.notePlace(d.Mark, size)
	}
}

// wrap breaks a note into lines and returns the size of its plate, with warnings
// where it does not fit; without any room there are no lines.
func (m *Marks) wrap(note string) ([]string, image.Point) {
	pad, pitch := m.plateSteps()
	width := min(m.free.Dx()-2*pad, int(24*m.em))
	most := min(mostLines, (m.free.Dy()-pad)/max(1, pitch))
	if width <= 0 || most < 1 {
		m.warn("note %q left out: there is no room", note)
		return nil, image.Point{}
	}
	lines, short := m.face.Wrap(note, fixed.I(width), most)
	if short {
		m.warn("note shortened to %q", joined(lines))
	}
	longest := fixed.Int26_6(0)
	for _, l := range lines {
		longest = max(longest, m.face.Measure(l))
	}
	return lines, image.Pt(longest.Ceil()+2*pad, len(lines)*pitch+pad/2*2)
}

// plateSteps are the space around a note's words and the pitch of its lines.
func (m *Marks) plateSteps() (pad, pitch int) { return int(0.5*m.em + 0.5), int(1.5*m.em + 0.5) }

func joined(lines []string) string {
	s := ""
	for i, l := range lines {
		if i > 0 {
			s += " "
		}
		s += l
	}
	return s
}

// notePlace finds where a note of that size stands: the first place beside what it
// belongs to that has room, clear of other notes and of what else is marked, or
// else the nearest place that is clear of other notes.
func (m *Marks) notePlace(one Mark, size image.Point) image.Rectangle {
	notes, marks := m.others(one)
	var slid []image.Rectangle
	places := m.notePlaces(one, size)
	for _, taken := range [][]image.Rectangle{append(marks, notes...), notes} {
		for i, p := range places {
			corner := image.Pt(int(math.Round(p.x)), int(math.Round(p.y)))
			r := image.Rectangle{corner, corner.Add(size)}
			s := m.slide(r)
			slid = append(slid, s)
			fits := s == r || along(i) && s.Min.Y == r.Min.Y || i == len(places)-1
			if fits && !slices.ContainsFunc(taken, s.Overlaps) {
				return s
			}
		}
	}
	// Around the notes in the way, as near as can be.
	var best image.Rectangle
	least := math.Inf(1)
	for _, r := range slid[:len(places)] {
		for _, n := range notes {
			for _, at := range []image.Point{{r.Min.X, n.Max.Y}, {r.Min.X, n.Min.Y - size.Y},
				{n.Max.X, r.Min.Y}, {n.Min.X - size.X, r.Min.Y}} {
				s := image.Rectangle{at, at.Add(size)}
				far := math.Hypot(float64(at.X-r.Min.X), float64(at.Y-r.Min.Y))
				if far < least && s.In(m.free) && !slices.ContainsFunc(notes, s.Overlaps) {
					best, least = s, far
				}
			}
		}
	}
	if !best.Empty() {
		return best
	}
	m.warn("note %q covers another note: there is no room beside it", one.Note)
	return slid[0]
}

// others returns where notes stand already while a mark is on screen, with some
// space around them, and what is marked besides.
func (m *Marks) others(one Mark) (notes, marks []image.Rectangle) {
	gap := int(0.25 * m.em)
	for _, d := range m.drawn {
		if !d.plate.Empty() && d.meets(one) {
			notes = append(notes, d.plate.Inset(-gap))
		}
	}
	own := m.boxed(one)
	for _, o := range m.Marks {
		if r := m.boxed(o); o.Shape == Box && o.meets(one) && !r.Overlaps(own) {
			marks = append(marks, r)
		}
	}
	return notes, marks
}

// boxed is what a mark points at, with its strokes.
func (m *Marks) boxed(one Mark) image.Rectangle {
	return image.Rect(int(one.X0), int(one.Y0), int(one.X1), int(one.Y1)).Inset(-int(m.stroke()))
}

// spot is the upper left corner of a note's plate.
type spot struct{ x, y float64 }

// along reports whether a note at place i of a box may slide along it.
func along(i int) bool { return i < 2 }

// notePlaces are the places beside what it belongs to at which a note of that size
// may stand, the best one first; the last is taken though it has to be moved.
func (m *Marks) notePlaces(one Mark, size image.Point) []spot {
	w, h := float64(size.X), float64(size.Y)
	gap := m.stroke() + math.Round(0.25*m.em)
	switch one.Shape {
	case Box:
		return []spot{
			{one.X0 - m.stroke(), one.Y0 - gap - h}, {one.X0 - m.stroke(), one.Y1 + gap},
			{one.X1 + gap, one.Y0}, {one.X0 - gap - w, one.Y0},
			{one.X0 + gap, one.Y0 + gap}, // in it
		}
	case Arrow:
		dx, dy := one.X0-one.X1, one.Y0-one.Y1
		length := math.Hypot(dx, dy)
		dx, dy = dx/length, dy/length
		// How far the middle of the note has to be from the tail for its near edge
		// to touch it.
		reach := math.Min(w/2/math.Max(math.Abs(dx), 1e-9), h/2/math.Max(math.Abs(dy), 1e-9)) + m.edge
		return []spot{{one.X0 + dx*reach - w/2, one.Y0 + dy*reach - h/2}}
	}
	return []spot{{one.X0 - w/2, one.Y0 - h/2}}
}

// slide moves r into the room for notes, which is large enough.
func (m *Marks) slide(r image.Rectangle) image.Rectangle {
	size, f := r.Size(), m.free
	x := max(f.Min.X, min(r.Min.X, f.Max.X-size.X))
	y := max(f.Min.Y, min(r.Min.Y, f.Max.Y-size.Y))
	return image.Rectangle{image.Pt(x, y), image.Pt(x, y).Add(size)}
}

func (m *Marks) warn(format string, args ...any) {
	m.warnings = append(m.warnings, fmt.Sprintf(format, args...))
}

// Warnings tells what had to be shortened or left out to fit.
func (m *Marks) Warnings() []string { return append([]string(nil), m.warnings...) }

// Bounds returns where mark i stands in the output, along even edges; it is empty
// when the pane shows nothing of what it marks.
func (m *Marks) Bounds(i int) image.Rectangle { return m.drawn[i].area }

// Draw writes mark i as packed yuva420p with straight alpha.
func (m *Marks) Draw(dst []byte, i int) {
	r := m.drawn[i].area
	p := (&canvas{m.Image(i)}).planes(image.Rectangle{Max: r.Size()}, true)
	n := copy(dst, p.y)
	n += copy(dst[n:], p.u)
	n += copy(dst[n:], p.v)
	copy(dst[n:], p.a)
}

// Image returns mark i as a picture of its area.
func (m *Marks) Image(i int) *image.NRGBA {
	d := m.drawn[i]
	c := &canvas{image.NewNRGBA(d.area)}
	m.strokes(c, d)
	if !d.plate.Empty() {
		m.plate(c, d.plate, d.lines)
	}
	m.clip(c)
	c.img.Rect = c.img.Rect.Sub(d.area.Min)
	return c.img
}

// strokes draws a mark without its note.
func (m *Marks) strokes(c *canvas, d drawnMark) {
	switch d.Shape {
	case Box:
		m.box(c, d)
	case Arrow:
		m.arrow(c, d)
	}
}

// plate draws a note on its ground.
func (m *Marks) plate(c *canvas, r image.Rectangle, lines []string) {
	g := ground
	g.A = backing(2)
	c.fill(r, g)
	pad, pitch := m.plateSteps()
	for j, l := range lines {
		y := r.Min.Y + pad/2 + j*pitch
		c.textIn(m.face, image.Rect(r.Min.X+pad, y, r.Max.X-pad, y+pitch), left, l, bright)
	}
}

// clip takes away what lies where nothing may be drawn.
func (m *Marks) clip(c *canvas) {
	r := c.img.Rect
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			if !m.may(image.Pt(x, y)) {
				c.img.Pix[c.img.PixOffset(x, y)+3] = 0
			}
		}
	}
}

// may reports whether a pixel may be drawn on.
func (m *Marks) may(p image.Point) bool {
	if !p.In(m.Area) {
		return false
	}
	for _, a := range m.Avoid {
		if p.In(a) {
			return false
		}
	}
	return true
}

// box outlines what it marks: the inner edge of the line is the edge of that. Where
// the pane ends there, the line stands inside.
func (m *Marks) box(c *canvas, d drawnMark) {
	in := func(edge, pane, out float64) float64 {
		if off := (edge - pane) * out; -0.5 < off && off < m.stroke() {
			return pane + m.stroke()*out
		}
		return edge
	}
	a := m.Area
	x0, x1 := in(d.X0, float64(a.Min.X), 1), in(d.X1, float64(a.Max.X), -1)
	y0, y1 := in(d.Y0, float64(a.Min.Y), 1), in(d.Y1, float64(a.Max.Y), -1)
	ring := func(from, to float64) *image.Alpha {
		return shape(c.img.Rect, func(dc *gg.Context) {
			dc.SetFillRule(gg.FillRuleEvenOdd)
			for _, by := range []float64{from, to} {
				dc.DrawRectangle(x0-by, y0-by, x1-x0+2*by, y1-y0+2*by)
			}
			dc.Fill()
		})
	}
	c.over(ring(0, m.stroke()), ground)
	if d.Style == 0 {
		c.over(ring(m.edge, m.edge+m.line), bright)
		return
	}
	by := m.edge + m.line/2
	x0, y0, x1, y1 = x0-by, y0-by, x1+by, y1+by
	c.over(shape(c.img.Rect, func(dc *gg.Context) {
		dc.SetLineWidth(m.line)
		dc.SetLineCapButt()
		for _, side := range [][4]float64{{x0, y0, x1, y0}, {x0, y1, x1, y1}, {x0, y0, x0, y1},
			{x1, y0, x1, y1}} {
			dc.SetDash(fitDash(dashes[d.Style-1], m.em/10, side[2]-side[0]+side[3]-side[1])...)
			dc.DrawLine(side[0], side[1], side[2], side[3])
			dc.Stroke()
		}
	}), capture[d.Style-1])
}

// arrow draws a shaft and a head whose tip is at the place.
func (m *Marks) arrow(c *canvas, d drawnMark) {
	dx, dy := d.X1-d.X0, d.Y1-d.Y0
	length := math.Hypot(dx, dy)
	dx, dy = dx/length, dy/length
	head := math.Min(1.1*m.em, 0.7*length)
	half := 0.42 * head
	bx, by := d.X1-dx*head, d.Y1-dy*head
	draw := func(edge float64) *image.Alpha {
		return shape(c.img.Rect, func(dc *gg.Context) {
			dc.SetLineCapRound()
			dc.SetLineJoinRound()
			dc.SetLineWidth(m.line + 2*edge)
			dc.DrawLine(d.X0, d.Y0, bx, by)
			dc.Stroke()
			dc.MoveTo(d.X1, d.Y1)
			dc.LineTo(bx-dy*half, by+dx*half)
			dc.LineTo(bx+dy*half, by-dx*half)
			dc.ClosePath()
			if edge > 0 {
				dc.SetLineWidth(2 * edge)
				dc.StrokePreserve()
			}
			dc.Fill()
		})
	}
	c.over(draw(m.edge), ground)
	c.over(draw(0), bright)
}
