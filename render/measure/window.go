package measure

import (
	"cmp"
	"math"
	"slices"
)

// observation is what is kept of a captured frame until it is decided.
type observation struct {
	*difference
	// near and far are the mean absolute differences of cell means to the
	// frame before and to lag frames before, in levels.
	near, far   float64
	*succession // nil until rows are looked at
}

// A window is a stretch of captured frames that is decided together.
type window struct {
	obs     []*observation
	steps   int  // bands of a whole captured frame
	bands   int  // of the region
	opens   bool // the window opens the capture
	above   int  // bands over it
	exact   bool
	intra   bool // frames are coded by themselves
	forward bool // frames are coded in the order in which they are shown
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
		}
		w.wholeRaw[meanView][n] = all / max(area, 1)
		w.wholeRaw[peakView][n] = (top + second) / 2
	}
	w.exact = w.isExact()
	return w
}

// rescale fills in the levels, on a linear or a logarithmic scale.
func (w *window) rescale(linear bool) {
	scratch := make([]float64, len(w.obs))
	for v := range views {
		w.wholeFloor[v] = w.scale(w.whole[v], w.wholeRaw[v], scratch, linear)
		for b := range w.bands {
			w.floor[v][b] = w.scale(w.level[v][b], w.raw[v][b], scratch, linear)
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
	torn   int     // starts in mid-picture
	paced  bool    // decided by cadence
	tears  float64 // nats by which torn frames explain the window better than whole ones
}

// believed is the least gain of a division into new and repeated frames that
// is taken for real, in nats a frame; see bestSplit.
const believed = 0.1

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
			for v := range views {
				sum[v][k] += w.raw[v][b][i]
				count[v][k]++
			}
		}
	}
	small := false
	for v := range views {
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
		if p := quantile(peaks[0], 0.5); p > mostSame*quantile(peaks[1], 0.5) && p > 2+1.5*level {
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
	for i, f := range fresh {
		if v := w.wholeRaw[meanView][i]; f {
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

// rowsFor returns the window's rows, nil when there is no need to look at them.
func (w *window) rowsFor(v *verdict, c *comparer) *rowWindow {
	if v.plain() {
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
	for k := range views {
		usual[k] = quantile(slices.Clone(w.wholeRaw[k]), 0.5)
	}
	for i := range n {
		// How far below the usual the frame is, in the view where it is least so.
		ratio, least := 0.0, math.Inf(1)
		for k := range views {
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

// quietest returns the difference, in levels, that the quietest tenth of the
// bands has at least at most times.
func (w *window) quietest() float64 {
	usual := make([]float64, w.bands)
	for b := range usual {
		usual[b] = quantile(slices.Clone(w.raw[meanView][b]), 0.5)
	}
	return quantile(usual, 0.1)
}

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
	for v := range views {
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
		for v := range views {
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
	for v := range views {
		best = max(best, labelGain(w.whole[v], most, w.wholeFloor[v]))
	}
	p := fresh / n / float64(len(labels))
	if p <= 0 || p >= 1 {
		return math.Inf(-1)
	}
	return best + p*math.Log(p) + (1-p)*math.Log(1-p)
}

// memory is what one window leaves to the next.
type memory struct {
	starts, torn float64 // starts seen lately
}

// decide judges all frames of the window.
func (w *window) decide(m *memory, c *comparer) verdict {
	// First whole frames only: bands are too coarse to tell a tear from a part
	// of a picture that an encoder left as it was.
	costs := parseCosts{tear: math.Inf(1), overlap: overlapCost, duration: make([]float64, durations)}
	var best verdict
	best.gain = math.Inf(-1)
	for _, linear := range []bool{true, false} {
		w.rescale(linear)
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
		// Tears come in bouts: dear at first, cheap once some were seen.
		costs.tear = tearCost + math.Log((m.starts+50)/(50*m.torn+m.starts+50))
		if t := r.decide(costs); t.believable() || r.standing(&t) {
			t.steps, t.top, t.rows, t.seams, t.turns = r.steps, r.above, r.group, r.seams, r.turns
			best = t
		}
	}
	best.starts = w.withoutPops(&best)
	m.starts, m.torn = m.starts/2+float64(len(best.starts)), m.torn/2+float64(best.torn)
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

// weigh fits band b's models to the labels, writes its evidence to llr and
// returns the model's distance d'.
func (w *window) weigh(b int, fresh []bool, llr []float64) float64 {
	var best bandModel
	use, most := 0, 0.0
	for view := range views {
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
	var near, level float64
	for i, o := range w.obs {
		near += o.near
		level += w.wholeRaw[meanView][i]
	}
	if level == 0 {
		return false
	}
	return near < whiteness*level && w.quietest() > 0.3*level/float64(len(w.obs))
}

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

// startRow returns the row of the capture at which the frame that began at
// step s was first shown, 0 at the top, and the evidence in nats that it is there
// rather than anywhere near.
func (v *verdict) startRow(s int, w *window, c *comparer) (row int, sure float64) {
	n, step := s/v.steps, s%v.steps
	if step == 0 {
		return 0, math.Inf(1)
	}
	// The rows about the step's top are parted where they begin to change more to
	// this captured frame than from it: the parting with the least squares.
	guess := (step - v.top) * v.rows
	from, to := max(0, guess-2*v.rows-2), min(len(w.obs[n].row), guess+2*v.rows+2)
	if to-from < 4 {
		return min(max(1, c.region.Min.Y+guess), c.size.Y-1), 0
	}
	size := to - from
	levels := make([]float64, size)
	for y := range levels {
		if n+1 < len(w.obs) {
			levels[y] = float64(w.obs[n].followedBy(w.obs[n+1]).ratio[from+y])
		} else {
			levels[y] = math.Log2(float64(w.obs[n].row[from+y]) + leastChange)
		}
	}
	_, total := meanSpread(levels)
	total *= total * float64(size)
	between, most := make([]float64, size), 0.0
	for cut := 1; cut < size; cut++ {
		rise := max(mean(levels[cut:])-mean(levels[:cut]), 0)
		between[cut] = rise * rise * float64(cut) * float64(size-cut) / float64(size)
		most = max(most, between[cut])
	}
	// The likelihood of two normal groups on either side of the cut, with what
	// the best cut leaves as their spread, and the seam and the turn beside it.
	variance := (total-most)/float64(size) + leastRowSpread*leastRowSpread
	best, at := math.Inf(-1), guess-from
	for cut := 1; cut < size; cut++ {
		l := between[cut] / (2 * variance)
		l += seamNats*max(float64(v.seams[n][from+cut]), 0) + turnNats*max(float64(v.turns[n][from+cut]), 0)
		if l > best {
			best, at = l, cut
		}
	}
	return min(max(1, c.region.Min.Y+from+at), c.size.Y-1), best
}

// leastRowSpread is the spread, in octaves, that the ratios of neighbouring rows
// have at least; seamNats and turnNats are what a spread of a seam and of a turn
// is worth. Turns, being of many rows, say little of which.
const (
	leastRowSpread = 0.12
	seamNats       = 6
	turnNats       = 1
)

func mean(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x
	}
	return s / float64(len(v))
}
