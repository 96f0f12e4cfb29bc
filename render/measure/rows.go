package measure

import (
	"math"
	"slices"
)

// A rowWindow looks at a window's rows for tears, in finer steps than bands,
// and at how far things moved beside how far they do at other times: it tells
// rows that show the same frame again from rows one frame on, and those from
// rows two frames on.
type rowWindow struct {
	*window
	group int // rows a step
	// seams and turns are by frame and row, in spreads; see findSeams and findTurns.
	seams, turns [][]float32
	// dips says which groups of rows are at times without change where they
	// usually have some, and dipping how many do.
	dips    []bool
	dipping int
}

// referenceReach is how many captured frames on either side say how far things
// move at the time, and referenceHop how often that is looked at.
const (
	referenceReach = 16
	referenceHop   = 8
)

// leastTwice and mostTwice bound the logarithm, base 2, of how much more two
// frames' motion changes a row than one's: less than 1, since differences grow
// ever slower with distance.
const leastTwice, mostTwice = 0.3, 1

// newRowWindow prepares w's rows. It returns nil when they are too few.
func newRowWindow(w *window, c *comparer) *rowWindow {
	rows := c.region.Dy()
	group := min(max(c.size.Y/180*2, 2), cellSize)
	r := &rowWindow{window: &window{obs: w.obs, views: w.views, exact: w.exact, opens: w.opens}, group: group}
	r.bands = rows / group
	r.above = (c.region.Min.Y + group - 1) / group
	r.steps = r.above + r.bands + (c.size.Y-c.region.Max.Y+group-1)/group
	if r.bands < 8 {
		return nil
	}
	n := len(w.obs)
	r.wholeRaw, r.whole, r.wholeFloor = w.wholeRaw, w.whole, w.wholeFloor
	r.level[meanView] = make([][]float64, r.bands)
	r.floor[meanView] = make([]float64, r.bands)
	r.dips = make([]bool, r.bands)
	sorted := make([]float64, 0, n)
	for g := range r.bands {
		x := make([]float64, n)
		for i, o := range w.obs {
			for _, v := range o.row[g*group : (g+1)*group] {
				x[i] += float64(v)
			}
			x[i] /= float64(group)
		}
		sorted = append(sorted[:0], x...)
		offset := 0.03*quantile(sorted, 0.8) + 1e-4
		for i := range x {
			x[i] = math.Log2(x[i] + offset)
		}
		r.level[meanView][g] = relate(x)
		dips := 0
		for _, v := range r.level[meanView][g] {
			if v < -1 {
				dips++
			}
		}
		if r.dips[g] = dips >= 2; r.dips[g] {
			r.dipping++
		}
		r.floor[meanView][g] = 0.2
	}
	r.seams, r.turns = w.findSeams(), w.findTurns()
	return r
}

// relate returns x less what is usual around, where "usual" is the middle of
// those values that are not far below the others.
func relate(x []float64) []float64 {
	out := make([]float64, len(x))
	near := make([]float64, 0, 2*referenceReach+referenceHop)
	for i := 0; i < len(x); i += referenceHop {
		end := min(i+referenceHop, len(x))
		near = append(near[:0], x[max(0, i-referenceReach):min(len(x), end+referenceReach)]...)
		top := nth(near, len(near)*8/10)
		k := 0
		for _, v := range near {
			if v < top-1.5 {
				k++
			}
		}
		usual := nth(near, (k+len(near))/2)
		for j := i; j < end; j++ {
			out[j] = x[j] - usual
		}
	}
	return out
}

// decide finds the starts from rows.
func (r *rowWindow) decide(costs parseCosts) verdict {
	v := r.settleRows(costs, false)
	if t := r.settleRows(costs, true); r.streams(t.starts) {
		v, v.streams = t, true
	}
	return v
}

