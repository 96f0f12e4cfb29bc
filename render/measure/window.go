package measure

import (
	"math"
	"slices"
)

// observation is what is kept of a captured frame until it is decided.
type observation struct {
	*difference
	// near and far are the mean absolute differences of cell means to the
	// frame before and to lag frames before, in levels.
	near, far   float64
	moved       []float64 // the same as near, by band
	key         uint64    // stands for the picture
	still       int       // pictures up to this one that are the same as the one before
	blended     bool      // between the pictures beside it, and with less detail than both
	*succession           // nil until rows are looked at
}

// A window is a stretch of captured frames that is decided together.
type window struct {
	obs       []*observation
	steps     int  // bands of a whole captured frame
	bands     int  // of the region
	opens     bool // the window opens the capture
	above     int  // bands over it
	following bool // the levels are beside what is usual at the time
	views     int  // that count; see countViews
	exact     bool
	intra     bool // frames are coded by themselves
	forward   bool // frames are coded in the order in which they are shown
	untorn    bool // no frame begins in mid-picture
	// raw[view][band] is each frame's difference in levels a pixel, and
	// level[view][band] the same on a scale on which noise and motion spread
	// alike; whole and wholeRaw are those of the whole picture.
	raw, level      [views][][]float64
	wholeRaw, whole [views][]float64
	// floor[view][band] and wholeFloor[view] are the spreads that every group of
	// levels is granted.
	floor      [views][]float64
	wholeFloor [views]float64
}

// quietShare is the part of the time in which a tile is taken to be at its
// quietest when its noise is estimated.
const quietShare = 0.1

func newWindow(obs []*observation, c *comparer) *window {
	w := &window{obs: obs, steps: c.above + c.bands + c.below, bands: c.bands, above: c.above}
	quiet := make([]float32, c.bands*c.tiles)
	sample := make([]float32, 0, 64)
	for i := range quiet {
		sample = sample[:0]
		// Uneven strides, so that the sample does not keep step with a cadence.
		for n := 0; n < len(obs); n += 1 + (n*7)%5 {
			sample = append(sample, obs[n].peak[i])
		}
		quiet[i] = quantile(sample, quietShare)
	}
	for v := range views {
		w.raw[v] = make([][]float64, c.bands)
		w.level[v] = make([][]float64, c.bands)
		for b := range w.raw[v] {
			w.raw[v][b] = make([]float64, len(obs))
			w.level[v][b] = make([]float64, len(obs))
		}
		w.wholeRaw[v] = make([]float64, len(obs))
		w.floor[v] = make([]float64, c.bands)
		w.whole[v] = make([]float64, len(obs))
	}
	for n, o := range obs {
		var all, area, top, second float64
		for b := range c.bands {
			var sum, bandArea, peak float64
			for t := b * c.tiles; t < (b+1)*c.tiles; t++ {
				sum += float64(o.tile[t] * c.area[t])
				bandArea += float64(c.area[t])
				peak = max(peak, float64(o.peak[t]-quiet[t]))
			}
			all += sum
			area += bandArea
			if peak > top {
				top, second = peak, top
			} else if peak > second {
				second = peak
			}
			w.raw[meanView][b][n] = sum / max(bandArea, 1)
			w.raw[peakView][b][n] = peak
			w.raw[cellView][b][n] = o.moved[b]
		}
		w.wholeRaw[meanView][n] = all / max(area, 1)
		w.wholeRaw[peakView][n] = (top + second) / 2
		w.wholeRaw[cellView][n] = mean(o.moved)
	}
	w.views, w.exact = w.countViews(), w.isExact()
	return w
}

// rescale fills in the levels, on a linear or a logarithmic scale.
func (w *window) rescale(linear bool) {
	scratch := make([]float64, len(w.obs))
	for v := range w.views {
		w.wholeFloor[v] = w.scale(w.whole[v], w.wholeRaw[v], scratch, linear)
		for b := range w.bands {
			w.floor[v][b] = w.scale(w.level[v][b], w.raw[v][b], scratch, linear)
		}
	}
}

// countViews returns how many views count. That of the cells' means does where noise
// veils all else: it is in all of the picture, and hardly any cell differs by more.
func (w *window) countViews() int {
	if w.noisy() && quantile(slices.Clone(w.wholeRaw[peakView]), 0.25) < 0.6*mean(w.wholeRaw[meanView]) {
		return views
	}
	return cellView
}

