package measure

import (
	"math"
	"slices"
)

// settle fits models to labels and labels to models in turn, until they agree. All
// that follows from starts is the same, whatever led to them: it adds those it came
// by to seen, and gives up, with no gain, at those that were there before.
func (w *window) settle(labels [][]bool, costs parseCosts, seen *[][]int) verdict {
	n := len(w.obs)
	r := &raster{frames: n, steps: w.steps, llr: make([]float64, n*w.steps), opening: w.opens}
	distances := make([]float64, w.bands)
	var v verdict
	for range 6 {
		inner := labels[w.above : w.above+w.bands]
		for b := range w.bands {
			distances[b] = w.weigh(b, inner[b], r.llr)
		}
		v.trust = r.calibrate(inner, distances, w.exact, w.above)
		starts, _ := r.parse(costs)
		same := slices.Equal(starts, v.starts)
		if !same && slices.ContainsFunc(*seen, func(s []int) bool { return slices.Equal(s, starts) }) {
			return verdict{gain: math.Inf(-1)}
		}
		*seen = append(*seen, starts)
		costs.duration = durationCosts(starts, w.steps, len(costs.duration))
		labels = w.labelsOf(starts)
		v.starts = starts
		if same {
			break
		}
	}
	v.llr = r.llr
	v.sure = w.certainty(r, labels)
	v.gain = w.gain(labels[w.above : w.above+w.bands])
	if v.gain < 2*bimodal && w.clean(labels[w.above]) {
		v.gain = 2 * bimodal
	}
	for _, s := range v.starts {
		if s%w.steps != 0 {
			v.torn++
		}
	}
	return v
}

// gain returns by how much, in nats a frame, the labels explain the levels
// better than no labels do, in the bands where they do: the mean over bands,
// weighed by itself, less the entropy of the labels.
func (w *window) gain(labels [][]bool) float64 {
	n := float64(len(w.obs))
	var sum, squares, fresh float64
	for b := range labels {
		best := 0.0
		for v := range w.views {
			best = max(best, labelGain(w.level[v][b], labels[b], w.floor[v][b]))
		}
		sum += best
		squares += best * best
		for _, l := range labels[b] {
			if l {
				fresh++
			}
		}
	}
	best, torn := 0.0, false
	for i := range w.obs {
		for b := range labels {
			if labels[b][i] != labels[0][i] {
				torn = true
			}
		}
	}
	if sum > 0 && torn {
		best = squares / sum
	}
	// Where single bands tell little, as in noise, the whole picture may.
	most := make([]bool, len(w.obs))
	for i := range most {
		count := 0
		for _, l := range labels {
			if l[i] {
				count++
			}
		}
		most[i] = 2*count > len(labels)
	}
	for v := range w.views {
		best = max(best, labelGain(w.whole[v], most, w.wholeFloor[v]))
	}
	p := fresh / n / float64(len(labels))
	if p <= 0 || p >= 1 {
		return math.Inf(-1)
	}
	return best + p*math.Log(p) + (1-p)*math.Log(1-p)
}

// weigh fits band b's models to the labels, writes its evidence to llr and
// returns the model's distance d'.
func (w *window) weigh(b int, fresh []bool, llr []float64) float64 {
	var best bandModel
	use, most := 0, 0.0
	for view := range w.views {
		if w.level[view] == nil {
			continue
		}
		x := w.level[view][b]
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, v := range x {
			lo, hi = min(lo, v), max(hi, v)
		}
		m := fit(x, fresh, prior{same: min(lo, hi-3), fresh: hi, spread: 0.3}, w.floor[view][b])
		if d := m.distance(); d > most {
			best, use, most = m, view, d
		}
	}
	table := best.table()
	perStep := 0.0
	if most > 0 {
		perStep = tableSteps / (best.fresh - best.same)
	}
	for i, x := range w.level[use][b] {
		at := min(max((x-best.same)*perStep, 0), tableSteps)
		k := min(int(at), tableSteps-1)
		llr[i*w.steps+w.above+b] = table[k] + (at-float64(k))*(table[k+1]-table[k])
	}
	return most
}