func (r *rowWindow) settleRows(costs parseCosts, twice bool) verdict {
	labels := r.uniform(false)
	ras := &raster{frames: len(r.obs), steps: r.steps, llr: make([]float64, len(r.obs)*r.steps), twice: make([]float64, len(r.obs)*r.steps), opening: r.opens, seam: r.seamEvidence()}
	// To begin with, what is nearer to the quietest than to the usual, and more
	// than an octave below that, is unchanged.
	for g := range r.bands {
		x := r.level[meanView][g]
		limit := min(-1, quantile(slices.Clone(x), 0.05)/2)
		for i, v := range x {
			labels[r.above+g][i] = v > limit
		}
	}
	var v verdict
	for range 4 {
		if twice {
			r.twice(labels, ras.twice)
		}
		for g := range r.bands {
			if r.dips[g] {
				r.weigh(g, labels[r.above+g], ras.llr)
				continue
			}
			// Either always changing or never: it cannot tell. Where no other
			// rows can, the picture is taken to change all the time.
			v := 0.0
			if r.dipping*10 < r.bands {
				v = 0.5
			}
			for n := range r.obs {
				ras.llr[n*r.steps+r.above+g] = v
			}
		}
		starts, score := ras.parse(costs)
		labels = r.labelsOf(starts)
		costs.duration = durationCosts(starts, r.steps, len(costs.duration))
		costs, v.torn = ras.pricesFor(costs, starts)
		if !twice {
			costs.overlap = overlapCost // what nothing speaks for
		}
		same := slices.Equal(starts, v.starts)
		v.starts, v.score = starts, score
		if same {
			break
		}
	}
	v.llr = ras.llr
	v.sure = r.certainty(ras, labels)
	v.gain = ras.agreement(labels)
	for i := 1; i < len(v.starts); i++ {
		if s := v.starts[i]; v.torn*2 > len(v.starts) && s%r.steps == 0 && s-v.starts[i-1] == r.steps {
			// Where all else is torn, a frame that begins at the top, and exactly a
			// picture after the one before, is one that nothing shows the row of.
			v.sure[s/r.steps] = min(v.sure[s/r.steps], 0)
		}
	}
	if v.torn > 0 {
		// What would be lost if no frame were torn?
		costs.tear, costs.whole = math.Inf(1), 0
		_, untorn := ras.parse(costs)
		v.tears = v.score - untorn
	}
	return v
}

// streams reports whether the starts that come before the change of the start
// before has run its course follow each other as frames of a game do that is
// faster than the display, but not twice as fast: one after the other, at an
// even pace. Things that move faster for a moment do not.
func (r *rowWindow) streams(starts []int) bool {
	var gaps []float64
	even, odd := 0, 0
	for i := 1; i+1 < len(starts); i++ {
		d := starts[i] - starts[i-1]
		if d >= r.steps {
			continue
		}
		gaps = append(gaps, float64(d))
		if next := starts[i+1] - starts[i]; 2*d >= r.steps && 10*max(d-next, next-d) < 3*r.steps {
			even++
		} else {
			odd++
		}
	}
	return len(gaps) >= 5 && even > 3*odd
}

