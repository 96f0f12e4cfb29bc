package deck

import (
	"image"
	"image/color"
	"math"

	"github.com/fogleman/gg"
	"golang.org/x/image/math/fixed"

	"fairframe/fonts"
)

// surface is what stills are drawn on: a picture, or SVG text. Both get the same
// calls with the same coordinates: pixels, y growing downwards, from the upper
// left corner. What comes later lies on top. Colours are opaque.
type surface interface {
	// boxes fills rectangles, which do not overlap, with one colour.
	boxes(id string, list []box, c color.NRGBA)
	// lines strokes open lines of two or more points with one pen; the dash pattern
	// (nil: solid) is in pixels.
	lines(id string, list [][]point, pen pen)
	// text sets a line at (x, y): its left end, its right end or its middle on the
	// baseline.
	text(t typeface, x, y float64, a align, s string, c color.NRGBA)
}

type point struct{ x, y float64 }

// box is the rectangle between two corners; x0 <= x1, y0 <= y1.
type box struct{ x0, y0, x1, y1 float64 }

func boxOf(r image.Rectangle) box {
	return box{float64(r.Min.X), float64(r.Min.Y), float64(r.Max.X), float64(r.Max.Y)}
}

type pen struct {
	width  float64
	dash   []float64
	colour color.NRGBA
}

// typeface is a style of type at a size, in pixels.
type typeface struct {
	bold bool
	px   float64
}

// typecase holds the faces of a still. It serves one goroutine.
type typecase struct {
	set   *fonts.Set
	faces map[typeface]*fonts.Face
}

func newTypecase(set *fonts.Set, faces ...typeface) (*typecase, error) {
	t := &typecase{set, map[typeface]*fonts.Face{}}
	for _, f := range faces {
		style := fonts.Regular
		if f.bold {
			style = fonts.Bold
		}
		face, err := set.Face(style, f.px)
		if err != nil {
			return nil, err
		}
		t.faces[f] = face
	}
	return t, nil
}

// width returns how wide a text is, in pixels.
func (t *typecase) width(f typeface, s string) float64 {
	return float64(t.faces[f].Measure(s)) / 64
}

// fit shortens a text to a width.
func (t *typecase) fit(f typeface, s string, width float64) (string, bool) {
	return t.faces[f].Fit(s, fixed.Int26_6(max(width, 0)*64))
}

// wrap breaks a text into lines of a width, at most so many.
func (t *typecase) wrap(f typeface, s string, width float64, most int) ([]string, bool) {
	return t.faces[f].Wrap(s, fixed.Int26_6(max(width, 0)*64), most)
}

// headingLines is how many lines the heading of a still page may take: pictures that
// are no wider than high have the room.
func headingLines(size image.Point) int {
	if size.Y >= size.X {
		return 2
	}
	return 1
}

// below returns the baseline of capitals centred on y.
func (t *typecase) below(f typeface, y float64) float64 {
	return y + float64(t.faces[f].CapHeight())/128
}

// picture is a surface that becomes a picture.
type picture struct {
	*canvas
	types *typecase
}

func (r picture) boxes(_ string, list []box, c color.NRGBA) {
	bounds := image.Rectangle{}
	for _, b := range list {
		bounds = bounds.Union(image.Rect(int(math.Floor(b.x0)), int(math.Floor(b.y0)), int(math.Ceil(b.x1)),
			int(math.Ceil(b.y1))))
	}
	bounds = bounds.Intersect(r.img.Rect)
	if bounds.Empty() {
		return
	}
	// Neighbours share pixels, so coverage is added up before it is rounded.
	w := bounds.Dx()
	sum := make([]float32, w*bounds.Dy())
	for _, b := range list {
		x0, x1 := max(b.x0, float64(bounds.Min.X)), min(b.x1, float64(bounds.Max.X))
		y0, y1 := max(b.y0, float64(bounds.Min.Y)), min(b.y1, float64(bounds.Max.Y))
		for y := int(math.Floor(y0)); float64(y) < y1; y++ {
			part := min(y1, float64(y+1)) - max(y0, float64(y))
			row := sum[(y-bounds.Min.Y)*w:][:w]
			for x := int(math.Floor(x0)); float64(x) < x1; x++ {
				row[x-bounds.Min.X] += float32(part * (min(x1, float64(x+1)) - max(x0, float64(x))))
			}
		}
	}
	m := image.NewAlpha(bounds)
	for i, v := range sum {
		m.Pix[i] = uint8(min(v, 1)*255 + 0.5)
	}
	r.over(m, c)
}

func (r picture) lines(_ string, list [][]point, p pen) {
	r.over(shape(r.img.Rect, func(dc *gg.Context) {
		dc.SetLineWidth(p.width)
		dc.SetLineCapButt()
		dc.SetLineJoinRound()
		dc.SetDash(p.dash...)
		for _, l := range list {
			for i, at := range l {
				if i == 0 {
					dc.MoveTo(at.x, at.y)
				} else {
					dc.LineTo(at.x, at.y)
				}
			}
		}
		dc.Stroke()
	}), p.colour)
}

func (r picture) text(t typeface, x, y float64, a align, s string, c color.NRGBA) {
	f := r.types.faces[t]
	at := fixed.Int26_6(math.Round(x * 64))
	switch a {
	case right:
		at -= f.Measure(s)
	case centre:
		at -= f.Measure(s) / 2
	}
	r.over(f.Mask(fixed.Point26_6{X: at, Y: fixed.I(int(math.Round(y)))}, s), c)
}
