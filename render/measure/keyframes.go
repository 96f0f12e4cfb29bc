package measure

// alone is how many unchanged captured frames on either side make a frame one
// that came out of nothing.
const alone = 5

// withoutPops returns v's starts without those that are an encoder's doing: it
// codes a key frame anew, all of it. In a picture that stands still such a
// change is alone, is spread evenly, and is no greater than what frames usually
// are, while a frame that ends a pause has more to catch up with. In one that
// moves it is a dip between greater changes, in the whole and much more so in
// the cell that changes most: motion does not stop for one frame. What is taken
// out is doubtful.
func (w *window) withoutPops(v *verdict) []int {
	if w.exact || v.torn > 0 || v.paced || len(v.starts) == 0 {
		return v.starts
	}
	change := func(s int) (whole, peak float64) {
		return w.wholeRaw[meanView][s/w.steps], w.wholeRaw[peakView][s/w.steps]
	}
	changes := make([]float64, 0, len(v.starts))
	for _, s := range v.starts {
		whole, _ := change(s)
		changes = append(changes, whole)
	}
	usual := quantile(changes, 0.5)
	out := make([]int, 0, len(v.starts))
	for i, s := range v.starts {
		n := s / w.steps
		before, after := n, len(w.obs)-1-n
		whole, peak := change(s)
		dip := i > 0 && i+1 < len(v.starts)
		for _, k := range []int{i - 1, i + 1} {
			if k < 0 || k >= len(v.starts) {
				continue
			}
			apart := v.starts[k]/w.steps - n
			if k < i {
				apart = -apart
				before = apart - 1
			} else {
				after = apart - 1
			}
			otherWhole, otherPeak := change(v.starts[k])
			dip = dip && apart < alone && otherWhole > 2*whole && otherPeak > 4*peak
		}
		outOfNothing := before >= alone && after >= alone && whole <= 1.2*usual && peak < 4*whole
		if dip || outOfNothing {
			v.sure[n] = 0
			continue
		}
		out = append(out, s)
	}
	return out
}

// markOutliers marks the frames called repeated that differ by far more than others do, and
// in as few places as new ones: a frame of the game that came soon after the one before
// has moved but a little. A key frame's change is spread evenly.
func (w *window) markOutliers(v *verdict) {
	if w.exact || v.torn > 0 {
		return
	}
	const far = 4 // times what nine in ten differ by
	fresh := w.labelsOf(v.starts)[w.above]
	same, other := w.sizes(fresh)
	if len(same) < 8 || len(other) < 8 {
		return
	}
	limit := far * quantile(same, 0.9)
	spread := make([]float64, 0, len(other))
	for i, f := range fresh {
		if f {
			spread = append(spread, w.wholeRaw[peakView][i]/max(w.wholeRaw[meanView][i], 1e-9))
		}
	}
	usual := quantile(spread, 0.5)
	for i, f := range fresh {
		if whole := w.wholeRaw[meanView][i]; !f && whole > limit && w.wholeRaw[peakView][i] > usual*whole/2 {
			v.sure[i] = min(v.sure[i], 0)
		}
	}
}
