package align

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"
)

// Settings say where to look. The zero value looks for offsets of up to five
// minutes either way.
type Settings struct {
	By     By
	Search time.Duration // how far an offset may be from Guess; 0 stands for DefaultSearch
	Guess  time.Duration // the offset around which is searched
	// Around is the capture time of a at which the offset is wanted; negative:
	// wherever the evidence is greatest.
	Around time.Duration
	// From and To are the part of a that is looked for in b, in its capture time; To
	// 0 stands for its end.
	From, To time.Duration
}

// DefaultSearch is how far an offset may be from the guess unless set.
const DefaultSearch = 5 * time.Minute

// Confident is the confidence from which on an offset may be relied on.
const Confident = 0.5

// Stretch is a part of capture a in which one offset holds.
type Stretch struct {
	From, To   float64 // capture time of a, seconds; found to about half a block
	Offset     float64 // t_b - t_a in its middle, seconds
	Drift      float64 // by which b's clock runs ahead of a's, parts per million; NaN: too short to tell
	DriftError float64 // standard error of Drift
	Confidence float64 // 0 to 1

	Blocks     int       // in which the offset was found
	Heard      *Evidence // nil: the sound does not speak for the offset
	Seen       *Evidence // nil: the pictures do not
	Runner     *Runner   // nil: no other offset has any evidence in these blocks
	weight     float64
	at         []float64 // the middle of each block, capture time of a
	difference []float64 // of each block's offset from Offset
	notes      []string
}

// Evidence is what sound or pictures alone say about a stretch.
type Evidence struct {
	Offset float64 // t_b - t_a, seconds, the median of the blocks
	Spread float64 // of the blocks, as a standard deviation by the median of deviations
	Peak   float64 // mean peak: of GCC-PHAT, or of Pearson's correlation
	Blocks int
}

// Runner is the next best offset in a stretch's blocks.
type Runner struct {
	Offset float64 // t_b - t_a
	Share  float64 // of the evidence for the best one
}

// Result is what Match found.
type Result struct {
	Offset     float64   // t_b - t_a in seconds, at Around or in the middle of the best stretch; 0 when nothing matches
	At         float64   // capture time of a at which Offset holds
	Confidence float64   // 0 to 1
	Best       int       // index of the stretch that Offset is of; -1: none
	Stretches  []Stretch // in order; those with little confidence only if they are the best
	Searched   [2]float64
	Block      float64 // seconds a block
	Blocks     int     // looked at
	Silent     int     // of these, those with nothing to hear, when listening
	Still      int     // of these, those with nothing to see, when looking
	Notes      []string
	curves     curves
}

// Matched reports whether the offset may be relied on.
func (r *Result) Matched() bool { return r.Best >= 0 && r.Confidence >= Confident }

// Match finds the offset between two tracks. That nothing matches is no error:
// the result then has a confidence near 0.
func Match(ctx context.Context, a, b *Track, s Settings) (*Result, error) {
	if s.Search == 0 {
		s.Search = DefaultSearch
	}
	if s.Search < 0 {
		return nil, fmt.Errorf("align: search range %v is negative", s.Search)
	}
	m := &matcher{a: a, b: b, by: s.By, low: (s.Guess - s.Search).Seconds(), high: (s.Guess + s.Search).Seconds()}
	if !m.listens() && !m.looks() {
		return nil, fmt.Errorf("align: nothing to align %s and %s by %v with", a.Capture.Path, b.Capture.Path, s.By)
	}
	r := &Result{Best: -1, Searched: [2]float64{m.low, m.high}, Block: blockLength(a, b)}
	r.curves.tap(m)
	from, to := max(a.from, s.From.Seconds()), a.from+a.length
	if s.To > 0 {
		to = min(to, s.To.Seconds())
	}
	blocks, err := m.blocks(ctx, from, to, r.Block)
	if err != nil {
		return nil, err
	}
	r.Blocks = len(blocks)
	for i := range blocks {
		blocks[i].compare()
		if m.listens() && !blocks[i].hears {
			r.Silent++
		}
		if m.looks() && !blocks[i].sees {
			r.Still++
		}
	}
	picks := path(blocks)
	for _, run := range runs(blocks, picks) {
		r.Stretches = append(r.Stretches, m.stretch(blocks, picks, run))
	}
	r.choose(s, m)
	return r, nil
}

