package raster

import (
	"cmp"
	"context"
	"image"
	"slices"
	"sync"
	"time"

	"fairframe/render/media"
)

// Options say what of a capture is looked at.
type Options struct {
	From, To time.Duration     // capture time; To 0: to the end
	Samples  int               // how many pictures, spread evenly; 0: 50
	Region   image.Rectangle   // nothing outside of it counts; empty: the whole picture
	Ignore   []image.Rectangle // nothing in them counts
	Progress func(done, total int)
}

// A Candidate is a number of pixels that a scaling may have come from.
type Candidate struct {
	From int
	// Peak is the height of its peak in the spectrum of the samples that agree, over the
	// usual height near it.
	Peak float64
	// Left is what scaling down to it and up again leaves of a sample, over what rasters of
	// nearly its size leave: the median over the samples that agree. 1 says nothing for it.
	Left float64
	// Agree is how many samples it explains better than every other candidate does.
	Agree int
	// Blocks says that an encoder's blocks leave a peak and a dip there as well.
	Blocks bool

	agree []bool
}

// Score is the evidence for the candidate: the height of its peak, times by how much less
// is left.
func (c Candidate) Score() float64 { return c.Peak * max(0, 1-c.Left) }

// An Axis is what was found along lines of To pixels.
type Axis struct {
	To         int
	Candidates []Candidate // the likeliest first
	Found      bool        // the first of them is a scaling, and not chance

	spectrum []float64
}

// From is what the pictures were scaled from; 0: no scaling was found.
func (x Axis) From() int {
	if !x.Found {
		return 0
	}
	return x.Candidates[0].From
}

// A Result is what was found in a capture.
type Result struct {
	Across, Down Axis
	Samples      []Sample
}

// A Sample is one picture, and what it was scaled from of what was found; 0: none of that.
type Sample struct {
	At           time.Duration
	Across, Down int
}

// The thresholds of proof were set on one half of the sweep's pictures; see TestSweep.
const (
	// A single axis needs a peak this high, a score this high, and this share of the samples.
	peakAlone, scoreAlone = 9, 1.5
	// Two axes of one ratio need less each.
	peakBoth, scoreBoth = 6, 0.25
	// A candidate on an encoder's blocks needs more, on both axes.
	peakBlocks, leftBlocks = 60, 0.4
	shareNeeded            = 0.25
)

// Estimate looks at pictures of a capture for the trace that one scaling with a fixed
// kernel leaves. It fails if none of them can be decoded.
func Estimate(ctx context.Context, t *media.Tools, c media.Capture, o Options) (r Result, err error) {
	region := image.Rectangle{Max: c.Size}
	if !o.Region.Empty() {
		region = region.Intersect(o.Region)
	}
	if region.Dx() < leastStretch || region.Dy() < leastStretch {
		return r, refuse("state it in pixels of the capture", "less than %d pixels of the region lie in the picture of %dx%d pixels",
			leastStretch, c.Size.X, c.Size.Y)
	}
	n, to := cmp.Or(o.Samples, 50), cmp.Or(o.To, c.Duration())
	var pictures []*picture
	for i := range n {
		at := o.From + (to-o.From)*time.Duration(2*i+1)/time.Duration(2*n)
		shown, luma, err := t.KeyPicture(ctx, c, o.From, at)
		if err != nil {
			return r, err
		}
		if k := len(r.Samples); k == 0 || r.Samples[k-1].At != shown {
			r.Samples = append(r.Samples, Sample{At: shown})
			pictures = append(pictures, study(luma, c.Size, region, o.Ignore))
		}
		if o.Progress != nil {
			o.Progress(i+1, n)
		}
	}
	r.judge(pictures)
	return r, nil
}

// judge finds what pictures were scaled from.
func (r *Result) judge(pictures []*picture) {
	var lists [2][]int
	for a := range lists {
		lists[a] = candidates(spectra(pictures, axis(a)), places(pictures, axis(a)))
	}
	// What one axis suggests is tried on the other.
	sizes := [2]int{places(pictures, across), places(pictures, down)}
	for a, n := range sizes {
		other := lists[1-a]
		for _, from := range other[:min(len(other), asked)] {
			mate := (from*n + sizes[1-a]/2) / sizes[1-a]
			if possible(mate, n) && !slices.ContainsFunc(lists[a], func(f int) bool { return f-mate >= -1 && f-mate <= 1 }) {
				lists[a] = append(lists[a], mate)
			}
		}
	}
	var both sync.WaitGroup
	both.Go(func() { r.Across = examine(pictures, across, lists[0]) })
	both.Go(func() { r.Down = examine(pictures, down, lists[1]) })
	both.Wait()
	r.Across.Found, r.Down.Found = r.Across.alone(len(pictures)), r.Down.alone(len(pictures))
	r.pair(len(pictures))
	for i := range r.Samples {
		s := &r.Samples[i]
		s.Across, s.Down = r.Across.reading(i), r.Down.reading(i)
	}
}

