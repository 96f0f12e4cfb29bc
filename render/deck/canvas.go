package deck

import (
	"image"
	"image/color"

	"github.com/fogleman/gg"
	"golang.org/x/image/math/fixed"

	"fairframe/fonts"
)

// canvas is what is drawn once: straight RGBA in the strip's coordinates. gg
// and the fonts make coverage masks, and the canvas lays colours through them;
// so flat colours stay exact, also where the ground is translucent, which
// premultiplied 8-bit pixels could not promise.
type canvas struct{ img *image.NRGBA }

func newCanvas(size image.Point) *canvas { return &canvas{image.NewNRGBA(image.Rectangle{Max: size})} }

func (c *canvas) clone() *canvas {
	img := *c.img
	img.Pix = append([]byte(nil), c.img.Pix...)
	return &canvas{&img}
}

// fill sets a rectangle, alpha included.
func (c *canvas) fill(r image.Rectangle, col color.NRGBA) {
	r = r.Intersect(c.img.Rect)
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			c.img.SetNRGBA(x, y, col)
		}
	}
}

// over lays an opaque colour through a mask.
func (c *canvas) over(m *image.Alpha, col color.NRGBA) {
	r := m.Rect.Intersect(c.img.Rect)
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			v := m.Pix[m.PixOffset(x, y)]
			if v == 0 {
				continue
			}
			p := c.img.Pix[c.img.PixOffset(x, y):][:4:4]
			var w uint8
			w, p[3] = cover(p[3], v)
			p[0], p[1], p[2] = lerp(p[0], col.R, w), lerp(p[1], col.G, w), lerp(p[2], col.B, w)
		}
	}
}

// shape returns the mask of what draw fills or strokes with the context's
// colour inside r. The context's origin is the strip's.
func shape(r image.Rectangle, draw func(dc *gg.Context)) *image.Alpha {
	m := image.NewAlpha(r)
	if r.Empty() {
		return m
	}
	rgba := image.NewRGBA(image.Rectangle{Max: r.Size()})
	dc := gg.NewContextForRGBA(rgba)
	dc.Translate(float64(-r.Min.X), float64(-r.Min.Y))
	dc.SetColor(color.White)
	draw(dc)
	for i := range m.Pix {
		m.Pix[i] = rgba.Pix[4*i+3]
	}
	return m
}

// swatch draws a piece of the line of style i along the longer side of r.
func (c *canvas) swatch(r image.Rectangle, i int, em float64) {
	width, length := r.Dy(), r.Dx()
	upright := r.Dy() > r.Dx()
	if upright {
		width, length = length, width
	}
	c.over(shape(r, func(dc *gg.Context) {
		dc.SetLineWidth(float64(width))
		dc.SetLineCapButt()
		dc.SetDash(fitDash(dashes[i], em/10, float64(length))...)
		if upright {
			x := float64(r.Min.X) + float64(r.Dx())/2
			dc.DrawLine(x, float64(r.Min.Y), x, float64(r.Max.Y))
		} else {
			y := float64(r.Min.Y) + float64(r.Dy())/2
			dc.DrawLine(float64(r.Min.X), y, float64(r.Max.X), y)
		}
		dc.Stroke()
	}), capture[i])
}

// fitDash scales a pattern so that a line of that length begins and ends with a
// whole mark.
func fitDash(pattern []float64, scale, length float64) []float64 {
	if pattern == nil {
		return nil
	}
	first, period := pattern[0]*scale, 0.0
	for _, v := range pattern {
		period += v * scale
	}
	n := max(1, float64(int((length-first)/period+0.5))) // repetitions
	k := scale * length / (first + n*period)
	var fitted []float64
	for _, v := range pattern {
		fitted = append(fitted, v*k)
	}
	return fitted
}

// align says which end of a text stands at its x.
type align int

const (
	left align = iota
	right
	centre
)

// text sets a line with its capitals centred on the height of r, at the left,
// right or middle of r. It returns the end of the text in 26.6.
func (c *canvas) text(f *fonts.Face, r image.Rectangle, a align, s string, col color.NRGBA) fixed.Int26_6 {
	return c.textAt(f, fixed.I(alignedX(r, a)), r, a, s, col)
}

// textIn is text that leaves all pixels outside of r as they are, whatever the
// glyphs of the user's font do.
func (c *canvas) textIn(f *fonts.Face, r image.Rectangle, a align, s string, col color.NRGBA) fixed.Int26_6 {
	return c.within(r).text(f, r, a, s, col)
}

// within returns the part of the canvas inside r: the same picture, in the same
// coordinates.
func (c *canvas) within(r image.Rectangle) *canvas {
	return &canvas{c.img.SubImage(r).(*image.NRGBA)}
}

func alignedX(r image.Rectangle, a align) int {
	switch a {
	case right:
		return r.Max.X
	case centre:
		return (r.Min.X + r.Max.X) / 2
	}
	return r.Min.X
}

func (c *canvas) textAt(f *fonts.Face, x fixed.Int26_6, r image.Rectangle, a align, s string,
	col color.NRGBA) fixed.Int26_6 {
	switch a {
	case right:
		x -= f.Measure(s)
	case centre:
		x -= f.Measure(s) / 2
	}
	dot := fixed.Point26_6{X: x, Y: baseline(f, r)}
	c.over(f.Mask(dot, s), col)
	return x + f.Measure(s)
}

// baseline returns the whole-pixel baseline that centres capitals and digits in
// the height of r. A whole pixel keeps feet of letters crisp.
func baseline(f *fonts.Face, r image.Rectangle) fixed.Int26_6 {
	mid := fixed.I(r.Min.Y+r.Max.Y) / 2
	return fixed.I((mid + f.CapHeight()/2).Round())
}

// planes converts the part r (even) of the canvas.
func (c *canvas) planes(r image.Rectangle, alpha bool) planes {
	w, h := r.Dx(), r.Dy()
	p := planesOf(make([]byte, frameBytes(w, h, alpha)), w, h, alpha)
	for y := 0; y < h; y += 2 {
		for x := 0; x < w; x += 2 {
			var sum, plain [3]int64
			var weight int64
			for _, d := range [4]image.Point{{0, 0}, {1, 0}, {0, 1}, {1, 1}} {
				px := c.img.Pix[c.img.PixOffset(r.Min.X+x+d.X, r.Min.Y+y+d.Y):][:4:4]
				i := (y+d.Y)*w + x + d.X
				p.y[i], _, _ = encodeSum(int64(px[0]), int64(px[1]), int64(px[2]), 1)
				if alpha {
					p.a[i] = px[3]
				}
				for j := range sum {
					sum[j] += int64(px[j]) * int64(px[3])
					plain[j] += int64(px[j])
				}
				weight += int64(px[3])
			}
			if weight == 0 {
				sum, weight = plain, 4
			}
			i := y/2*(w/2) + x/2
			_, p.u[i], p.v[i] = encodeSum(sum[0], sum[1], sum[2], weight)
		}
	}
	return p
}