// clearMotion is a change over 0.1 s, in deviations of a picture, that is more
// than coding noise and flicker.
const clearMotion = 0.05

// many is how many blocks long a track is whose blocks need not overlap, and of
// which every other one is looked for everywhere: over hours that is what takes
// long.
const many = 60

// blocks proposes offsets for each block, and then tries on each what its
// neighbours have found.
func (m *matcher) blocks(ctx context.Context, from, to, length float64) ([]block, error) {
	var blocks []block
	step := length / 2
	if to-from > many*length {
		step = length
	}
	for ; from+length <= to+1e-6; from += step {
		blocks = append(blocks, block{from: from, to: from + length})
	}
	for i := range blocks {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		find := m.propose
		if step == length && i%2 == 1 {
			find = m.heed // its neighbours propose for it
		}
		if err := find(&blocks[i]); err != nil {
			return nil, err
		}
	}
	const reach = 3 // neighbours
	own := make([]int, len(blocks))
	for i := range blocks {
		own[i] = len(blocks[i].found)
	}
	for i := range blocks {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		var tried []float64
		for j := max(0, i-reach); j < min(len(blocks), i+reach+1); j++ {
			for _, p := range blocks[j].found[:own[j]] {
				if j == i || p.sound.evidence()+p.picture.evidence() < 0.3 {
					continue
				}
				near := func(o float64) bool { return math.Abs(o-p.offset) < 0.015 }
				if slices.ContainsFunc(tried, near) || slices.ContainsFunc(blocks[i].found, func(q proposal) bool { return near(q.offset) }) {
					continue
				}
				tried = append(tried, p.offset)
				if err := m.weigh(&blocks[i], p.offset, soundReach); err != nil {
					return nil, err
				}
			}
		}
	}
	return blocks, nil
}

// stretch sums up a run of blocks.
func (m *matcher) stretch(blocks []block, picks []int, r run) Stretch {
	first, last := blocks[r.blocks[0]], blocks[r.blocks[len(r.blocks)-1]]
	s := Stretch{From: first.from, To: last.to, Blocks: len(r.blocks), Drift: math.NaN(), DriftError: math.NaN()}
	var heardAt, heardOff, seenOff, heardPeak, seenPeak, middles, offsets []float64
	var total float64
	rivals := map[int]bool{} // their distances, which a drift leaves alone
	moving, sounding := 0, 0 // blocks in which pictures, or sound, could speak
	for _, i := range r.blocks {
		p := blocks[i].found[picks[i]]
		total += p.evidence
		middle := (blocks[i].from + blocks[i].to) / 2
		middles, offsets = append(middles, middle), append(offsets, p.offset)
		if p.sound.evidence() > 0.2 && math.Abs(p.bySound-p.offset) < pictureReach {
			heardAt, heardOff, heardPeak = append(heardAt, middle), append(heardOff, p.bySound), append(heardPeak, p.sound.peak)
		}
		if p.picture.evidence() > 0.2 && math.Abs(p.byEye-p.offset) < pictureReach {
			seenOff, seenPeak = append(seenOff, p.byEye), append(seenPeak, p.picture.peak)
		}
		apart := 0.2
		if !m.looks() {
			apart = 0.02
		}
		for k, q := range blocks[i].found {
			if d := q.offset - p.offset; k != picks[i] && math.Abs(d) >= apart {
				rivals[int(math.Round(d/rivalBin))] = true
			}
		}
		if min(p.picture.moves, p.picture.other) >= clearMotion {
			moving++
		}
		if p.sound.peak > 0 {
			sounding++
		}
	}
	if n := len(heardOff); n > 0 {
		s.Heard = evidenceOf(heardOff, heardPeak)
	}
	if n := len(seenOff); n > 0 {
		s.Seen = evidenceOf(seenOff, seenPeak)
	}
	// A block may begin before b does, or end after it.
	near := median(offsets)
	s.From = max(s.From, m.b.from-near)
	s.To = min(s.To, m.b.from+m.b.length-near)
	middle := (s.From + s.To) / 2
	m.settle(&s, middle, heardAt, heardOff, middles, offsets)
	s.at = middles
	for _, o := range offsets {
		s.difference = append(s.difference, o-s.Offset)
	}
	for bin := range rivals {
		if share := m.rival(blocks, picks, r, float64(bin)*rivalBin); s.Runner == nil || share > s.Runner.Share {
			s.Runner = &Runner{Offset: s.Offset + float64(bin)*rivalBin, Share: share}
		}
	}
	s.weight = total
	s.judge(m)
	if m.looks() && s.Seen == nil && 2*moving >= s.Blocks {
		s.Confidence *= 0.4
		s.notes = append(s.notes, "the sound matches, but the pictures do not: only music or speech may be the same (by sound alone it would count)")
	}
	if m.listens() && s.Heard == nil && 2*sounding >= s.Blocks {
		s.Confidence *= 0.8
		s.notes = append(s.notes, "the pictures match, but the sound does not")
	}
	return s
}

