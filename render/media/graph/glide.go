package graph

import (
	"fmt"
	"image"
	"math"
	"strconv"

	ffmpeg "github.com/u2takey/ffmpeg-go"

	"fairframe/layout"
	"fairframe/render/media"
)

// Place returns where a place of the capture, in its pixels, lies in the output at
// output frame k; it may lie outside of the pane.
func (p Pane) Place(k int64, x, y float64) (ox, oy float64) {
	if p.Glide != nil {
		ox, oy = p.Glide.Place(k, x, y)
	} else {
		ox, oy = p.Shot.Place(x, y)
	}
	return ox + float64(p.Area.Min.X), oy + float64(p.Area.Min.Y)
}

// moved makes the pane's windows those of a clip that begins at frame k.
func (p *Pane) moved(k int64) {
	if p.Glide != nil {
		p.Glide = p.Glide.Moved(k)
	}
	if p.Subtrahend != nil && p.Subtrahend.Glide != nil {
		less := *p.Subtrahend
		less.Glide = less.Glide.Moved(k)
		p.Subtrahend = &less
	}
}

// gliding cuts the window of a pane that moves. Integer crops and zooms step
// visibly; the perspective filter takes four corners anew for each frame, to
// 1/256 of a pixel. It neither smooths what it makes smaller nor changes the
// picture's size, so it works on a canvas that holds all the glide shows, never
// makes anything smaller, and what is to be smaller is scaled by a constant
// afterwards, with the kernel.
func (g *graph) gliding(s *ffmpeg.Stream, c media.Capture, p Pane) *ffmpeg.Stream {
	v := canvasOf(c.DisplaySize(), p)
	convert, format, _ := c.CodeOptions(g.to)
	flags := "flags=" + kernels[p.Kernel] + "+accurate_rnd+full_chroma_int+full_chroma_inp"
	s = g.square(s, c, p.Kernel)
	if v.crop.Size() != layout.Canvas(c.DisplaySize()) {
		s = g.filter(s, "crop", crop(v.crop)...)
	}
	// Without subsampling, so that the colours go where the luma goes.
	s = g.filter(s, "scale", strconv.Itoa(v.scaled.X), strconv.Itoa(v.scaled.Y), flags, convert)
	if c.Colour.Differs(g.to.Colour) || c.Colour.KeepsFullRange(g.to) {
		s = g.filter(s, "format", format)
	}
	s = g.apply(s, c.Colour.Filters(g.to, g.to.Dense)...)
	s = g.filter(s, "format", g.to.Dense)
	if v.scaled != v.size {
		s = g.filter(s, "pad", strconv.Itoa(v.size.X), strconv.Itoa(v.size.Y), strconv.Itoa(v.at.X), strconv.Itoa(v.at.Y), "black")
	}
	interpolation := "interpolation=cubic"
	if p.Kernel == "nearest" {
		interpolation = "interpolation=linear"
	}
	s = g.perspective(s, append(v.corners(p.Glide), interpolation, "sense=source", "eval=frame")...)
	shown := p.Shot.Pane.Mul(v.finer)
	if shown != v.size {
		s = g.filter(s, "crop", crop(image.Rectangle{Max: shown})...)
	}
	if p.Kernel == "nearest" {
		flags = "flags=area+accurate_rnd+full_chroma_int+full_chroma_inp" // true pixels left out would jump
	}
	s = g.filter(s, "scale", strconv.Itoa(p.Shot.Pane.X), strconv.Itoa(p.Shot.Pane.Y), flags)
	s = g.filter(s, "format", g.to.Pixels)
	s = g.filter(s, "setsar", "1")
	return g.tagged(s)
}

// perspective applies the filter of that name, which works on 8 bits alone. Of ten
// bits it moves four pictures of 8, floor((v+i)/4) for i from 0 to 3, whose sum is v
// (Hermite's identity), so that their mean has the ten bits again.
func (g *graph) perspective(s *ffmpeg.Stream, options ...string) *ffmpeg.Stream {
	if g.to.Bytes == 1 {
		return g.filter(s, "perspective", options...)
	}
	parts := g.branches(s, 4)
	for i, part := range parts {
		// A multiple of 4 loses nothing when it is made 8 bits.
		fourth := fmt.Sprintf("=min(1020,floor((val+%d)/4)*4)", i)
		part = g.filter(part, "lutyuv", "y"+fourth, "u"+fourth, "v"+fourth)
		part = g.filter(part, "format", "yuv444p")
		part = g.filter(part, "perspective", options...)
		parts[i] = g.filter(part, "format", g.to.Dense)
	}
	return g.join(parts, "mix", "inputs=4")
}

