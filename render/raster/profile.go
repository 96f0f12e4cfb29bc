package raster

import (
	"image"
	"math"
	"slices"

	"gonum.org/v1/gonum/dsp/window"
)

const (
	// darkest and brightest are the luma codes between which a sample is not cut off. Both
	// ranges of codes keep to them.
	darkest, brightest = 20, 230
	// largestStep is the second difference from which on it counts no more: an edge says
	// less of the scaling than its height.
	largestStep = 24
	// flattest is how much a sample must differ from its neighbours to count at all.
	flattest = 2
	// leastStretch is how many pixels of a line must count for it to be used.
	leastStretch = 64
	// linesOf is how many lines of a picture are tried along each axis.
	linesOf = 16
)

// An axis is the direction that lines run in.
type axis int

const (
	across axis = iota
	down
)

// A profile is the mean size of the second difference by place along an axis, in
// logarithms.
type profile struct {
	sum, count []float64
}

// a line is a stretch of samples of a picture along an axis.
type line struct {
	first   int // the place of the first
	samples []byte
}

// A picture is what of one picture of a capture is needed: its profiles and lines.
type picture struct {
	profiles [2]profile
	lines    [2][]line
}

// study reads a picture's luma of size w by h. Nothing outside of region counts, nor
// what lies in ignore.
func study(luma []byte, size image.Point, region image.Rectangle, ignore []image.Rectangle) *picture {
	p := &picture{}
	for a := range p.profiles {
		p.profiles[a], p.lines[a] = studyAxis(luma, size, region, ignore, axis(a))
	}
	return p
}

func studyAxis(luma []byte, size image.Point, region image.Rectangle, ignore []image.Rectangle, a axis) (profile, []line) {
	from, to, step, stride := region.Min, region.Max, 1, size.X
	length := size.X
	turn := func(r image.Rectangle) image.Rectangle { return r }
	if a == down {
		turn = func(r image.Rectangle) image.Rectangle { return image.Rect(r.Min.Y, r.Min.X, r.Max.Y, r.Max.X) }
		r := turn(region)
		from, to, step, stride, length = r.Min, r.Max, size.X, 1, size.Y
	}
	p := profile{make([]float64, length), make([]float64, length)}
	best := make([]line, linesOf)
	activity := make([]float64, linesOf)
	for y := from.Y; y < to.Y; y++ {
		lo, hi := from.X, to.X
		for _, r := range ignore { // the longer side of what is left counts
			r = turn(r)
			if y < r.Min.Y || y >= r.Max.Y || r.Max.X <= lo || r.Min.X >= hi {
				continue
			}
			if r.Min.X-lo >= hi-r.Max.X {
				hi = r.Min.X
			} else {
				lo = r.Max.X
			}
		}
		if hi-lo < leastStretch {
			continue
		}
		sum := 0.0
		at := y*stride + lo*step
		before, here := int(luma[at]), int(luma[at+step])
		for x := lo + 1; x < hi-1; x++ {
			at += step
			next := int(luma[at+step])
			d := before - 2*here + next
			if d < 0 {
				d = -d
			}
			slope := next - before
			if slope < 0 {
				slope = -slope
			}
			if here > darkest && here < brightest && slope+d >= flattest {
				v := logs[min(d, largestStep)]
				p.sum[x] += v
				p.count[x]++
				sum += v
			}
			before, here = here, next
		}
		if band := (y - from.Y) * linesOf / (to.Y - from.Y); sum > activity[band] {
			activity[band] = sum
			best[band] = line{first: lo, samples: cut(luma, y*stride+lo*step, step, hi-lo)}
		}
	}
	return p, slices.DeleteFunc(best, func(l line) bool { return l.samples == nil })
}

// logs are the logarithms of 1 more than each second difference that counts.
var logs = func() (t [largestStep + 1]float64) {
	for i := range t {
		t[i] = math.Log1p(float64(i))
	}
	return t
}()

func cut(luma []byte, at, step, n int) []byte {
	samples := make([]byte, n)
	for i := range samples {
		samples[i] = luma[at+i*step]
	}
	return samples
}

func (p profile) add(q profile) {
	for i := range p.sum {
		p.sum[i] += q.sum[i]
		p.count[i] += q.count[i]
	}
}

// spectrum is the height of the profile's spectrum at frequency i/n of its n places, for
// i up to n/2, over the usual height near that frequency.
func (p profile) spectrum() []float64 {
	n := len(p.sum)
	first := slices.IndexFunc(p.count, func(v float64) bool { return v > 0 })
	if first < 0 {
		return make([]float64, n/2+1)
	}
	last := n
	for p.count[last-1] == 0 {
		last--
	}
	values := make([]float64, last-first)
	for i := range values {
		if c := p.count[first+i]; c > 0 {
			values[i] = p.sum[first+i] / c
		} else if i > 0 {
			values[i] = values[i-1]
		}
	}
	values = flatten(values)
	window.Hann(values)
	// Frequencies of the whole line, so that those of all rasters are among them.
	full := make([]float64, n)
	copy(full[first:], values)
	heights := magnitudes(full)
	out := make([]float64, len(heights))
	for i := range heights {
		near := slices.Clone(heights[max(0, i-30):min(len(heights), i+31)])
		slices.Sort(near)
		if m := near[len(near)/2]; m > 0 {
			out[i] = heights[i] / m
		}
	}
	return out
}
