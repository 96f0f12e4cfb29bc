package measure

import (
	"cmp"
	"math"
	"slices"
)

// shortlist returns the few guesses that explain the window best as they are,
// each once.
func (w *window) shortlist(guesses [][][]bool) [][][]bool {
	const few = 3
	type ranked struct {
		labels [][]bool
		gain   float64
	}
	var list []ranked
	for _, g := range guesses {
		if slices.ContainsFunc(list, func(r ranked) bool {
			return slices.EqualFunc(r.labels, g, func(a, b []bool) bool { return slices.Equal(a, b) })
		}) {
			continue
		}
		list = append(list, ranked{g, w.gain(g[w.above : w.above+w.bands])})
	}
	slices.SortStableFunc(list, func(a, b ranked) int { return cmp.Compare(b.gain, a.gain) })
	var out [][][]bool
	for _, r := range list[:min(few, len(list))] {
		out = append(out, r.labels)
	}
	return out
}

// guesses returns first labellings to start from. None need be right; the best
// that any leads to is taken.
func (w *window) guesses(costs parseCosts) [][][]bool {
	var out [][][]bool
	n := len(w.obs)
	r := &raster{frames: n, steps: w.steps, llr: make([]float64, n*w.steps), opening: w.opens}
	labels := w.uniform(false)
	if clear := w.bandLabels(labels[w.above : w.above+w.bands]); clear != nil {
		for b := range w.bands {
			if clear[b] {
				w.weigh(b, labels[w.above+b], r.llr)
			}
		}
		starts, _ := r.parse(costs)
		out = append(out, w.labelsOf(starts))
	}
	scratch := make([]float64, 0, n)
	if w.forward || w.intra {
		if at, ok := widestGap(w.wholeRaw[meanView]); ok && !w.exact {
			out = append(out, w.over(w.wholeRaw[meanView], at))
		}
	}
	for v := range w.views {
		x := w.whole[v]
		if s := bestSplit(x, scratch, w.wholeFloor[v]); !math.IsInf(s.at, 0) {
			out = append(out, w.over(x, s.at))
		}
		if w.exact {
			continue
		}
		sorted := slices.Clone(x)
		slices.Sort(sorted)
		for _, p := range []int{2, 5, 8} {
			out = append(out, w.over(x, sorted[p*(n-1)/10]))
		}
	}
	return out
}

// widestGap returns the middle of the widest gap between values, on a scale of
// logarithms, that leaves at least a tenth of them on either side, and whether it
// is an octave wide.
func widestGap(values []float64) (at float64, ok bool) {
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	n := len(sorted)
	widest := math.Ln2
	for i := n / 10; i+1 < n-n/10; i++ {
		const least = 0.02 // levels
		if gap := math.Log((sorted[i+1] + least) / (sorted[i] + least)); gap > widest {
			at, widest, ok = (sorted[i]+sorted[i+1])/2, gap, true
		}
	}
	return at, ok
}

// over labels as new the frames in which x exceeds at.
func (w *window) over(x []float64, at float64) [][]bool {
	labels := w.uniform(false)
	for _, l := range labels {
		for i, v := range x {
			l[i] = v > at
		}
	}
	return labels
}

func (w *window) uniform(fresh bool) [][]bool {
	labels := make([][]bool, w.steps)
	for b := range labels {
		labels[b] = make([]bool, len(w.obs))
		for i := range labels[b] {
			labels[b][i] = fresh
		}
	}
	return labels
}

// bandLabels labels each band by itself, as torn pictures need it. It returns
// which bands are clear, nil when most of those that change at all are not.
func (w *window) bandLabels(labels [][]bool) []bool {
	scratch := make([]float64, 0, len(w.obs))
	var gains []float64
	splits := make([]split, w.bands)
	for b := range splits {
		splits[b] = bestSplit(w.level[meanView][b], scratch, w.floor[meanView][b])
		if splits[b].high-splits[b].low > 0.5 {
			gains = append(gains, splits[b].gain)
		}
	}
	if len(gains) == 0 || quantile(gains, 0.5) < bimodal {
		return nil
	}
	clear := make([]bool, w.bands)
	for b := range labels {
		clear[b] = splits[b].high-splits[b].low > 0.5 && splits[b].gain >= bimodal
		for i, x := range w.level[meanView][b] {
			labels[b][i] = x > splits[b].at
		}
	}
	return clear
}
