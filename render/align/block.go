package align

import (
	"math"
)

// A block is a stretch of a that is looked for in b.
type block struct {
	from, to float64 // capture time of a, seconds
	hears    bool    // there is sound in it
	sees     bool    // something moves in it
	found    []proposal
}

// proposal is an offset that something speaks for in one block, in seconds.
type proposal struct {
	offset   float64 // of what speaks best for it
	sound    heard
	picture  seen
	bySound  float64 // the offset by the sound alone
	byEye    float64 // the offset by the pictures alone
	evidence float64 // of both, relative to the best of the block: 0 to 1 for each
	soundly  bool    // offset is the sound's
}

const (
	longest   = 6.0 // seconds of a block
	shortest  = 1.0
	proposals = 5   // of each kind, a block
	leastNCC  = 0.1 // of features, below which nothing is proposed

	soundReach   = 0.03 // seconds around a proposal by sound
	skewReach    = 0.1  // by which sound may lie beside the picture
	pictureReach = 0.15
)

// blockLength is short for short captures, so that several blocks can agree.
func blockLength(a, b *Track) float64 {
	return max(shortest, min(longest, min(a.length, b.length)/4))
}

// matcher looks for blocks of a in b.
type matcher struct {
	a, b        *Track
	by          By
	low, high   float64 // of the offsets searched, seconds
	ear         *ear
	heeded      *block // the block that ear and eye are on
	eye         *eye
	soundCurve  func(blk *block, first float64, step float64, r []float64)
	visionCurve func(blk *block, first float64, step float64, r []float64)
}

func (m *matcher) listens() bool { return m.by != Picture && m.a.sound != nil && m.b.sound != nil }
func (m *matcher) looks() bool   { return m.by != Sound && m.a.picture != nil && m.b.picture != nil }

// propose fills a block with what the features propose.
func (m *matcher) propose(blk *block) error {
	if err := m.heed(blk); err != nil {
		return err
	}
	if m.listens() {
		if blk.hears {
			if err := m.coarse(blk, m.a.sound.features, m.b.sound.features, meanOfChannels, 5, m.soundCurve, func(o float64) error {
				return m.weigh(blk, o, soundReach)
			}); err != nil {
				return err
			}
		}
	}
	if m.looks() {
		return m.coarse(blk, m.a.picture.features, m.b.picture.features, byEnergy, 4, m.visionCurve, func(o float64) error {
			return m.weigh(blk, o, skewReach)
		})
	}
	return nil
}

// coarse correlates features over the whole search range.
func (m *matcher) coarse(blk *block, fa, fb *series, join joining, apart int, curve func(*block, float64, float64, []float64), each func(offset float64) error) error {
	rate := fa.rate
	n := int((blk.to - blk.from) * rate)
	start := int64(math.Round((blk.from - m.a.from) * rate))
	a, valid, err := fa.channelsOf(start, n)
	if err != nil || n < 4 || float64(valid[1]-valid[0]) < leastOverlap*float64(n) {
		return err
	}
	// Offsets are of capture time, lags of rows of the tracks. Only lags at which
	// enough of the block lies inside b are of interest.
	shift := m.a.from - m.b.from
	lo := int64(math.Floor((m.low + shift) * rate))
	hi := int64(math.Ceil((m.high + shift) * rate))
	lo = max(lo, -start-int64((1-leastOverlap)*float64(n))-1)
	hi = min(hi, fb.rows-start-int64(leastOverlap*float64(n))+1)
	if hi < lo {
		return nil
	}
	b, valid, err := fb.channelsOf(start+lo, n+int(hi-lo))
	if err != nil || valid[0] >= valid[1] {
		return err
	}
	r := slide(a, b, valid, join)
	first := float64(lo)/rate - shift
	if curve != nil {
		curve(blk, first, 1/rate, r)
	}
	for _, p := range peaks(r, proposals, apart, leastNCC) {
		at := float64(p.at)
		if p.at > 0 && p.at+1 < len(r) {
			d, _ := vertex(r[p.at-1], r[p.at], r[p.at+1])
			at += d
		}
		if err := each(first + at/rate); err != nil {
			return err
		}
	}
	return nil
}