// mostFollowed is how many octaves below the window's usual motion the motion of a
// moment may be and still be followed.
const mostFollowed = 5

// follow fills in the levels beside what is usual at the time, in octaves: motion may
// become faster and slower in a window, and new frames then differ less later than
// repeated ones do now. Noise, which is always there, is left out.
func (w *window) follow() {
	const least = 0.02 // levels
	related := func(raw []float64) []float64 {
		x := slices.Clone(raw)
		low := quantile(x, 0.05)
		for i, v := range raw {
			x[i] = math.Log2(max(v-low, 0) + least)
		}
		bound := quantile(slices.Clone(x), 0.8) - mostFollowed
		for i, v := range relate(x) {
			x[i] = min(max(v, -4), 1.5) + min(x[i]-v-bound, 0)
		}
		return x
	}
	for v := range w.views {
		w.whole[v], w.wholeFloor[v] = related(w.wholeRaw[v]), 0.3
		for b := range w.bands {
			w.level[v][b], w.floor[v][b] = related(w.raw[v][b]), 0.3
		}
	}
}

// isExact reports whether the capture repeats frames to the bit, as lossless
// ones do: then every difference, however small, is a new frame. Lossy ones
// have differences in between. Where whole pictures repeat they tell; a torn
// capture may have none, and bands must.
func (w *window) isExact() bool {
	if zero, small := repeats(w.wholeRaw[meanView]); zero >= 5 {
		return small*20 <= zero
	}
	zeros, smalls := 0, 0
	for _, e := range w.raw[meanView] {
		zero, small := repeats(e)
		zeros += zero
		smalls += small
	}
	return zeros > 0 && smalls*50 <= zeros
}

// repeats counts the frames without any difference between frames with some,
// and those whose difference is small beside that of frames on either side.
func repeats(e []float64) (zero, small int) {
	for n := 1; n+1 < len(e); n++ {
		before, after := 0.0, 0.0
		for k := 1; k <= 3; k++ {
			before, after = max(before, e[max(0, n-k)]), max(after, e[min(len(e)-1, n+k)])
		}
		switch {
		case e[n] == 0 && max(before, after) > 0:
			zero++
		case e[n] == 0:
		case e[n] < min(before, after)/8, e[n] < max(before, after)/50:
			// The first frame after a pause goes far, but not that far.
			small++
		}
	}
	return zero, small
}

// scale writes the levels of raw to out, and returns the spread that any group
// of them has at least. scratch is as long as raw.
func (w *window) scale(out, raw, scratch []float64, linear bool) float64 {
	if w.exact {
		for i, v := range raw {
			out[i] = 0
			if v > 0 {
				out[i] = 1
			}
		}
		return 0.1
	}
	copy(scratch, raw)
	high := quantile(scratch, 0.9)
	most := nth(scratch, len(scratch)*97/100)
	low, top := slices.Min(raw), slices.Max(raw)
	// Logarithms of what exceeds the quietest frame, in units of what is usual
	// in this window. The offset keeps what is negligible beside the usual
	// from spreading to minus infinity.
	unit := max(high-low, 0.5*(most-low))
	if unit == 0 {
		unit = top - low
	}
	if unit == 0 {
		clear(out)
		return 0.1
	}
	if linear {
		for i, v := range raw {
			out[i] = min((v-low)/unit, 2)
		}
		return 0.06
	}
	// A capture whose quietest frames hardly differ has no noise but what an
	// encoder makes now and then, which reaches far up from nothing at all.
	offset, floor := 0.02, 0.1
	if low < 0.05*unit {
		offset, floor = 0.1, 0.4
	}
	for i, v := range raw {
		out[i] = min(math.Log2((v-low)/unit+offset), 1.5)
	}
	return floor
}

// A verdict is what a window says of its captured frames.
type verdict struct {
	starts []int       // raster steps, in order
	steps  int         // raster steps a captured frame
	top    int         // of them above the region
	rows   int         // rows a step, within the region
	seams  [][]float32 // by frame and row, in spreads
	turns  [][]float32
	sure   []float64 // by captured frame: nats by which its decision won
	llr    []float64 // by step
	trust  float64
	gain   float64
	score  float64
	torn   int  // starts in mid-picture
	paced  bool // decided by cadence
	// streams says that frames come faster than the display.
	streams bool
	tears   float64 // nats by which torn frames explain the window better than whole ones
}

