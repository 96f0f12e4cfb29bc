package measure

import (
	"math"
	"slices"
)

// measures of how much a whole picture changed: the mean difference, that of the
// cell that changed most, and that of the cells' means, in which noise averages out.
const measures = 3

// A timeline is a hidden Markov model of a window's captured frames: the states
// are the phases of cadences, and what is seen are the differences of whole
// pictures. After Rabiner, Proceedings of the IEEE 77 (1989), from memory: the
// forward-backward procedure gives each frame's odds, and what they say of the
// differences is estimated anew from these, in turn.
type timeline struct {
	phases []phase
	x      [][measures]float64 // by frame: logarithms, base 2

	// What is thought of each frame: the probability that it is new, the octaves
	// since the one before if so, the log odds of new over repeated, and those by
	// what is seen of this frame alone.
	// weight is 1 for frames of which something is thought yet.
	fresh, gap, odds, alone, weight []float64
	steady                          float64 // share of the frames in patterns of both kinds
	period                          int     // of the cadence it was started from, in captured frames
	worth                           float64 // nats a frame by which it explains the window better than no cadence
	apart                           bool    // the start was a division by size, not a cadence

	// What is seen: differences of repeated frames are normal about level[0], along
	// the direction in which the two kinds differ most, and those of new ones about
	// level[1], and slope more for each octave of the gap before them.
	direction     [measures]float64
	level, spread [2]float64
	slope         float64
	step          [measures]float64 // from repeated to new, in octaves

	seenAs  [][longestPattern + 1]float64
	forward []float64 // by frame and state
}

// What the chain may do other than follow its pattern, in each frame.
const (
	leave = 0.01 // for any other phase
	hold  = 0.01 // stay in the phase it is in
	stray = 0.01 // show a frame of the other kind
)

// outlier is the density of differences that neither kind explains.
const outlier = 1e-4

func newTimeline(w *window) *timeline {
	n := len(w.obs)
	t := &timeline{phases: phases(), x: make([][measures]float64, n)}
	for _, v := range []*[]float64{&t.fresh, &t.gap, &t.odds, &t.alone, &t.weight} {
		*v = make([]float64, n)
	}
	near := make([]float64, n)
	for i, o := range w.obs {
		near[i] = o.near
	}
	sorted := make([]float64, n)
	for f, raw := range [measures][]float64{w.wholeRaw[meanView], w.wholeRaw[peakView], near} {
		copy(sorted, raw)
		slices.Sort(sorted)
		offset := 0.02*sorted[n*9/10] + 1e-5
		// Key frames and cuts are few, and must not draw the kinds to them.
		low, high := sorted[n/25], sorted[n-1-n/25]
		for i, v := range raw {
			t.x[i][f] = math.Log2(min(max(v, low), high) + offset)
		}
	}
	return t
}

// settle estimates the two kinds and the frames in turn. It reports whether
// there are two.
func (t *timeline) settle() bool {
	before := make([]float64, len(t.x))
	for range 8 {
		copy(before, t.fresh)
		if !t.estimate() {
			return false
		}
		t.follow()
		if slices.EqualFunc(before, t.fresh, func(a, b float64) bool { return math.Abs(a-b) < 0.01 }) {
			break
		}
	}
	return true
}

// estimate takes the two kinds from what is thought of the frames: their means
// and common covariance, the direction that parts them best (Fisher, Annals of
// Eugenics 7, 1936), and their spreads along it.
func (t *timeline) estimate() bool {
	var n [2]float64
	var mean [2][measures]float64
	gap := 0.0
	for i, x := range t.x {
		for k, p := range t.shares(i) {
			n[k] += p
			for f := range measures {
				mean[k][f] += p * x[f]
			}
		}
		gap += t.fresh[i] * t.gap[i]
	}
	if n[0] < 3 || n[1] < 3 {
		return false
	}
	for k := range mean {
		for f := range measures {
			mean[k][f] /= n[k]
		}
	}
	gap /= n[1]
	var slope [measures]float64
	vary := 0.0
	for i, x := range t.x {
		d := t.fresh[i] * (t.gap[i] - gap)
		vary += d * (t.gap[i] - gap)
		for f := range measures {
			slope[f] += d * (x[f] - mean[1][f])
		}
	}
	for f := range measures {
		if vary <= leastVary*n[1] {
			slope[f] = 0
			continue
		}
		slope[f] = min(max(slope[f]/vary, 0), mostSlope)
		mean[1][f] -= slope[f] * gap
	}
	var within [measures][measures]float64
	for i, x := range t.x {
		for k, p := range t.shares(i) {
			var rest [measures]float64
			for f := range measures {
				rest[f] = x[f] - mean[k][f] - float64(k)*slope[f]*t.gap[i]
			}
			for f := range measures {
				for g := range measures {
					within[f][g] += p * rest[f] * rest[g] / (n[0] + n[1])
				}
			}
		}
	}
	for f := range measures {
		within[f][f] += 0.02
		t.step[f] = mean[1][f] - mean[0][f]
	}
	t.direction = solve(within, t.step)
	apart := 0.0
	for f := range measures {
		apart += t.direction[f] * t.step[f]
	}
	if apart <= 0 {
		return false
	}
	t.slope = 0
	for f := range measures {
		t.direction[f] /= math.Sqrt(apart)
		t.slope += t.direction[f] * slope[f]
	}
	t.slope = max(t.slope, 0)
	var sum, squares [2]float64
	for i := range t.x {
		y := t.along(i)
		for k, p := range t.shares(i) {
			v := y - float64(k)*t.slope*t.gap[i]
			sum[k] += p * v
			squares[k] += p * v * v
		}
	}
	for k := range sum {
		t.level[k] = sum[k] / n[k]
		t.spread[k] = math.Sqrt((max(0, squares[k]-sum[k]*t.level[k])+0.3)/(n[k]+1) + 0.1)
	}
	return true
}