// heed turns ear and eye to a block.
func (m *matcher) heed(blk *block) error {
	if m.heeded == blk {
		return nil
	}
	m.heeded = blk
	if m.listens() {
		n := int((blk.to - blk.from) * soundRate)
		if m.ear == nil || m.ear.n != n {
			m.ear = newEar(n)
		}
		x, _, err := m.a.sound.read(m.sample(blk), n)
		if err != nil {
			return err
		}
		if blk.hears = loud(x); blk.hears {
			m.ear.attend(x)
		}
	}
	if m.looks() {
		f, err := m.a.picture.film(blk.from-m.a.from-0.1, blk.to-m.a.from)
		if err != nil {
			return err
		}
		m.eye = newEye(f, blk.from-m.a.from, blk.to-m.a.from)
		blk.sees = blk.sees || m.eye.moves >= leastMotion
	}
	return nil
}

// sample is the track's sample at which a block begins.
func (m *matcher) sample(blk *block) int64 {
	return int64(math.Round((blk.from - m.a.from) * soundRate))
}

// weigh listens and looks at a proposed offset, and adds it to the block unless
// it is known there.
func (m *matcher) weigh(blk *block, offset, reach float64) error {
	if err := m.heed(blk); err != nil {
		return err
	}
	for _, q := range blk.found {
		if math.Abs(q.offset-offset) < 0.002 {
			return nil
		}
	}
	var p proposal
	if m.listens() && blk.hears {
		lag := math.Round((blk.from + offset - m.b.from) * soundRate)
		b, valid, err := m.b.sound.read(int64(lag), m.ear.n)
		if err != nil {
			return err
		}
		if float64(valid[1]-valid[0]) >= leastOverlap*float64(m.ear.n) && loud(b) {
			p.sound = m.ear.listen(b, reach)
			// What was compared began at whole samples of both tracks.
			p.bySound = m.b.from + lag/soundRate - (m.a.from + float64(m.sample(blk))/soundRate) + p.sound.shift
		}
	}
	if m.looks() {
		b, err := m.b.picture.film(blk.from+offset-m.b.from-pictureReach-0.1, blk.to+offset-m.b.from+pictureReach+0.1)
		if err != nil {
			return err
		}
		p.picture = m.eye.look(b, offset+m.a.from-m.b.from, pictureReach)
		p.byEye = offset + p.picture.shift
		blk.sees = blk.sees || p.picture.moves >= leastMotion
	}
	es, ep := p.sound.evidence(), p.picture.evidence()
	if es == 0 && ep == 0 {
		return nil
	}
	p.soundly = es > 0 && (es >= ep || math.Abs(p.bySound-p.byEye) < pictureReach)
	if p.offset = p.byEye; p.soundly {
		p.offset = p.bySound
	}
	for i, q := range blk.found {
		if math.Abs(q.offset-p.offset) < 0.01 {
			if es+ep > q.sound.evidence()+q.picture.evidence() {
				blk.found[i] = p
			}
			return nil
		}
	}
	blk.found = append(blk.found, p)
	return nil
}

// compare sets the evidence of a block's proposals relative to its best ones.
func (blk *block) compare() {
	var loudest, clearest float64
	for _, p := range blk.found {
		loudest, clearest = max(loudest, p.sound.peak), max(clearest, p.picture.peak)
	}
	square := func(x, of float64) float64 {
		if of <= 0 {
			return 0
		}
		x = max(0, x) / of
		return x * x
	}
	for i := range blk.found {
		p := &blk.found[i]
		p.evidence = p.sound.evidence()*square(p.sound.peak, loudest) + p.picture.evidence()*square(p.picture.peak, clearest)
	}
}