// rival returns the share that an offset at a distance from the chosen one has of
// the evidence, in those of the run's blocks that it leaves inside b.
func (m *matcher) rival(blocks []block, picks []int, r run, distance float64) float64 {
	var best, rival float64
	for _, i := range r.blocks {
		p := blocks[i].found[picks[i]]
		from, to := blocks[i].from+p.offset+distance, blocks[i].to+p.offset+distance
		if inside := min(to, m.b.from+m.b.length) - max(from, m.b.from); inside < leastOverlap*(to-from) {
			continue
		}
		best += p.evidence
		most := 0.0
		for k, q := range blocks[i].found {
			if d := q.offset - p.offset - distance; k != picks[i] && math.Abs(d) < rivalBin {
				most = max(most, q.evidence)
			}
		}
		rival += most
	}
	// A rival that could hardly be tested needs little to be beaten.
	return rival / (best + 0.5)
}

// rivalBin is the width in seconds within which rival offsets are one.
const rivalBin = 0.04

func evidenceOf(offsets, peaks []float64) *Evidence {
	e := &Evidence{Offset: median(offsets), Blocks: len(offsets)}
	dev := make([]float64, len(offsets))
	for i, o := range offsets {
		dev[i] = math.Abs(o - e.Offset)
	}
	e.Spread = 1.4826 * median(dev)
	for _, p := range peaks {
		e.Peak += p / float64(len(peaks))
	}
	return e
}

func median(x []float64) float64 {
	s := slices.Sorted(slices.Values(x))
	n := len(s)
	return (s[(n-1)/2] + s[n/2]) / 2
}

// leastDrift is how long a stretch must be, in seconds, to tell a drift.
const leastDrift = 60

// skewed reports whether sound and pictures of a stretch lie apart by more than half
// a frame, and by more than chance moves the pictures' offset.
func (m *matcher) skewed(s *Stretch) bool {
	if s.Heard == nil || s.Seen == nil {
		return false
	}
	// Blocks may overlap by half, so that only every other one counts.
	chance := 3 * s.Seen.Spread / math.Sqrt(max(1, float64(s.Seen.Blocks)/2))
	return math.Abs(s.Heard.Offset-s.Seen.Offset) > max(m.frame()/2, chance)
}

// settle decides the offset of a stretch. The sound places it far better than the
// pictures can, unless the two are skewed: then recorders or machines delay their
// sound differently, and the pictures decide.
func (m *matcher) settle(s *Stretch, middle float64, heardAt, heardOff, middles, offsets []float64) {
	at, off := heardAt, heardOff
	if s.Heard == nil || m.skewed(s) && s.Seen.Blocks*2 >= s.Heard.Blocks {
		at, off = middles, offsets
		if s.Seen != nil {
			shift := 0.0
			if s.Heard != nil {
				shift = s.Seen.Offset - s.Heard.Offset
				at, off = heardAt, slices.Clone(heardOff)
				for i := range off {
					off[i] += shift
				}
			}
		}
	}
	s.Offset = median(off)
	if s.Heard == nil && s.Seen != nil {
		s.Offset = s.Seen.Offset
	}
	if len(off) >= 6 && at[len(at)-1]-at[0] >= leastDrift {
		slope, se := theilSen(at, off)
		s.Drift, s.DriftError = slope*1e6, se*1e6
		residual := make([]float64, len(off))
		for i := range off {
			residual[i] = off[i] - slope*(at[i]-middle)
		}
		s.Offset = median(residual)
		if s.Heard != nil {
			flat := make([]float64, len(heardOff))
			for i := range flat {
				flat[i] = heardOff[i] - slope*(heardAt[i]-middle)
			}
			peak := s.Heard.Peak
			s.Heard = evidenceOf(flat, []float64{peak})
		}
	}
}