// calibrate scales the evidence down to what it is worth. Bands err together
// (an encoder treats a picture as a whole), so their sum is worth no more than
// the sums of whole frames, new and unchanged, lie apart: two normal
// distributions at a distance d' differ by d'² nats on average. Where the
// bands are clear by themselves there is nothing to scale.
func (r *raster) calibrate(labels [][]bool, distances []float64, exact bool, above int) float64 {
	if exact {
		return 1
	}
	var sums [2][]float64
	for n := range r.frames {
		s, fresh := 0.0, 0
		for b := range labels {
			s += r.llr[n*r.steps+above+b]
			if labels[b][n] {
				fresh++
			}
		}
		switch fresh {
		case 0:
			sums[0] = append(sums[0], s)
		case len(labels):
			sums[1] = append(sums[1], s)
		}
	}
	trust := 0.02
	if len(sums[0]) >= 2 && len(sums[1]) >= 2 {
		m0, s0 := meanSpread(sums[0])
		m1, s1 := meanSpread(sums[1])
		if m1 > m0 {
			d := (m1 - m0) * (m1 - m0) / ((s0*s0+s1*s1)/2 + 1e-9)
			// What a single group cut in half would show is worth nothing.
			trust = max(d-9, 0.5) / (m1 - m0)
		}
	}
	informative := make([]float64, 0, len(distances))
	for _, d := range distances {
		if d > 1 {
			informative = append(informative, d)
		}
	}
	if len(informative) > 0 {
		trust = max(trust, (quantile(informative, 0.5)-5)/5)
	}
	trust = min(trust, 1)
	for n := range r.frames {
		e := r.llr[n*r.steps : (n+1)*r.steps]
		if tornLike(e) {
			// Common errors shift all bands one way; these go both ways, in order.
			continue
		}
		for i := range e {
			e[i] *= trust
		}
	}
	return trust
}

// tornLike reports whether a captured frame's evidence is of both signs, in
// two or three runs rather than mixed up.
func tornLike(e []float64) bool {
	var mass, sum float64
	for _, v := range e {
		mass += math.Abs(v)
		sum += v
	}
	if mass < 2*prominence || math.Abs(sum) > 0.9*mass {
		return false
	}
	// The best of all divisions into three runs of alternating sign: a maximum
	// over where the middle run begins and ends.
	best := 0.0
	for _, sign := range []float64{1, -1} {
		var outside, inside, after float64
		inside, after = math.Inf(-1), math.Inf(-1)
		for _, v := range e {
			v *= sign
			after = max(after, inside) + v
			inside = max(inside, outside) - v
			outside += v
		}
		best = max(best, inside, after)
	}
	return best >= 0.9*mass
}

// durationCosts returns the costs, in nats, of frame times in captured frames,
// by how often they occur among starts.
func durationCosts(starts []int, steps, n int) []float64 {
	p := make([]float64, n)
	total := 0.0
	for d := range p {
		p[d] = 5 / float64(d+2) / float64(d+2)
		total += p[d]
	}
	for i := 1; i < len(starts); i++ {
		p[min((starts[i]-starts[i-1]+steps/2)/steps, n-1)]++
		total++
	}
	top := 0.0
	for _, v := range p {
		top = max(top, v)
	}
	for d := range p {
		p[d] = min(math.Log(top/p[d]), maxDurationCost)
	}
	return p
}

const maxDurationCost = 5

// certainty returns, for each captured frame, the evidence in nats for the
// label its bands got.
func (w *window) certainty(r *raster, labels [][]bool) []float64 {
	sure := make([]float64, r.frames)
	for n := range r.frames {
		for b := range r.steps {
			if labels[b][n] {
				sure[n] += r.llr[n*r.steps+b]
			} else {
				sure[n] -= r.llr[n*r.steps+b]
			}
		}
	}
	return sure
}
