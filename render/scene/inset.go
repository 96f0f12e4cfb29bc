package scene

import (
	"cmp"
	"image"
	"math"
	"slices"

	"fairframe/layout"
	"fairframe/render/deck"
	"fairframe/render/media/graph"
)

// markPlaces draws frames around what the windows show, in the picture of the whole
// capture. Windows that show the same part share one frame. The frame of a window that
// moves follows it.
func (c *composition) markPlaces(main int, frames int64) {
	whole := c.panes[0]
	avoid := c.screen.OnTop()
	if c.screen.Place == layout.Over {
		avoid = append(avoid, c.screen.Strip)
	}
	var seen []func(k int64) box
	for i, w := range c.windows {
		if w.Input < 0 {
			continue
		}
		at := placeOf(w, c.sizes[i], whole, c.sizes[main])
		if slices.ContainsFunc(seen,
			func(o func(k int64) box) bool { return nearThroughout(o, at, frames) }) {
			continue
		}
		seen = append(seen, at)
		c.places = append(c.places, markedPlace{capture: i, moves: w.Glide != nil, at: at, within: whole.Area,
			avoid: avoid})
	}
	if len(c.places) == 1 {
		c.places[0].capture = -1
	}
}

// markedPlace is what a window shows, as it lies in the picture of the whole capture.
type markedPlace struct {
	capture int // whose line it is framed with; -1: all of them show it
	moves   bool
	at      func(k int64) box
	within  image.Rectangle
	avoid   []image.Rectangle
}

// frame is a place that stands still, in whole pixels.
func (p markedPlace) frame() deck.Frame {
	b := p.at(0)
	n := func(v float64) int { return int(math.Round(v)) }
	return deck.Frame{Area: image.Rect(n(b.x0), n(b.y0), n(b.x1), n(b.y1)), Capture: p.capture,
		Within: p.within, Avoid: p.avoid}
}

// layer draws the frame of a place that moves; nil where nothing of it is seen.
func (p markedPlace) layer(f *Footage, clip *graph.Clip) (*graph.Layer, error) {
	mark := func(k int64) deck.Mark {
		b := p.at(k)
		m := deck.Mark{Shape: deck.Box, X0: b.x0, Y0: b.y0, X1: b.x1, Y1: b.y1}
		if p.capture >= 0 {
			m.Style = cmp.Or(f.Takes[p.capture].Style, p.capture+1)
		}
		return m
	}
	s := deck.MarkSettings{Size: clip.Size, Area: p.within, Avoid: p.avoid, Fonts: f.Fonts}
	drawn, err := deck.NewMoving(s, 0, clip.Frames, func(int64) bool { return true }, mark)
	if err != nil || drawn.Bounds().Empty() {
		return nil, err
	}
	return &graph.Layer{Kind: graph.Alpha, Area: drawn.Bounds(), Draw: drawn.Draw}, nil
}

// box is a rectangle of the output, to fractions of a pixel.
type box struct{ x0, y0, x1, y1 float64 }

// placeOf returns where the picture of a whole capture has what a window shows, by
// the output's frame. Size and to are those of the two captures.
func placeOf(window graph.Pane, size image.Point, whole graph.Pane, to image.Point) func(k int64) box {
	shown := func(int64) box {
		r := window.Shot.Shown()
		return box{float64(r.Min.X), float64(r.Min.Y), float64(r.Max.X), float64(r.Max.Y)}
	}
	if g := window.Glide; g != nil {
		shown = func(k int64) box {
			x, y, scale := g.At(float64(k))
			w, h := float64(g.Pane.X)/2/scale, float64(g.Pane.Y)/2/scale
			return box{x - w, y - h, x + w, y + h}
		}
	}
	return func(k int64) box {
		b := shown(k)
		put := func(x, y float64) (float64, float64) {
			x, y = max(0, min(x, float64(size.X))), max(0, min(y, float64(size.Y)))
			return whole.Place(k, x*float64(to.X)/float64(size.X), y*float64(to.Y)/float64(size.Y))
		}
		b.x0, b.y0 = put(b.x0, b.y0)
		b.x1, b.y1 = put(b.x1, b.y1)
		return b
	}
}

// nearThroughout reports whether two places differ by no more than rounding, all
// the clip long.
func nearThroughout(a, b func(k int64) box, frames int64) bool {
	const most = 200
	for k := int64(0); k < frames; k += max(1, frames/most) {
		p, q := a(k), b(k)
		for _, d := range []float64{p.x0 - q.x0, p.y0 - q.y0, p.x1 - q.x1, p.y1 - q.y1} {
			if math.Abs(d) > 2 {
				return false
			}
		}
	}
	return true
}
