package measure

import "slices"

// What a window must show to be believed. An encoder that predicts frames from
// others interpolates motion that is slow or faint: frames that repeat then move
// as much as new ones, and a division of such frames into two kinds is as clean
// as a true one. It cannot do so where motion changes pictures by more than it
// would save. The bounds were set by the sweep of the confusion table, in which
// windows within them hold hardly an error, and windows outside most.
const (
	// faintWhole is the median difference, in levels a pixel, from which frames
	// that are all new are believed, and clearCell that of the cell that changes
	// most, for what moves on a still background.
	faintWhole, clearCell = 4, 6
	// faintCell is what the cell that changes most must change by in nearly all
	// new frames, strongCell where that alone is enough.
	faintCell, strongCell = 2.5, 8
	// forwardShare is how much of that is enough where pictures are coded in the
	// order in which they are shown: none is then made up from one after it.
	forwardShare = 0.3
	// faintForward is what nearly all new frames must change by then, in levels a
	// pixel: an encoder refines a picture little by little in those that repeat it.
	faintForward = 0.2
	// evenShare is how much of the median difference nearly all frames have where all
	// are new, if the median is of evenLeast levels and no noise.
	evenShare, evenLeast = 0.8, 0.3
)

// credible reports whether a division into whole new and repeated frames can be
// taken at its word. Where not, it may still be right, and is marked doubtful.
func (w *window) credible(v *verdict, intra bool) bool {
	var whole, cell [2][]float64
	labels := w.labelsOf(v.starts)
	for i := range w.obs {
		k := 0
		if labels[w.above][i] {
			k = 1
		}
		whole[k] = append(whole[k], w.wholeRaw[meanView][i])
		cell[k] = append(cell[k], w.wholeRaw[peakView][i])
	}
	const nearly = 0.95
	split, freshCell := v.gain >= believed, 0.0
	if len(cell[1]) > 0 {
		freshCell = quantile(cell[1], 1-nearly)
	}
	switch {
	case !split && w.noisy() && freshCell < strongCell:
		return false // noise hides slow motion and its pauses
	case len(whole[1]) == 0:
		return true // nothing moves
	case !intra && v.keyed():
		return false
	case !split && w.even():
		return true
	case !split && intra:
		return w.noiseShare() > 0.5 || w.quietest() <= 0.3*mean(w.wholeRaw[meanView])
	case !split && w.forward:
		return quantile(whole[1], 0.5) >= forwardShare*faintWhole || freshCell >= forwardShare*clearCell
	case !split:
		return quantile(whole[1], 0.5) >= faintWhole || freshCell >= clearCell
	case w.forward && w.clean(labels[w.above]) && (quantile(whole[1], 1-nearly) >= faintForward || freshCell >= faintCell):
		return true
	case intra:
		return w.exact || v.gain >= 0.45
	case w.exact:
		return v.gain >= 0.7 && freshCell >= 2
	}
	same, fresh := 0.0, quantile(whole[1], 1-nearly)
	sameCell := 0.0
	if len(whole[0]) > 0 {
		same, sameCell = quantile(whole[0], nearly), quantile(cell[0], nearly)
	}
	switch {
	case v.gain >= 0.8 && freshCell >= 0.6*faintCell, v.gain >= 0.3 && freshCell >= faintCell:
		if same < 0.3*fresh {
			return true
		}
	}
	return v.gain >= 0.5 && freshCell >= faintCell && same < 0.7*fresh ||
		v.gain >= 0.16 && freshCell >= strongCell && sameCell < 0.5*freshCell
}

// leastKeyed is the least distance of key frames, in captured frames, that is looked for.
const leastKeyed = 15

// keyed reports whether all frames called new come at one distance that is long for a
// game, and usual for the key frames of an encoder that leaves faint motion out between.
func (v *verdict) keyed() bool {
	if len(v.starts) < 3 {
		return false
	}
	step := v.starts[1] - v.starts[0]
	for i, s := range v.starts[1:] {
		if s-v.starts[i] != step {
			return false
		}
	}
	return step >= leastKeyed*v.steps
}

// even reports whether all frames differ by so nearly the same that all are new:
// motion goes on from frame to frame, while what an encoder makes up between
// frames, and what it leaves out, comes and goes with the kinds of its pictures.
func (w *window) even() bool {
	whole, near := slices.Clone(w.wholeRaw[meanView]), make([]float64, len(w.obs))
	for i, o := range w.obs {
		near[i] = o.near
	}
	return quantile(whole, 0.05) >= evenShare*max(quantile(whole, 0.5), evenLeast) &&
		quantile(near, 0.05) >= evenShare*quantile(near, 0.5) && w.noiseShare() > whiteness
}

// noiseShare is how much of the differences is left in the means of cells: 1/8
// of white noise, more of motion.
func (w *window) noiseShare() float64 { return w.noiseAmong(func(int) bool { return true }) }

// noiseAmong is noiseShare of the frames that count; 1 where they do not differ.
func (w *window) noiseAmong(counts func(i int) bool) float64 {
	var near, level float64
	for i, o := range w.obs {
		if counts(i) {
			near += o.near
			level += w.wholeRaw[meanView][i]
		}
	}
	if level == 0 {
		return 1
	}
	return near / level
}

// intraCodecs code every picture by itself: nothing is carried over from one to
// the next, and a picture that repeats is coded the same.
var intraCodecs = []string{"ayuv", "cfhd", "dnxhd", "dvvideo", "ffv1", "ffvhuff", "huffyuv", "jpeg2000", "magicyuv",
	"mjpeg", "png", "prores", "qtrle", "r210", "rawvideo", "utvideo", "v210", "v308", "v410", "y41p", "yuv4"}

func isIntra(codec string) bool { return slices.Contains(intraCodecs, codec) }