// theilSen returns the median of the slopes between all pairs (of at most some
// hundred points), and a standard error of the slope as of a straight line with
// the residuals' spread.
func theilSen(x, y []float64) (slope, se float64) {
	step := max(1, len(x)/200)
	var slopes []float64
	for i := 0; i < len(x); i += step {
		for j := i + step; j < len(x); j += step {
			if x[j] > x[i] {
				slopes = append(slopes, (y[j]-y[i])/(x[j]-x[i]))
			}
		}
	}
	slope = median(slopes)
	var mean, sxx float64
	res := make([]float64, len(x))
	for i := range x {
		mean += x[i] / float64(len(x))
	}
	for i := range x {
		sxx += (x[i] - mean) * (x[i] - mean)
		res[i] = y[i] - slope*(x[i]-mean)
	}
	mid := median(res)
	for i := range res {
		res[i] = math.Abs(res[i] - mid)
	}
	// Blocks may overlap by half, so that only every other one counts.
	return slope, 1.4826 * median(res) / math.Sqrt(sxx/2)
}

// frame is the duration of a frame of the faster capture.
func (m *matcher) frame() float64 { return 1 / max(m.a.Capture.Rate.Hz(), m.b.Capture.Rate.Hz()) }

// judge sets the confidence: what the best offset has over the next, times how
// much evidence there is, times how well the pictures' offset is known where
// they alone decide.
func (s *Stretch) judge(m *matcher) {
	margin := 1.0
	if s.Runner != nil {
		margin = 1 - s.Runner.Share
	}
	c := min(1, max(0, (margin-0.15)/0.5)) * (1 - math.Exp(-s.weight/2))
	if s.Seen != nil && (s.Heard == nil || m.skewed(s)) {
		error := s.Seen.Spread / math.Sqrt(float64(max(1, s.Seen.Blocks/2)))
		c *= min(1, m.frame()/4/max(error, 1e-9))
	}
	s.Confidence = c
}

// choose picks the stretch that the offset is of, and drops the others that
// mean little.
func (r *Result) choose(s Settings, m *matcher) {
	around := s.Around.Seconds()
	rank := func(x Stretch) float64 {
		if s.Around >= 0 {
			// The one at that moment, whatever lies elsewhere.
			return x.Confidence - 10*max(0, x.From-around, around-x.To)
		}
		return x.Confidence * math.Sqrt(x.To-x.From)
	}
	best := -1
	for i := range r.Stretches {
		if best < 0 || rank(r.Stretches[i]) > rank(r.Stretches[best]) {
			best = i
		}
	}
	var kept []Stretch
	for i, x := range r.Stretches {
		if i == best {
			r.Best = len(kept)
		}
		if i == best || x.Confidence >= Confident {
			kept = append(kept, x)
		}
	}
	r.Stretches = kept
	if r.Best < 0 {
		return
	}
	b := r.Stretches[r.Best]
	r.At, r.Offset, r.Confidence = (b.From+b.To)/2, b.Offset, b.Confidence
	if s.Around >= 0 {
		r.At = around
		r.Offset = b.OffsetAt(around)
		if outside := max(0, b.From-around, around-b.To); outside > r.Block {
			r.Confidence *= 0.3
			r.Notes = append(r.Notes, fmt.Sprintf("nothing matches at %.3f s; the nearest stretch that does is %.1f s away", around, outside))
		}
	}
	r.Notes = append(r.Notes, b.notes...)
	if m.skewed(&b) {
		skew := b.Heard.Offset - b.Seen.Offset
		r.Notes = append(r.Notes, fmt.Sprintf("sound and pictures disagree by %+.1f ms: one recorder or machine delays its sound more than the other; the pictures decide", 1000*skew))
	}
}

// OffsetAt returns the offset at a capture time of a, with the drift.
func (s *Stretch) OffsetAt(t float64) float64 {
	if math.IsNaN(s.Drift) {
		return s.Offset
	}
	return s.Offset + s.Drift*1e-6*(t-(s.From+s.To)/2)
}

// Method says what spoke for the offset: sound, pictures, or both.
func (r *Result) Method() By {
	if r.Best < 0 {
		return Both
	}
	switch b := r.Stretches[r.Best]; {
	case b.Heard == nil && b.Seen != nil:
		return Picture
	case b.Heard != nil && b.Seen == nil:
		return Sound
	}
	return Both
}