// twice writes the evidence for two frames' change rather than one's, by step,
// among what is labelled changed.
func (r *rowWindow) twice(labels [][]bool, out []float64) {
	n := len(r.obs)
	changed := make([]float64, 0, max(n, r.bands))
	beside := make([]float64, 0, 4)
	level := make([][]float64, r.bands) // beside what the same rows do just before and after
	for g := range level {
		level[g] = make([]float64, n)
		x := r.level[meanView][g]
		for i := range x {
			beside = beside[:0]
			for _, k := range [...]int{i - 2, i - 1, i + 1, i + 2} {
				if k >= 0 && k < n && labels[r.above+g][k] {
					beside = append(beside, x[k])
				}
			}
			level[g][i] = x[i]
			if len(beside) >= 3 {
				slices.Sort(beside)
				level[g][i] -= (beside[(len(beside)-1)/2] + beside[len(beside)/2]) / 2
			}
		}
	}
	base := make([]float64, n)
	for i := range n {
		changed = changed[:0]
		for g := range r.bands {
			if labels[r.above+g][i] {
				changed = append(changed, level[g][i])
			}
		}
		if len(changed) > 0 {
			// The whole picture may move faster at times: it is the rows beside
			// each other in one picture that must differ.
			base[i] = quantile(changed, 0.4)
		}
	}
	for g := range r.bands {
		changed = changed[:0]
		for i, x := range level[g] {
			if labels[r.above+g][i] {
				changed = append(changed, x-base[i])
			}
		}
		// What changes once is the most common; how far that spreads says what
		// twice is worth. Where things move by more than the size of their
		// texture, twice as far is no more.
		spread, step := 0.0, float64(leastTwice)
		if len(changed) > 0 {
			step = min(max(quantile(changed, 0.92), leastTwice), mostTwice)
			spread = nth(changed, len(changed)/2) - nth(changed, len(changed)*16/100)
		}
		perOctave := step / max(spread*spread, leastSpread*leastSpread)
		for i, x := range level[g] {
			at := i*r.steps + r.above + g
			out[at] = 0
			if labels[r.above+g][i] {
				out[at] = min(max(perOctave*(x-base[i]-step/2), -2), 2)
			}
		}
	}
}

// leastSpread is the spread, in octaves, that rows which change once have at least.
const leastSpread = 0.14

// agreement returns the share of the evidence, weighed by its amount, that
// fits the labels, in -1 … 1.
func (r *raster) agreement(labels [][]bool) float64 {
	var with, all float64
	for i, v := range r.llr {
		all += math.Abs(v)
		if labels[i%r.steps][i/r.steps] {
			with += v
		} else {
			with -= v
		}
	}
	if all == 0 {
		return 0
	}
	return with / all
}

// believable reports whether a parse with torn frames is to be believed.
// Encoders leave parts of pictures as they were, which looks like a tear now
// and then: so either tears are usual, or each stands on strong evidence.
func (v *verdict) believable() bool {
	if v.torn == 0 {
		return false
	}
	each, share := v.tears/float64(v.torn), float64(v.torn)/float64(len(v.starts))
	switch {
	case share >= 0.6:
		return each >= 14 && v.gain >= 0.97
	case share >= 0.15:
		return each >= 30 && v.gain >= 0.97
	}
	return each >= 60 && v.gain >= 0.985
}

// standingSeam is how many spreads the seams of a standing tear stand off by, in
// nearly all frames.
const standingSeam = 4

// standing reports whether v's tears stand in one place or creep, as those of a game
// do that is held to the display's rate but not to its refresh. All rows then change
// all the time, and seams are all there is to go by: they must be sharp, in most
// frames, and each near the one before. An edge that moves up across the picture
// looks the same; so the frames of a tear that creeps up are doubtful.
func (r *rowWindow) standing(v *verdict) bool {
	reach := max(2, len(r.obs[0].row)/90) // rows from one captured frame to the next
	var seams []float64
	near, drift := 0, 0
	for i, s := range v.starts {
		if s%r.steps == 0 {
			continue
		}
		row, y := r.seams[s/r.steps], (s%r.steps-r.above)*r.group
		from, to := min(max(0, y-r.group), len(row)-1), min(max(0, y+r.group+1), len(row))
		best := float32(0)
		for _, z := range row[from:to] {
			best = max(best, z)
		}
		seams = append(seams, float64(best))
		if i > 0 && v.starts[i-1]%r.steps != 0 {
			if d := (s - r.steps - v.starts[i-1]) * r.group; max(d, -d) <= reach+r.group {
				near++
				drift += d
			}
		}
	}
	if 10*len(seams) < 6*len(v.starts) || 10*near < 8*len(seams) || quantile(seams, 0.2) < standingSeam {
		return false
	}
	if 4*drift < -near {
		for i := range v.sure {
			v.sure[i] = min(v.sure[i], 0)
		}
	}
	return true
}
