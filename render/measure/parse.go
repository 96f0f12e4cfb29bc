package measure

import (
	"math"
	"slices"
)

// A raster is the order in which a display draws: captured frame after
// captured frame, band after band. A frame of the game that begins at step s
// of the raster makes a change to the picture before in the next whole
// picture's worth of steps, [s, s+steps), and in no others. That is all that
// tears are: where the changes begin in mid-picture.
type raster struct {
	frames, steps int       // captured frames in the window; bands a frame
	llr           []float64 // by step: log likelihood of changed over unchanged
}

// parseCosts are the prior costs, in nats, of what the parser may assume.
type parseCosts struct {
	tear     float64   // a start in mid-picture
	overlap  float64   // a start while the change of the start before still runs
	duration []float64 // by whole captured frames since the start before; the last for all longer
}

// parse returns the steps at which frames of the game began: those which
// explain the evidence best, by dynamic programming over candidate starts.
func (r *raster) parse(costs parseCosts) []int {
	total := r.frames * r.steps
	// sum[i] is the evidence of the steps before i.
	sum := make([]float64, total+r.steps+1)
	for i, v := range r.llr {
		sum[i+1] = sum[i] + v
	}
	for i := total + 1; i < len(sum); i++ {
		sum[i] = sum[total]
	}
	starts := r.candidates(sum)
	best := make([]float64, len(starts)) // gain of the best parse whose last start is this
	from := make([]int, len(starts))
	for i, s := range starts {
		price := 0.0
		if s%r.steps != 0 {
			price = costs.tear
		}
		// As the first start in the window: the one before is unknown, and may
		// still change the steps up to s, whichever fits better.
		first := 0.0
		for b := 0; b <= min(s, r.steps); b++ {
			first = max(first, sum[b])
		}
		best[i], from[i] = first-price, -1
		for j := i - 1; j >= 0; j-- {
			d := s - starts[j]
			gain := best[j] + sum[min(starts[j]+r.steps, s)] - sum[starts[j]] - price
			if d < r.steps {
				gain -= costs.overlap
			}
			gain -= costs.duration[min((d+r.steps/2)/r.steps, len(costs.duration)-1)]
			if gain > best[i] {
				best[i], from[i] = gain, j
			}
		}
	}
	last, most := -1, 0.0
	for b := 0; b <= r.steps; b++ {
		most = max(most, sum[min(b, total)])
	}
	for i, s := range starts {
		if g := best[i] + sum[s+r.steps] - sum[s]; g > most {
			last, most = i, g
		}
	}
	var out []int
	for i := last; i >= 0; i = from[i] {
		out = append(out, starts[i])
	}
	slices.Reverse(out)
	return out
}

// prominence is the evidence, in nats, by which a turn from unchanged to
// changed must stand out to be looked at as a tear.
const prominence = 4

// candidates returns the steps at which a start is worth trying: the top of
// every captured frame, and wherever the evidence turns, from unchanged to
// changed in a frame or from changed to unchanged in the next.
func (r *raster) candidates(sum []float64) []int {
	var out []int
	turns := make([]int, 0, 16)
	for n := range r.frames {
		base := n * r.steps
		turns = append(turns[:0], 0)
		turns = valleys(turns, sum[base:base+r.steps+1], 1)
		if n+1 < r.frames {
			turns = valleys(turns, sum[base+r.steps:base+2*r.steps+1], -1)
		}
		slices.Sort(turns)
		for _, t := range slices.Compact(turns) {
			if t < r.steps {
				out = append(out, base+t)
			}
		}
	}
	return out
}

// valleys appends the inner positions of sign·v at which it has a minimum that
// is prominent on both sides.
func valleys(out []int, v []float64, sign float64) []int {
	// A zig-zag: follow the curve down until it has come up again by prominence.
	high, low := sign*v[0], math.Inf(1)
	at := -1
	for i := 1; i < len(v); i++ {
		x := sign * v[i]
		if at < 0 {
			if x > high {
				high = x
			}
			if high-x >= prominence {
				at, low = i, x
			}
			continue
		}
		if x < low {
			at, low = i, x
		}
		if x-low >= prominence {
			out = append(out, at)
			at, high = -1, x
		}
	}
	return out
}
