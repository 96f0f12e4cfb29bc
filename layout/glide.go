package layout

import (
	"fmt"
	"image"
	"math"
)

// Stop is where a window that moves stands at one frame of the clip.
type Stop struct {
	Frame float64 // of the clip; need not be whole
	Shot  Shot    // of the same capture and pane
}

// Glide is a window that moves from stop to stop. It rests at the first one until
// its frame and at the last one from its frame on. In between it sets off and
// arrives gently (smoothstep, 3u²-2u³), its scale changes by equal ratios, and
// all of the picture runs towards or away from one fixed point.
type Glide struct {
	Pane  image.Point
	stops []stop
}

// stop is a Stop in numbers: the place of the capture that lies in the middle of
// the pane, and how many capture pixels an output pixel covers across.
type stop struct{ frame, x, y, q float64 }

// NewGlide returns the glide through two or more stops, in the order of their
// frames.
func NewGlide(stops []Stop) (*Glide, error) {
	if len(stops) < 2 {
		return nil, fmt.Errorf("layout: a glide of %d stops", len(stops))
	}
	g := &Glide{Pane: stops[0].Shot.Pane}
	for i, s := range stops {
		if s.Shot.Pane != g.Pane || i > 0 && s.Frame <= stops[i-1].Frame {
			return nil, fmt.Errorf("layout: stop %d of a glide at frame %v in a pane of %v",
				i+1, s.Frame, s.Shot.Pane)
		}
		x0, y0 := s.Shot.Place(0, 0)
		x1, y1 := s.Shot.Place(1, 1)
		one := stop{frame: s.Frame, q: 1 / (x1 - x0)}
		one.x = (float64(g.Pane.X)/2 - x0) / (x1 - x0)
		one.y = (float64(g.Pane.Y)/2 - y0) / (y1 - y0)
		g.stops = append(g.stops, one)
	}
	return g, nil
}

// zooms reports whether the scale changes between two stops.
func zooms(a, b stop) bool { return math.Abs(a.q-b.q) > 1e-9*(a.q+b.q) }

// At returns the place of the capture in the middle of the pane at frame k, and
// the scale, in output pixels for each capture pixel.
func (g *Glide) At(k float64) (x, y, scale float64) {
	i := 0
	for i < len(g.stops)-2 && k >= g.stops[i+1].frame {
		i++
	}
	a, b := g.stops[i], g.stops[i+1]
	u := min(max((k-a.frame)/(b.frame-a.frame), 0), 1)
	u = u * u * (3 - 2*u)
	q, v := a.q, u
	if zooms(a, b) {
		q = a.q * math.Pow(b.q/a.q, u)
		v = (a.q - q) / (a.q - b.q)
	}
	return a.x + (b.x-a.x)*v, a.y + (b.y-a.y)*v, 1 / q
}

// Place returns where a place of the capture, in its pixels, lies in the pane at
// frame k; it may lie outside.
func (g *Glide) Place(k int64, x, y float64) (px, py float64) {
	cx, cy, scale := g.At(float64(k))
	return float64(g.Pane.X)/2 + (x-cx)*scale, float64(g.Pane.Y)/2 + (y-cy)*scale
}

// Segment is a part of a glide from one frame to another, over which any linear
// function of the place in the middle and of the capture pixels to an output pixel
// is From + By*e: with the eased share u of the segment that has passed, e is u
// where the scale stays (Ratio 1), and Ratio to the power of u where it changes.
type Segment struct {
	Begin, End float64
	Ratio      float64
	From, By   float64
}

// Along returns the glide's segments for place*p + pixels*n + c, with the place
// across, or down.
func (g *Glide) Along(down bool, p, n, c float64) []Segment {
	var list []Segment
	for i, b := range g.stops[1:] {
		a := g.stops[i]
		from, to := a.x, b.x
		if down {
			from, to = a.y, b.y
		}
		s := Segment{Begin: a.frame, End: b.frame, Ratio: 1, From: p*from + n*a.q + c, By: p * (to - from)}
		if zooms(a, b) {
			// place = from + (to-from)*(a.q-q)/(a.q-b.q), with q = a.q*e
			slope := (to - from) / (a.q - b.q)
			s.Ratio = b.q / a.q
			s.From = p*(from+slope*a.q) + c
			s.By = (n - p*slope) * a.q
		}
		list = append(list, s)
	}
	return list
}

// Moved returns the glide as it is from frame k on.
func (g *Glide) Moved(k int64) *Glide {
	out := &Glide{Pane: g.Pane}
	for _, s := range g.stops {
		s.frame -= float64(k)
		out.stops = append(out.stops, s)
	}
	return out
}

// Stops returns the scale at each stop.
func (g *Glide) Stops() []float64 {
	list := make([]float64, len(g.stops))
	for i, s := range g.stops {
		list[i] = 1 / s.q
	}
	return list
}

// Scales returns the least and the greatest scale.
func (g *Glide) Scales() (least, most float64) {
	least = math.Inf(1)
	for _, s := range g.stops {
		least, most = min(least, 1/s.q), max(most, 1/s.q)
	}
	return least, most
}

// Bounds returns what the glide shows of the capture's plane, in its pixels: a
// rectangle that may reach beyond the capture.
func (g *Glide) Bounds() (x0, y0, x1, y1 float64) {
	x0, y0, x1, y1 = math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, s := range g.stops {
		w, h := s.q*float64(g.Pane.X)/2, s.q*float64(g.Pane.Y)/2
		x0, x1 = min(x0, s.x-w), max(x1, s.x+w)
		y0, y1 = min(y0, s.y-h), max(y1, s.y+h)
	}
	return x0, y0, x1, y1
}
