package deck

import (
	"fmt"
	"image"
	"math"
	"slices"
)

// Moving draws one mark over a pane whose window moves. Its places keep their
// fractions of a pixel, for rounded ones would tremble against the footage; strokes
// and note keep their size. It serves one goroutine at a time.
type Moving struct {
	marks  *Marks
	at     func(k int64) Mark
	from   int64
	to     int64
	bounds image.Rectangle
	plate  *image.NRGBA // of the note, at the origin; nil: none
	place  int          // of the note, one for all frames: it must not hop
}

// NewMoving places the mark that at returns for each output frame of [from, to)
// at which shown is true: the same shape and note each time. The settings' own
// marks are not used. It reports notes with glyphs that no font has.
func NewMoving(s MarkSettings, from, to int64,
	shown func(k int64) bool, at func(k int64) Mark) (*Moving, error) {
	s.Marks = nil
	others := s.Others
	m, err := NewMarks(s)
	if err != nil {
		return nil, err
	}
	v := &Moving{marks: m, at: at, from: from, to: to}
	if note := at(from).Note; note != "" {
		if err := m.Fonts.Missing(note); err != nil {
			return nil, fmt.Errorf("deck: note %q: %w", note, err)
		}
	}
	var seen []Mark
	var when []int64
	for k := from; k < to; k++ {
		if !shown(k) {
			continue
		}
		one := at(k)
		for _, x := range []float64{one.X0, one.Y0, one.X1, one.Y1} {
			if math.IsNaN(x) || math.Abs(x) > 1e6 {
				return nil, fmt.Errorf("deck: mark at %v in frame %d", x, k)
			}
		}
		if m.sees(one) {
			seen, when = append(seen, one), append(when, k)
		}
	}
	if len(seen) == 0 {
		return v, nil
	}
	if note := seen[0].Note; note != "" {
		v.write(note, seen, when, others)
	}
	for _, one := range seen {
		v.bounds = v.bounds.Union(v.around(one))
	}
	return v, nil
}

// write draws the note, and chooses the place beside its mark that is clear of
// other notes and has room in most frames.
func (v *Moving) write(note string, seen []Mark, when []int64, others []*Moving) {
	lines, size := v.marks.wrap(note)
	if len(lines) == 0 {
		return
	}
	c := &canvas{image.NewNRGBA(image.Rectangle{Max: size})}
	v.marks.plate(c, c.img.Rect, lines)
	v.plate = c.img
	free, most, least := -1, -1, 0
	for i := range v.marks.notePlaces(seen[0], size) {
		roomy, over := 0, 0
		for n, one := range seen {
			p := v.marks.notePlaces(one, size)[i]
			s := v.slide(p)
			if s == p || one.Shape == Box && along(i) && s.y == p.y {
				roomy++
			}
			r := s.rect(size)
			if slices.ContainsFunc(others, func(o *Moving) bool { return o.noteAt(when[n]).Overlaps(r) }) {
				over++
			}
		}
		if clear := len(seen) - over; clear > free || clear == free && roomy > most {
			v.place, free, most, least = i, clear, roomy, over
		}
	}
	if least > 0 {
		v.marks.warn("note %q covers another note in %d frames: there is no room beside it", note, least)
	}
}

// rect is what a note there covers.
func (s spot) rect(size image.Point) image.Rectangle {
	at := image.Pt(int(math.Floor(s.x)), int(math.Floor(s.y)))
	return image.Rectangle{at, at.Add(size).Add(image.Pt(1, 1))}
}

// noteAt is where the note stands at output frame k; empty: nowhere.
func (v *Moving) noteAt(k int64) image.Rectangle {
	if v.plate == nil || k < v.from || k >= v.to {
		return image.Rectangle{}
	}
	one := v.at(k)
	if !v.marks.sees(one) {
		return image.Rectangle{}
	}
	return v.note(one).rect(v.plate.Rect.Size())
}

// slide moves a note into the room for notes.
func (v *Moving) slide(p spot) spot {
	f, size := v.marks.free, v.plate.Rect.Size()
	return spot{
		math.Max(float64(f.Min.X), math.Min(p.x, float64(f.Max.X-size.X))),
		math.Max(float64(f.Min.Y), math.Min(p.y, float64(f.Max.Y-size.Y))),
	}
}

