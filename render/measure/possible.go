package measure

import (
	"math"
	"slices"
)

// mostSame is the greatest difference that frames called repeated may have
// beside frames called new, unless it is noise: what an encoder does to a
// repeated frame is less than half of a motion that it lets through.
const mostSame = 0.5

// mostDrift is how much more than from frame to frame a picture may change over
// lag frames that are all called repeated. Noise has 1, and what an encoder
// gains by and by is at most the root of lag.
const mostDrift = 3

// possible reports whether the frames that v leaves unchanged can be so: if
// they differ hardly less than the others, it must be by noise; no small thing
// may move in them; and the picture must not drift away in them.
func (w *window) possible(v *verdict) bool {
	labels := w.labelsOf(v.starts)
	var sum, count [views][2]float64
	for b := range w.bands {
		for i, fresh := range labels[w.above+b] {
			k := 0
			if fresh {
				k = 1
			}
			for v := range w.views {
				sum[v][k] += w.raw[v][b][i]
				count[v][k]++
			}
		}
	}
	small := false
	for v := range w.views {
		if v == peakView && sum[v][1] < count[v][1] {
			continue // less than a level in any cell is nothing to go by
		}
		small = small || sum[v][0]*count[v][1] <= mostSame*sum[v][1]*count[v][0]
	}
	var near, level, drift, steps, fresh float64
	drifting := 0
	var peaks [2][]float64
	run := 0
	for i, o := range w.obs {
		if labels[w.above][i] || labels[w.above+w.bands-1][i] {
			run = 0
			peaks[1] = append(peaks[1], w.wholeRaw[peakView][i])
			fresh += o.near
			continue
		}
		peaks[0] = append(peaks[0], w.wholeRaw[peakView][i])
		near += o.near
		level += w.wholeRaw[meanView][i]
		if run++; run >= lag {
			drift += o.far
			steps += o.near
			drifting++
		}
	}
	if len(peaks[0]) == 0 {
		return small
	}
	level /= float64(len(peaks[0]))
	near /= float64(len(peaks[0]))
	// A drift that counts takes the picture some way to where a new frame does,
	// or a level.
	far := min(0.5*fresh/float64(max(len(peaks[1]), 1)), 1)
	if drift > mostDrift*steps && drift > far*float64(drifting) {
		return false
	}
	if len(peaks[1]) > 0 {
		p, usual := quantile(peaks[0], 0.5), quantile(peaks[1], 0.5)
		if w.following {
			same, other := w.parted(labels[w.above], w.whole[peakView])
			usual = p * math.Exp2(quantile(other, 0.5)-quantile(same, 0.5))
		}
		if p > mostSame*usual && p > 2+1.5*level {
			return false
		}
	}
	pure := w.intra && near < white*level
	faint := 2*sum[meanView][0]*count[meanView][1] < mostSame*sum[meanView][1]*count[meanView][0]
	if !faint && w.twoSizes(labels, pure) || w.threeKinds(labels[w.above]) {
		return false
	}
	// Noise that no encoder has smoothed is the same at all times.
	least := 2 * bimodal
	if pure {
		least = bimodal
	}
	return small || v.gain >= least && near < whiteness*level && w.quietest() > 0.3*level
}

// clean reports whether nearly all frames that repeat differ by a small part of
// what nearly all new ones do. New frames of two sizes, as where a game skips
// every fifth refresh, are then no argument against it.
func (w *window) clean(fresh []bool) bool {
	if w.exact || !w.forward && !w.intra {
		return false
	}
	same, other := w.sizes(fresh)
	const few = 10 // key frames come less often
	return len(same) >= few && len(other) >= few && quantile(same, 0.95) < 0.3*quantile(other, 0.05)
}

// sizes parts the differences of the whole picture into those of frames called
// repeated and those of frames called new.
func (w *window) sizes(fresh []bool) (same, other []float64) {
	return w.parted(fresh, w.wholeRaw[meanView])
}

// parted parts values of the whole picture in the same way.
func (w *window) parted(fresh []bool, values []float64) (same, other []float64) {
	for i, f := range fresh {
		if v := values[i]; f {
			other = append(other, v)
		} else {
			same = append(same, v)
		}
	}
	return same, other
}

// octaves takes the logarithm of sizes, base 2, in place.
func octaves(sizes []float64) {
	for i, v := range sizes {
		sizes[i] = math.Log2(v + 1e-3)
	}
}

// threeKinds reports whether the frames called repeated are themselves of two
// kinds, one of which changes little beside the other, and that not so little
// beside those called new: then it is new as well. Only pictures that are made
// up between others differ so.
func (w *window) threeKinds(fresh []bool) bool {
	if w.exact || !w.forward && !w.intra {
		return false
	}
	same, other := w.sizes(fresh)
	if len(same) < 8 || len(other) == 0 {
		return false
	}
	octaves(same)
	octaves(other)
	s := bestSplit(same, nil, 0.1)
	return s.gain > 2*bimodal && s.high-s.low > 1.5 && s.high > quantile(other, 0.5)-1.7
}

// twoSizes reports whether the frames called repeated never rest and yet differ
// by two sizes. Noise is of one size: then the greater are new ones.
func (w *window) twoSizes(labels [][]bool, pure bool) bool {
	var same []float64
	for i := range w.obs {
		if !labels[w.above][i] && !labels[w.above+w.bands-1][i] {
			same = append(same, math.Log2(w.wholeRaw[meanView][i]+1e-3))
		}
	}
	if len(same) == 0 {
		return false
	}
	sorted := slices.Clone(same)
	slices.Sort(sorted)
	if sorted[len(sorted)/20] < sorted[len(sorted)/2]-0.5 {
		return false
	}
	apart := 0.05
	if pure {
		apart = 0.005
	}
	s := bestSplit(same, nil, 0.2*apart)
	return s.gain > 2*bimodal && s.high-s.low > apart
}

// whiteness is the part of the differences that is left in the means of cells
// up to which they are noise. White noise leaves 1/8, and an encoder smooths
// noise; things that move leave more.
const whiteness = 0.35

// white is that of noise that nothing was done to.
const white = 0.14

// unchanging reports whether differences that are all alike are noise over a
// picture that stays the same, rather than motion: then they do not grow with
// the distance in time.
func (w *window) unchanging() bool {
	var near, far, level float64
	for i, o := range w.obs {
		near += o.near
		far += o.far
		level += w.wholeRaw[meanView][i]
	}
	if level == 0 {
		return true
	}
	// A small thing that moves hardly shows in the whole.
	small := quantile(slices.Clone(w.wholeRaw[peakView]), 0.5)
	return far < 1.25*near && near < whiteness*level && small < max(3, 0.6*level/float64(len(w.obs)))
}

// noisy reports whether most of the differences between frames is noise: it is
// in all parts of the picture, and averages out over a cell.
func (w *window) noisy() bool {
	return w.noiseShare() < whiteness && w.quietest() > 0.3*mean(w.wholeRaw[meanView])
}

// quietest returns the difference, in levels, that the quietest tenth of the
// bands has at least at most times.
func (w *window) quietest() float64 {
	usual := make([]float64, w.bands)
	for b := range usual {
		usual[b] = quantile(slices.Clone(w.raw[meanView][b]), 0.5)
	}
	return quantile(usual, 0.1)
}
