package align

import "math"

// curve is a correlation of features over offsets.
type curve struct {
	First, Step float64   // seconds
	R           []float64 // sum of the blocks, -1 to 1 a block
	Blocks      int
}

// curves are the sums of what the blocks' features say.
type curves struct{ sound, picture curve }

// tap makes the matcher sum its correlations.
func (c *curves) tap(m *matcher) {
	m.soundCurve = c.sound.sum(m)
	m.visionCurve = c.picture.sum(m)
}

func (c *curve) sum(m *matcher) func(*block, float64, float64, []float64) {
	return func(_ *block, first, step float64, r []float64) {
		if c.R == nil {
			lo := max(m.low, m.b.from-m.a.from-m.a.length)
			hi := min(m.high, m.b.from+m.b.length-m.a.from)
			c.First, c.Step = lo, step
			c.R = make([]float64, max(1, int(math.Ceil((hi-lo)/step))+1))
		}
		c.Blocks++
		for k, x := range r {
			i := int(math.Round((first-c.First)/step)) + k
			if x > -1 && i >= 0 && i < len(c.R) {
				c.R[i] += x
			}
		}
	}
}