// canvas is what a glide is taken from.
type canvas struct {
	crop   image.Rectangle // of the capture
	scaled image.Point     // size of the crop on the canvas
	at     image.Point     // of the crop on the canvas; around it is black
	size   image.Point
	finer  int // how many times as fine as the output the glide is taken
}

// How much finer than a capture the canvas is made for true pixels, and how large
// that may make it, in pixels: three bytes of memory for each, several times over.
const (
	mostTruePixels = 4
	mostCanvas     = 1 << 25
)

func canvasOf(size image.Point, p Pane) canvas {
	least, most := p.Glide.Scales()
	density := min(1, most)
	if p.Kernel == "nearest" {
		density = math.Max(density, math.Min(math.Ceil(most), mostTruePixels))
		x0, y0, x1, y1 := p.Glide.Bounds()
		for density >= 2 && (x1-x0)*(y1-y0)*density*density > mostCanvas {
			density--
		}
	}
	v := canvas{finer: max(1, int(math.Ceil(min(density, most)/least-0.05)))}
	const margin = 8
	x0, y0, x1, y1 := p.Glide.Bounds()
	v.crop = image.Rect(even(x0-margin), even(y0-margin), even(x1+margin)+2, even(y1+margin)+2).
		Intersect(image.Rectangle{Max: layout.Canvas(size)})
	v.scaled = image.Pt(scaledBy(v.crop.Dx(), density), scaledBy(v.crop.Dy(), density))
	// Room for what lies beyond the capture.
	v.at = image.Pt(beyond(-x0*density), beyond(-y0*density))
	v.size = v.at.Add(v.scaled).Add(image.Pt(beyond((x1-float64(size.X))*density), beyond((y1-float64(size.Y))*density)))
	v.size = image.Pt(max(v.size.X, p.Shot.Pane.X*v.finer), max(v.size.Y, p.Shot.Pane.Y*v.finer))
	return v
}

func even(x float64) int { return int(math.Floor(x/2)) * 2 }

func scaledBy(n int, d float64) int { return max(2, int(math.Round(float64(n)*d/2))*2) }

// beyond is how much black a canvas needs where a window reaches so far beyond
// the capture.
func beyond(x float64) int {
	if x <= 0 {
		return 0
	}
	return even(x) + 4
}

// corners are the filter's corners: where on the canvas those of its output lie,
// each coordinate an expression of the frame's number.
func (v canvas) corners(g *layout.Glide) []string {
	var x, y [2]string
	for end := range 2 {
		x[end] = v.along(g, false, end == 1)
		y[end] = v.along(g, true, end == 1)
	}
	return []string{x[0], y[0], x[1], y[0], x[0], y[1], x[1], y[1]}
}

// along is where the canvas has what the output's near or far edge shows. The
// filter counts from the middle of the first pixel: output pixel n lies at
// near + n*(far-near)/size.
func (v canvas) along(g *layout.Glide, down, far bool) string {
	pane, size, scaled, cropped, at, origin := g.Pane.X, v.size.X, v.scaled.X, v.crop.Dx(), v.at.X, v.crop.Min.X
	if down {
		pane, size, scaled, cropped, at, origin = g.Pane.Y, v.size.Y, v.scaled.Y, v.crop.Dy(), v.at.Y, v.crop.Min.Y
	}
	density, finer := float64(scaled)/float64(cropped), float64(v.finer)
	n := density * (0.5/finer - float64(pane)/2)
	if far {
		n += float64(size) * density / finer
	}
	return expression(g.Along(down, density, n, float64(at)-0.5-density*float64(origin)))
}

// expression writes segments as an expression of ffmpeg's, a tree of comparisons
// over them. on is the number of the frame, from 1.
func expression(list []layout.Segment) string {
	number := func(x float64) string { return strconv.FormatFloat(x, 'f', 9, 64) }
	if len(list) > 1 {
		half := len(list) / 2
		return fmt.Sprintf("if(lt(on,%s),%s,%s)", number(list[half].Begin+1), expression(list[:half]), expression(list[half:]))
	}
	s := list[0]
	eased := fmt.Sprintf("(0*st(0,clip((on-%s)/%s,0,1))+ld(0)*ld(0)*(3-2*ld(0)))", number(s.Begin+1), number(s.End-s.Begin))
	if s.Ratio != 1 {
		eased = fmt.Sprintf("exp(%s*%s)", number(math.Log(s.Ratio)), eased)
	}
	return fmt.Sprintf("%s+%s*%s", number(s.From), number(s.By), eased)
}