// spectra are the spectrum of all pictures and those of each fifth of them.
func spectra(pictures []*picture, a axis) [][]float64 {
	list := [][]float64{total(pictures, a, nil).spectrum()}
	if len(pictures) >= 10 {
		for part := range slices.Chunk(pictures, (len(pictures)+4)/5) {
			list = append(list, total(part, a, nil).spectrum())
		}
	}
	return list
}

func places(pictures []*picture, a axis) int { return len(pictures[0].profiles[a].sum) }

// total is the profile of the pictures that count; nil: of all.
func total(pictures []*picture, a axis, counts []bool) profile {
	n := places(pictures, a)
	sum := profile{make([]float64, n), make([]float64, n)}
	for i, p := range pictures {
		if counts == nil || counts[i] {
			sum.add(p.profiles[a])
		}
	}
	return sum
}

// examine tries sources of pictures along an axis.
func examine(pictures []*picture, a axis, list []int) Axis {
	n, t := places(pictures, a), trier{to: places(pictures, a)}
	x := Axis{To: n, spectrum: total(pictures, a, nil).spectrum()}
	lefts := make([][]float64, len(list)) // by source and picture
	for k, from := range list {
		for _, p := range pictures {
			lefts[k] = append(lefts[k], t.dip(from, p.lines[a]))
		}
	}
	for k, from := range list {
		c := Candidate{From: from, Left: 1, Blocks: onBlocks(from, n), agree: make([]bool, len(pictures))}
		var left []float64
		for i := range pictures {
			c.agree[i] = lefts[k][i] < 1
			for j := range list {
				// An encoder's blocks leave dips of their own, which say nothing against others.
				c.agree[i] = c.agree[i] && (lefts[k][i] <= lefts[j][i] || onBlocks(list[j], n) && !c.Blocks)
			}
			if c.agree[i] {
				left = append(left, lefts[k][i])
			}
		}
		if len(left) > 0 {
			// Where less than half of what the best samples show is left over it is chance.
			slices.Sort(left)
			limit := (1 + left[len(left)/4]) / 2
			left = slices.DeleteFunc(left, func(v float64) bool { return v > limit })
			for i := range pictures {
				c.agree[i] = c.agree[i] && lefts[k][i] <= limit
			}
			c.Agree, c.Left = len(left), median(left)
			c.Peak = total(pictures, a, c.agree).spectrum()[min(from, n-from)]
		}
		x.Candidates = append(x.Candidates, c)
	}
	slices.SortStableFunc(x.Candidates, func(a, b Candidate) int {
		if a.Blocks != b.Blocks {
			return cmp.Compare(btoi(a.Blocks), btoi(b.Blocks))
		}
		return cmp.Compare(b.Score()*float64(b.Agree), a.Score()*float64(a.Agree))
	})
	return x
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// alone reports whether the first candidate is proved by its own axis.
func (x Axis) alone(pictures int) bool {
	if len(x.Candidates) == 0 {
		return false
	}
	c := x.Candidates[0]
	return !c.Blocks && c.enough(pictures) && c.Peak >= peakAlone && c.Score() >= scoreAlone && !x.doubled(c.From)
}

// doubled reports whether the trace of a source may be the second harmonic of another
// one's: whether its half frequency has a peak too. It cannot be told from it then.
func (x Axis) doubled(from int) bool {
	at := min(from, x.To-from)
	for _, twice := range []int{at, x.To - at} {
		if half := twice / 2; twice%2 == 0 && half < len(x.spectrum) && half != at &&
			x.spectrum[half] >= max(peakBoth, x.spectrum[at]/4) && !onBlocks(half, x.To) {
			return true
		}
	}
	return false
}

func (c Candidate) enough(pictures int) bool {
	return float64(c.Agree) >= shareNeeded*float64(pictures)
}

// pair looks for two candidates of one ratio, which prove each other.
func (r *Result) pair(pictures int) {
	if r.Across.Found && r.Down.Found {
		return
	}
	for i, a := range r.Across.Candidates {
		for j, b := range r.Down.Candidates {
			mate := float64(a.From) * float64(r.Down.To) / float64(r.Across.To)
			same := mate-float64(b.From) > -1 && mate-float64(b.From) < 1 && a.enough(pictures) && b.enough(pictures)
			proved := a.Peak >= peakBoth && b.Peak >= peakBoth && a.Score() >= scoreBoth && b.Score() >= scoreBoth
			if a.Blocks {
				proved = a.Peak >= peakBlocks && b.Peak >= peakBlocks && a.Left <= leftBlocks && b.Left <= leftBlocks
			}
			proved = proved && !r.Across.doubled(a.From) && !r.Down.doubled(b.From)
			if same && proved && !(r.Across.Found && i > 0) && !(r.Down.Found && j > 0) {
				r.Across.prove(i)
				r.Down.prove(j)
				return
			}
		}
	}
}

// prove puts a candidate first.
func (x *Axis) prove(i int) {
	c := x.Candidates[i]
	x.Candidates = slices.Insert(slices.Delete(x.Candidates, i, i+1), 0, c)
	x.Found = true
}

// reading is what picture i was scaled from.
func (x Axis) reading(i int) int {
	if x.Found && x.Candidates[0].agree[i] {
		return x.Candidates[0].From
	}
	return 0
}