// believed is the least gain of a division into new and repeated frames that
// is taken for real, in nats a frame; see bestSplit.
const believed = 0.1

// rowsFor returns the window's rows, nil when there is no need to look at them.
func (w *window) rowsFor(v *verdict, c *comparer) *rowWindow {
	if w.untorn || v.plain() {
		return nil
	}
	return newRowWindow(w, c)
}

// plain reports whether the window is so clear in whole frames that it need not
// be searched for tears: no frame's evidence is of both signs.
func (v *verdict) plain() bool {
	if v.gain < 2*bimodal {
		return false
	}
	for i := 0; i+v.steps <= len(v.llr); i += v.steps {
		if tornLike(v.llr[i : i+v.steps]) {
			return false
		}
	}
	return true
}

// flat is the verdict on frames of one kind: all repeated, or all new but for
// those that hardly change.
func (w *window) flat() verdict {
	n := len(w.obs)
	v := verdict{sure: make([]float64, n)}
	still := w.unchanging()
	var usual [views]float64
	for k := range cellView {
		usual[k] = quantile(slices.Clone(w.wholeRaw[k]), 0.5)
	}
	for i := range n {
		// How far below the usual the frame is, in the view where it is least so.
		ratio, least := 0.0, math.Inf(1)
		for k := range cellView {
			if usual[k] > 0 {
				ratio = max(ratio, w.wholeRaw[k][i]/usual[k])
				least = min(least, w.wholeRaw[k][i]/usual[k])
			}
		}
		v.sure[i] = 2 * weak
		if still {
			continue
		}
		if ratio >= 1./8 {
			v.starts = append(v.starts, i*w.steps)
		}
		if ratio > 1./16 && (ratio < 1./3 || least < 1./8) {
			v.sure[i] = 0
		}
	}
	return v
}

// decide judges all frames of the window.
func (w *window) decide(c *comparer) verdict {
	// First whole frames only: bands are too coarse to tell a tear from a part
	// of a picture that an encoder left as it was.
	costs := parseCosts{tear: math.Inf(1), overlap: overlapCost, duration: make([]float64, durations)}
	var best verdict
	best.gain = math.Inf(-1)
	scales := []func(){func() { w.rescale(true) }, func() { w.rescale(false) }, w.follow}
	for i, rescale := range scales {
		if i == len(scales)-1 && (best.gain >= clearGain || best.starts != nil && w.clean(w.labelsOf(best.starts)[w.above])) {
			break
		}
		w.following = i == len(scales)-1
		rescale()
		var seen [][]int
		for _, labels := range w.shortlist(w.guesses(costs)) {
			if v := w.settle(labels, costs, &seen); v.gain > best.gain && w.possible(&v) {
				best = v
			}
		}
		if w.exact {
			break
		}
	}
	if best.gain < believed {
		// One kind of frame only.
		best = w.flat()
	}
	best.steps, best.top, best.rows = w.steps, w.above, cellSize
	if !w.byCadence(&best, w.credible(&best, w.intra)) {
		for i := range best.sure {
			best.sure[i] = min(best.sure[i], 0)
		}
	}
	if r := w.rowsFor(&best, c); r != nil {
		costs.tear = tearCost
		if t := r.decide(costs); t.believable() && (t.streams || r.proofs(&t)) || r.standing(&t) {
			t.steps, t.top, t.rows, t.seams, t.turns = r.steps, r.above, r.group, r.seams, r.turns
			best = t
		}
	}
	best.starts = w.withoutPops(&best)
	w.markOutliers(&best)
	if !w.intra && !w.forward {
		for i, o := range w.obs {
			if o.blended {
				best.sure[i] = min(best.sure[i], 0)
			}
		}
	}
	return best
}

// What the parser starts from, in nats: a tear needs the evidence of two
// clear bands against it, and two frames of the game within one captured frame
// a little more.
const (
	tearCost    = 8
	overlapCost = 3
	durations   = 32 // captured frames up to which frame times are told apart
)

func (w *window) labelsOf(starts []int) [][]bool {
	n := len(w.obs)
	labels := make([][]bool, w.steps)
	for b := range labels {
		labels[b] = make([]bool, n)
	}
	for _, s := range starts {
		for i := s; i < min(s+w.steps, n*w.steps); i++ {
			labels[i%w.steps][i/w.steps] = true
		}
	}
	return labels
}

func mean(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x
	}
	return s / float64(len(v))
}
