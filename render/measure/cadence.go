package measure

import (
	"math"
	"slices"
)

// A pattern is a steady cadence: fresh of every period captured frames are new,
// spread as evenly as whole frames allow.
type pattern struct{ period, fresh int }

// patterns are those that are looked for. At 60 Hz they are 60, 30, 20, 40, 15,
// 45, 12, 24, 36, 48, 10 and 50 frames a second, and none at all.
var patterns = [...]pattern{{1, 0}, {1, 1}, {2, 1}, {3, 1}, {3, 2}, {4, 1}, {4, 3}, {5, 1}, {5, 2}, {5, 3}, {5, 4}, {6, 1}, {6, 5}}

const longestPattern = 6 // captured frames

// A phase is a captured frame's place in a pattern.
type phase struct {
	pattern int // -1: none, any frame may follow
	next    int // the phase that follows
	fresh   bool
	since   int     // captured frames since the new one before, of a new one
	gap     float64 // the same in octaves
}

// phases lists those of all patterns, and at the end the two of no pattern,
// the repeated frame's first.
func phases() []phase {
	var list []phase
	for p, k := range patterns {
		first := len(list)
		fresh := func(i int) bool { return (i+k.period)*k.fresh%k.period < k.fresh }
		for i := range k.period {
			s := phase{pattern: p, next: first + (i+1)%k.period, fresh: fresh(i)}
			if s.fresh {
				for s.since = 1; !fresh(i - s.since); s.since++ {
				}
				s.gap = math.Log2(float64(s.since))
			}
			list = append(list, s)
		}
	}
	return append(list, phase{pattern: -1}, phase{pattern: -1, fresh: true, since: 1})
}

// byCadence decides the window's frames by their cadence, where there is a steady
// one: frames that hardly differ one by one do so together, when every second or
// every third of them is of another kind. What is believed already it changes only
// where a proven cadence contradicts it, and marks where it does now and then. It
// reports whether v is to be believed.
func (w *window) byCadence(v *verdict, credible bool) bool {
	if w.exact || credible && v.gain >= clearGain {
		return credible
	}
	t := newTimeline(w)
	if !t.fits(w, t.cadence()) && !t.fits(w, t.division()) {
		return credible
	}
	n := len(w.obs)
	proven := t.worth >= provenCadence && t.steady >= provenSteady && t.agrees(w)
	if credible {
		if !proven {
			return true
		}
		var odd []int
		for i, fresh := range w.labelsOf(v.starts)[w.above] {
			if fresh != (t.odds[i] > 0) {
				odd = append(odd, i)
			}
		}
		if len(odd)*20 < n {
			for _, i := range odd {
				v.sure[i] = 0
			}
			return true
		}
	}
	v.starts, v.torn, v.paced = v.starts[:0], 0, true
	for i, odds := range t.odds {
		if odds > 0 {
			v.starts = append(v.starts, i*w.steps)
		}
		// A frame of which the pictures say nothing is doubtful, whatever the cadence says.
		v.sure[i] = 0
		if t.alone[i]*math.Copysign(1, odds) > leastAlone {
			v.sure[i] = math.Abs(odds)
		}
	}
	return proven
}

// What a cadence must explain, in nats a frame and in all, to be taken for the best
// guess, and what to be proof. The sweep of the confusion table set them: of 190
// windows that cadences above provenCadence decided, 7 held more than a few errors.
const (
	leastCadence, leastCadenceNats = 0.2, 30
	provenCadence, provenSteady    = 0.7, 0.9
	// leastAlone is the evidence of its own, in nats, of a frame that is not doubtful.
	leastAlone = 1
	// clearGain is the gain of a division that needs no second opinion.
	clearGain = 1
)

// fits takes a start that is better by gain nats a frame than no cadence, and
// reports whether it leads to an explanation of the window.
func (t *timeline) fits(w *window, gain float64) bool {
	if gain < leastCadence || !t.settle() {
		return false
	}
	t.worth = min(gain, t.gain())
	return t.worth >= leastCadence && t.worth*float64(len(t.x)) >= leastCadenceNats && t.tells(w)
}

// cadence looks for the steady cadence that explains one of the measures best, in the
// window or, since games fall out of step, in a half of it. It takes it for a start,
// and returns by how many nats a frame it is better than no cadence.
func (t *timeline) cadence() float64 {
	n := len(t.x)
	best, from, to, at := 0.0, 0, 0, 0
	for _, part := range [][2]int{{0, n}, {0, n / 2}, {n / 4, n/4 + n/2}, {n - n/2, n}} {
		least := best
		if part[1]-part[0] < n {
			// A half has to be much better: less was seen.
			least = 1.5*best + 0.1
		}
		for f := range measures {
			for s, p := range t.phases {
				if p.pattern < 0 || patterns[p.pattern].period == 1 {
					continue
				}
				if g := t.explains(f, part[0], part[1], s); g > max(best, least) {
					best, from, to, at = g, part[0], part[1], s
				}
			}
		}
	}
	if p := t.phases[at].pattern; p >= 0 {
		t.period = patterns[p].period
	}
	for i := from; i < to; i++ {
		p := t.phases[at]
		t.weight[i], t.gap[i], at = 1, p.gap, p.next
		if p.fresh {
			t.fresh[i] = 1
		}
	}
	return best
}