// note returns where the plate stands.
func (v *Moving) note(one Mark) spot {
	return v.slide(v.marks.notePlaces(one, v.plate.Rect.Size())[v.place])
}

// around is where the mark is drawn.
func (v *Moving) around(one Mark) image.Rectangle {
	var r image.Rectangle
	if v.plate != nil {
		r = v.note(one).rect(v.plate.Rect.Size())
	}
	return v.marks.around(one, r)
}

// Warnings tells what had to be shortened or left out to fit.
func (v *Moving) Warnings() []string { return v.marks.Warnings() }

// Bounds returns what holds the mark in all frames, along even edges; it is empty
// when the pane shows nothing of what it marks in any.
func (v *Moving) Bounds() image.Rectangle { return v.bounds }

// Draw writes the mark at output frame k as packed yuva420p with straight alpha,
// as large as Bounds; it is empty where the mark is not shown.
func (v *Moving) Draw(dst []byte, k int) {
	size := v.bounds.Size()
	all := planesOf(dst, size.X, size.Y, true)
	fillBytes(all.y, 16) // black of BT.709's limited range
	fillBytes(all.u, 128)
	fillBytes(all.v, 128)
	clear(all.a)
	if int64(k) < v.from || int64(k) >= v.to {
		return
	}
	one := v.at(int64(k))
	if !v.marks.sees(one) {
		return
	}
	// What lies outside is a frame in which the mark is not shown.
	r := v.around(one).Intersect(v.bounds)
	if r.Empty() {
		return
	}
	c := &canvas{image.NewNRGBA(r)}
	v.marks.strokes(c, drawnMark{Mark: one})
	if v.plate != nil {
		c.shifted(v.plate, v.note(one))
	}
	v.marks.clip(c)
	p := c.planes(r, true)
	at := r.Min.Sub(v.bounds.Min)
	rows := func(dst, src []byte, stride, x, y, w int) {
		for ; len(src) > 0; y, src = y+1, src[w:] {
			copy(dst[y*stride+x:], src[:w])
		}
	}
	rows(all.y, p.y, size.X, at.X, at.Y, r.Dx())
	rows(all.a, p.a, size.X, at.X, at.Y, r.Dx())
	rows(all.u, p.u, size.X/2, at.X/2, at.Y/2, r.Dx()/2)
	rows(all.v, p.v, size.X/2, at.X/2, at.Y/2, r.Dx()/2)
}

func fillBytes(b []byte, v byte) {
	for i := range b {
		b[i] = v
	}
}

// shifted puts a picture at a place between the pixels, in place of what is there
// as far as it covers that (bilinear).
func (c *canvas) shifted(src *image.NRGBA, at spot) {
	x0, y0 := int(math.Floor(at.x)), int(math.Floor(at.y))
	fx, fy := at.x-float64(x0), at.y-float64(y0)
	size := src.Rect.Size()
	r := image.Rect(x0, y0, x0+size.X+1, y0+size.Y+1).Intersect(c.img.Rect)
	taps := [4]struct {
		d image.Point
		w float64
	}{{image.Pt(0, 0), (1 - fx) * (1 - fy)}, {image.Pt(-1, 0), fx * (1 - fy)},
		{image.Pt(0, -1), (1 - fx) * fy}, {image.Pt(-1, -1), fx * fy}}
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			var sum [3]float64 // weighted by alpha
			var alpha, covered float64
			add := func(p []byte, w float64) {
				a := w * float64(p[3])
				alpha += a
				for i := range sum {
					sum[i] += a * float64(p[i])
				}
			}
			for _, t := range taps {
				if from := image.Pt(x-x0, y-y0).Add(t.d); from.In(src.Rect) {
					covered += t.w
					add(src.Pix[src.PixOffset(from.X, from.Y):][:4:4], t.w)
				}
			}
			dst := c.img.Pix[c.img.PixOffset(x, y):][:4:4]
			add(dst, 1-covered)
			if alpha == 0 {
				clear(dst)
				continue
			}
			for i := range sum {
				dst[i] = uint8(sum[i]/alpha + 0.5)
			}
			dst[3] = uint8(alpha + 0.5)
		}
	}
}
