package measure

import (
	"math"
	"slices"
)

// A raster is the order in which a display draws: captured frame after
// captured frame, row after row, here in steps of some rows. A frame of the
// game that begins at step s of the raster makes a change to the picture before
// in the next whole picture's worth of steps, [s, s+steps), and in no others.
// That is all that tears are: where the changes begin in mid-picture.
//
// Where a frame begins before the change of the one before has run its course,
// two frames have passed between the captured pictures, and moving things have
// gone twice as far.
type raster struct {
	frames, steps int       // captured frames in the window; steps a frame
	llr           []float64 // by step: log likelihood of changed over unchanged
	twice         []float64 // by step: log likelihood of changed twice over once; nil for unknown
	// seam is the evidence, by step, that two frames of the game meet there in
	// one captured picture; nil for none.
	seam []float64
	// opening says that the window opens the capture: the frame before it began
	// a whole captured frame before, unless it was torn.
	opening bool
}

// parseCosts are the prior costs, in nats, of what the parser may assume.
type parseCosts struct {
	tear     float64   // a start in mid-picture
	whole    float64   // a start at the top
	overlap  float64   // a start while the change of the start before still runs
	duration []float64 // by whole captured frames since the start before; the last for all longer
}

// parse returns the steps at which frames of the game began: those which
// explain the evidence best, by dynamic programming over candidate starts, and
// the evidence in nats that they gain over no start at all.
func (r *raster) parse(costs parseCosts) ([]int, float64) {
	total := r.frames * r.steps
	once, twice := r.sums(r.llr), r.sums(r.twice)
	var starts []int
	if math.IsInf(costs.tear, 1) {
		for n := range r.frames {
			starts = append(starts, n*r.steps)
		}
	} else {
		starts = r.candidates(once, twice)
	}
	best := make([]float64, len(starts)) // gain of the best parse whose last start is this
	from := make([]int, len(starts))
	// Starts before far lie so long before that all their frame times cost the same:
	// only the best of them counts.
	far, farthest, longest := 0, -1, len(costs.duration)-1
	for i, s := range starts {
		price := costs.whole
		if s%r.steps != 0 {
			price = costs.tear
		}
		if r.seam != nil && s%r.steps != 0 {
			price -= r.seam[s]
		}
		// As the first start in the window: the one before is unknown, and ends
		// its change wherever that fits best.
		alone := once[s+r.steps] - once[s]
		first := math.Inf(-1)
		for b := 0; b < r.steps; b++ {
			before := 0.0
			if r.opening && b > 0 {
				before = costs.tear
			}
			if b <= s {
				first = max(first, once[b]+alone-before)
			} else {
				first = max(first, once[s+r.steps]+twice[b]-twice[s]-costs.overlap-before)
			}
		}
		best[i], from[i] = first-price, -1
		for ; far < i && (s-starts[far]+r.steps/2)/r.steps >= longest; far++ {
			if farthest < 0 || best[far] >= best[farthest] {
				farthest = far
			}
		}
		for j := i - 1; j >= 0; j-- {
			if j < far {
				j = farthest
			}
			d := s - starts[j]
			if leastFrame*d < r.steps {
				continue
			}
			gain := best[j] - price - costs.duration[min((d+r.steps/2)/r.steps, len(costs.duration)-1)]
			if d >= r.steps {
				gain += alone
			} else {
				end := starts[j] + r.steps
				gain += once[s+r.steps] - once[end] + twice[end] - twice[s] - costs.overlap
			}
			if gain > best[i] {
				best[i], from[i] = gain, j
			}
			if j == farthest {
				break
			}
		}
	}
	last, most := -1, 0.0
	for b := 1; b < r.steps; b++ {
		g := once[min(b, total)]
		if r.opening {
			g -= costs.tear
		}
		most = max(most, g)
	}
	for i := range starts {
		if best[i] > most {
			last, most = i, best[i]
		}
	}
	var out []int
	for i := last; i >= 0; i = from[i] {
		out = append(out, starts[i])
	}
	slices.Reverse(out)
	return out, most
}

// sums returns the sums of v before each step, and one frame beyond the end.
func (r *raster) sums(v []float64) []float64 {
	total := r.frames * r.steps
	sum := make([]float64, total+r.steps+1)
	for i, x := range v {
		sum[i+1] = sum[i] + x
	}
	for i := total + 1; i < len(sum); i++ {
		sum[i] = sum[total]
	}
	return sum
}

// leastFrame is into how many shortest frames a refresh divides: more than 240
// frames a second at 60 Hz are no game's, but an encoder's doing.
const leastFrame = 4

// prominence is the evidence, in nats, by which a turn must stand out to be
// looked at as a tear.
const prominence = 4

// candidates returns the steps at which a start is worth trying: the top of
// every captured frame, and wherever the evidence turns up in a frame or down
// in the next.
func (r *raster) candidates(sums ...[]float64) []int {
	var out []int
	turns := make([]int, 0, 16)
	for n := range r.frames {
		base := n * r.steps
		turns = append(turns[:0], 0)
		for _, sum := range sums {
			turns = valleys(turns, sum[base:base+r.steps+1], 1)
			if n+1 < r.frames {
				turns = valleys(turns, sum[base+r.steps:base+2*r.steps+1], -1)
			}
		}
		if r.seam != nil {
			for t, v := range r.seam[base : base+r.steps] {
				if v > 1 {
					turns = append(turns, t)
				}
			}
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
	// A zig-zag: follow the curve down until it has come up again.
	high, low := sign*v[0], math.Inf(1)
	at := -1
	for i := 1; i < len(v); i++ {
		x := sign * v[i]
		if at < 0 {
			high = max(high, x)
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

// pricesFor returns costs with the prices of tears, of whole starts and of
// starts before the change of the one before has run its course, as often as
// they occur among starts, and the number of tears.
func (r *raster) pricesFor(costs parseCosts, starts []int) (parseCosts, int) {
	torn, early := 0, 0
	for i, s := range starts {
		if s%r.steps != 0 {
			torn++
		}
		if i > 0 && s-starts[i-1] < r.steps {
			early++
		}
	}
	share := func(n int) float64 { return (float64(n) + 0.2) / (float64(len(starts)) + 10) }
	p := share(torn)
	costs.tear = min(tearCost, placeCost-math.Log(p))
	costs.whole = -math.Log(1 - p)
	costs.overlap = min(overlapCost, -math.Log(share(early)))
	return costs, torn
}

// placeCost is what a tear costs when all frames are torn: it may be anywhere.
const placeCost = 3