// division starts from no cadence, but from differences that fall into two kinds by
// themselves, and returns by how many nats a frame they do.
func (t *timeline) division() float64 {
	n := len(t.x)
	x := make([]float64, n)
	best := 0.0
	for f := range measures {
		for i := range x {
			x[i] = t.x[i][f]
		}
		if s := bestSplit(x, nil, leastMeasureSpread); s.gain > best {
			best = s.gain
			for i, v := range x {
				t.weight[i], t.fresh[i], t.gap[i] = 1, 0, 0
				if v > s.at {
					t.fresh[i] = 1
				}
			}
		}
	}
	t.apart = true
	return best
}

// explains returns by how many nats a frame measure f of frames from to to is
// explained better by the pattern that is in phase s at first than by one normal
// distribution.
func (t *timeline) explains(f, from, to, s int) float64 {
	var k kinds
	for i := from; i < to; i++ {
		p := t.phases[s]
		k.add(t.x[i][f], p.fresh, p.gap)
		s = p.next
	}
	return k.gain()
}

// gain returns by how many nats a frame the measure that is explained best is
// explained better by what is thought of the frames than by one normal distribution.
func (t *timeline) gain() float64 {
	best := 0.0
	for f := range measures {
		var k kinds
		for i, x := range t.x {
			k.add(x[f], t.odds[i] > 0, t.gap[i])
		}
		best = max(best, k.gain())
	}
	return best
}

// kinds sums up values of repeated frames, 0, and of new ones, 1.
type kinds struct {
	n, sum, squares  [2]float64
	gap, gaps, cross float64 // of new ones
}

func (k *kinds) add(x float64, fresh bool, gap float64) {
	kind := 0
	if fresh {
		kind = 1
		k.gap += gap
		k.gaps += gap * gap
		k.cross += gap * x
	}
	k.n[kind]++
	k.sum[kind] += x
	k.squares[kind] += x * x
}

// gain returns by how many nats a value they are explained better by two normal
// distributions than by one. The mean of new frames moves up with the gap before
// them, since things have then moved further.
func (k *kinds) gain() float64 {
	if k.n[0] < 3 || k.n[1] < 3 {
		return 0
	}
	same, fresh := k.sum[0]/k.n[0], k.sum[1]/k.n[1]
	rest := [2]float64{max(k.squares[0]-k.sum[0]*same, 0), k.squares[1] - k.sum[1]*fresh}
	if vary := k.gaps - k.gap*k.gap/k.n[1]; vary > leastVary*k.n[1] {
		along := k.cross - k.gap*fresh
		slope := min(max(along/vary, 0), mostSlope)
		rest[1] += slope*slope*vary - 2*slope*along
		fresh -= slope * k.gap / k.n[1]
	}
	rest[1] = max(rest[1], 0)
	// What is new must differ more, by four standard errors.
	if d := fresh - same; d <= 0 || d*d < 16*(rest[0]/k.n[0]/k.n[0]+rest[1]/k.n[1]/k.n[1]+1e-6) {
		return 0
	}
	all, sum := k.n[0]+k.n[1], k.sum[0]+k.sum[1]
	cost := func(n, rest float64) float64 {
		return n / 2 * math.Log(max(rest, 0)/n+leastMeasureSpread*leastMeasureSpread)
	}
	return (cost(all, k.squares[0]+k.squares[1]-sum*sum/all) - cost(k.n[0], rest[0]) - cost(k.n[1], rest[1])) / all
}

// encoderPeriod is the period that encoders make by themselves, of three B pictures
// between others (common practice); plainEncoder is asked of it, in nats a frame.
const encoderPeriod, plainEncoder = 4, 0.9

// tells reports whether the two kinds are what they are taken for: new frames must
// differ more by a factor, the less so the plainer the cadence is, or repeated ones
// by noise alone.
func (t *timeline) tells(w *window) bool {
	noise, step := t.noise(w), slices.Max(t.step[:])
	if t.apart {
		// Without a cadence only noise tells: nothing else makes differences of one
		// size in repeated frames, and only the means of cells hear much more in
		// new ones.
		return noise > leastWhite && noise < mostWhite &&
			t.step[0] > 0 && t.step[0] < leastStep && t.step[1] > 0 && t.step[2] > 0.4
	}
	plain := plainCadence
	if t.period == encoderPeriod {
		plain = plainEncoder
	}
	return t.steady >= 0.5 && (step >= leastStep || step >= plainStep && t.worth >= plain ||
		noise < white || !w.intra && t.worth >= 0.5 && noise < whiteness)
}

// agrees reports whether all measures find new frames to differ more, or repeated
// ones to differ by noise. An encoder may leave small motion out of most frames and
// catch up in others, but seldom everywhere in the picture: where few are new, all
// measures must say so plainly.
func (t *timeline) agrees(w *window) bool {
	least := plainStep
	if mean(t.fresh) < sparse {
		least = leastStep
	}
	return slices.Min(t.step[:]) >= least || t.noise(w) < whiteness
}

// noise returns the part of the repeated frames' differences that is left in the
// means of cells.
func (t *timeline) noise(w *window) float64 {
	return w.noiseAmong(func(i int) bool { return t.odds[i] <= 0 })
}

const (
	mostSlope             = 1.2      // octaves of difference an octave of gap
	leastMeasureSpread    = 0.05     // octaves
	leastStep, plainStep  = 1.0, 0.5 // octaves
	sparse                = 0.375    // of the frames are new
	plainCadence          = 0.3      // nats a frame
	leastVary             = 0.02     // of gaps, in octaves squared, for a slope to be told
	leastWhite, mostWhite = 0.1, 0.2
)