// density returns that of what was seen where the chain is in phase p.
func (p phase) density(seen *[longestPattern + 1]float64) float64 {
	if p.pattern < 0 {
		return seen[p.since]
	}
	return (1-stray)*seen[p.since] + stray*seen[1-min(p.since, 1)]
}

// shares returns how much frame i counts as repeated and as new.
func (t *timeline) shares(i int) [2]float64 {
	return [2]float64{t.weight[i] * (1 - t.fresh[i]), t.weight[i] * t.fresh[i]}
}

// along returns frame i's difference along the direction that parts the kinds.
func (t *timeline) along(i int) float64 {
	y := 0.0
	for f := range measures {
		y += t.direction[f] * t.x[i][f]
	}
	return y
}

// seen returns the densities of frame i's difference: that of a repeated frame at
// 0, and those of new ones by the captured frames since the one before. What differs
// less than repeated frames do is repeated, and what differs more than new ones is new.
func (t *timeline) seen(i int) (density [longestPattern + 1]float64) {
	y := t.along(i)
	normal := func(off, spread float64) float64 { return math.Exp(-off*off/spread/spread/2)/spread + outlier }
	density[0] = normal(max(y-t.level[0], 0), t.spread[0])
	density[1] = normal(min(y-t.level[1], 0), t.spread[1])
	for since := 2; since <= longestPattern; since++ {
		density[since] = normal(y-t.level[1]-t.slope*math.Log2(float64(since)), t.spread[1])
	}
	return density
}

// follow works out what is to be thought of each frame, by the forward-backward
// procedure.
func (t *timeline) follow() {
	n, states := len(t.x), len(t.phases)
	free := states - 2
	t.seenAs, t.forward = slices.Grow(t.seenAs[:0], n)[:n], slices.Grow(t.forward[:0], n*states)[:n*states]
	before := slices.Repeat([]float64{1 / float64(states)}, states)
	for i := range n {
		e := t.seen(i)
		t.seenAs[i] = e
		t.alone[i] = math.Log(e[1] / e[0])
		now := t.forward[i*states : (i+1)*states]
		if i == 0 {
			copy(now, before)
		} else {
			// before sums to 1.
			for s := range now {
				now[s] = leave / float64(states)
			}
			for s, p := range t.phases[:free] {
				now[p.next] += (1 - leave - hold) * before[s]
				now[s] += hold * before[s]
			}
			either := (1 - leave) * (before[free] + before[free+1]) / 2
			now[free] += either
			now[free+1] += either
		}
		sum := 0.0
		for s, p := range t.phases {
			now[s] *= p.density(&e)
			sum += now[s]
		}
		for s := range now {
			now[s] /= sum
		}
		before = now
	}
	after, now := slices.Repeat([]float64{1}, states), make([]float64, states)
	t.steady = 0
	for i := n - 1; i >= 0; i-- {
		e := t.seenAs[i]
		var same, fresh, gap, steady float64
		for s, p := range t.phases {
			here := t.forward[i*states+s] * after[s]
			strays := 0.0
			if p.pattern >= 0 {
				strays = stray * e[1-min(p.since, 1)] / p.density(&e)
				if patterns[p.pattern].period > 1 {
					steady += here
				}
			}
			if p.fresh {
				fresh += here * (1 - strays)
				same += here * strays
				gap += here * p.gap
			} else {
				same += here * (1 - strays)
				fresh += here * strays
			}
		}
		t.steady += steady / (same + fresh) / float64(n)
		t.weight[i], t.fresh[i] = 1, fresh/(same+fresh)
		t.gap[i] = gap / max(fresh, 1e-9*(same+fresh))
		t.odds[i] = math.Log((fresh + 1e-300) / (same + 1e-300))
		// One frame back.
		sum := 0.0
		for s := range after {
			after[s] *= t.phases[s].density(&e)
			sum += after[s]
		}
		for s, p := range t.phases[:free] {
			now[s] = leave/float64(states) + ((1-leave-hold)*after[p.next]+hold*after[s])/sum
		}
		now[free] = leave/float64(states) + (1-leave)*(after[free]+after[free+1])/2/sum
		now[free+1] = now[free]
		after, now = now, after
	}
}

// solve returns the x for which ax = b, of a positive definite a, by elimination.
func solve(a [measures][measures]float64, b [measures]float64) [measures]float64 {
	for i := range measures {
		for j := i + 1; j < measures; j++ {
			by := a[j][i] / a[i][i]
			for k := i; k < measures; k++ {
				a[j][k] -= by * a[i][k]
			}
			b[j] -= by * b[i]
		}
	}
	for i := measures - 1; i >= 0; i-- {
		for k := i + 1; k < measures; k++ {
			b[i] -= a[i][k] * b[k]
		}
		b[i] /= a[i][i]
	}
	return b
}
