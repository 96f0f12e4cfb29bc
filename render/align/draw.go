package align

import "math"

// Curve is a correlation of features over offsets, the mean of all blocks: what
// the coarse search saw.
type Curve struct {
	First, Step float64   // seconds
	R           []float64 // -1 to 1
}

// SoundCurve returns what the sound's features said; empty when there was none.
func (r *Result) SoundCurve() Curve { return r.curves.sound.mean() }

// PictureCurve returns what the pictures' features said; empty when there were
// none.
func (r *Result) PictureCurve() Curve { return r.curves.picture.mean() }

func (c *curve) mean() Curve {
	out := Curve{First: c.First, Step: c.Step, R: make([]float64, len(c.R))}
	for i, x := range c.R {
		out.R[i] = x / float64(max(1, c.Blocks))
	}
	return out
}

// Part returns what the curve has from one offset to another, seconds.
func (c Curve) Part(from, to float64) Curve {
	lo := min(len(c.R), max(0, int(math.Ceil((from-c.First)/c.Step))))
	hi := min(len(c.R), max(lo, int(math.Floor((to-c.First)/c.Step))+1))
	return Curve{First: c.First + float64(lo)*c.Step, Step: c.Step, R: c.R[lo:hi]}
}
