package align

import (
	"math"
	"slices"
	"time"

	"fairframe/render/pacing"
)

// LogFit says where a pacing log lies on a capture.
type LogFit struct {
	Shift       time.Duration // what to add to the log's times
	Confidence  float64       // 0 to 1; from Confident on, Shift may be relied on
	Correlation float64       // of new frames in the log and in the pictures, at Shift
	Compared    int           // captured frames that both know of, at Shift
	Begun       int           // frames of the game that the pictures show there
	Agree       int           // of these, those that the log has within half a captured frame
	Runner      *Runner       // the next best shift and its share of the correlation; nil: none
}

// Matched reports whether the shift may be relied on.
func (f LogFit) Matched() bool { return f.Confidence >= Confident }

const (
	// phases is in how many parts of a captured frame shifts are tried.
	phases = 4
	// fewMarks is how many captured frames of the rarer kind, new or repeated, there
	// must be for full confidence.
	fewMarks = 8
	// leastWrong is the share of captured frames that are taken to be wrong in the log
	// or the measurement, however well they agree.
	leastWrong = 0.01
	// clearLead is by how many nats the best shift must explain the pictures better
	// than the next best one for full confidence.
	clearLead = 15
)

// FitLog finds the shift of a log, of any size, at which its frames begin where the
// pictures show new ones: the highest correlation of the two over the captured
// frames that both know of. measured and logged hold frames in order; still
// stretches of the measurement do not count, doubtful frames count half.
func FitLog(measured, logged []pacing.Frame, rate pacing.Rate) LogFit {
	if len(measured) < 2 || len(logged) < 2 {
		return LogFit{}
	}
	frame := rate.TimeOf(1)
	first := rate.FrameAt(measured[0].Begin + frame/20)
	n := int(rate.FrameAt(measured[len(measured)-1].End()+frame/20) - first)
	seen := marksOf(measured, rate, first, n)
	zero := logged[0].Begin
	m := int((logged[len(logged)-1].End()-zero)/frame) + 2
	if n < 2 || m > 1<<26 { // more than 12 days
		return LogFit{}
	}
	size := fastSize(n + m)
	weight, marked, squared := make([]float64, size), make([]float64, size), make([]float64, size)
	var all, ones float64
	for k, w := range seen.weight {
		weight[k], marked[k], squared[k] = w, w*seen.count[k], w*seen.count[k]*seen.count[k]
		all += w
		if w > 0 && seen.count[k] > 0 {
			ones++
		}
	}
	if all < 2 || ones == 0 {
		return LogFit{}
	}
	known := make([]float64, size)
	for k := range m {
		known[k] = 1
	}
	// What of the measurement lies within the log is the same for all phases.
	sumW, sumA, sumAA := generalised(weight, known, plain), generalised(marked, known, plain), generalised(squared, known, plain)
	full := min(all, float64(m))
	scores := make([][]float64, phases)
	best, bestPhase, bestLag := 0.0, 0, 0
	for p := range phases {
		begun, begun2 := make([]float64, size), make([]float64, size)
		ahead := frame * time.Duration(p) / phases
		for _, f := range logged {
			if f.Kind == pacing.Normal {
				begun[int((f.Begin-zero+ahead)/frame)]++
			}
		}
		for k, v := range begun {
			begun2[k] = v * v
		}
		sumAB, sumB, sumBB := generalised(marked, begun, plain), generalised(weight, begun, plain), generalised(weight, begun2, plain)
		scores[p] = make([]float64, size)
		for k := range size {
			w := sumW[k]
			if w < 0.6*full || w < 30 {
				continue
			}
			cov, va, vb := sumAB[k]-sumA[k]*sumB[k]/w, sumAA[k]-sumA[k]*sumA[k]/w, sumBB[k]-sumB[k]*sumB[k]/w
			if va < 1e-6*w || vb < 1e-6*w {
				continue
			}
			scores[p][k] = cov / math.Sqrt(va*vb) * math.Sqrt(min(1, w/full))
			if scores[p][k] > best+1e-9 {
				best, bestPhase, bestLag = scores[p][k], p, k
			}
		}
	}
	if best == 0 {
		return LogFit{}
	}
	shiftOf := func(p, lag int) time.Duration {
		if lag > size/2 || lag >= m {
			lag -= size
		}
		// Captured frame first+k holds what begins in the log's frame k+lag.
		return rate.TimeOf(first) - zero - time.Duration(lag)*frame + frame*time.Duration(p)/phases
	}
	fit := LogFit{Shift: shiftOf(bestPhase, bestLag), Correlation: best, Compared: int(sumW[bestLag] + 0.5)}
	second, at := 0.0, time.Duration(0)
	for p := range phases {
		for k, v := range scores[p] {
			if d := shiftOf(p, k) - fit.Shift; v > second && max(d, -d) > frame*3/2 {
				second, at = v, d+fit.Shift
			}
		}
	}
	if second > 0 {
		fit.Runner = &Runner{Offset: at.Seconds(), Share: second / best}
	}
	// Captured frames in which log and pictures differ, by the variance of the marks.
	w := sumW[bestLag]
	spread := (sumAA[bestLag] - sumA[bestLag]*sumA[bestLag]/w) / w
	differ := func(score float64) float64 { return 2 * w * spread * (1 - score) }
	wrong := min(0.45, max(leastWrong, differ(best)/w))
	lead := (differ(second) - differ(best)) * math.Log((1-wrong)/wrong)
	rare := min(ones, all-ones)
	fit.Confidence = clamp01((best-0.25)/0.5) * clamp01(lead/clearLead) * clamp01(rare/fewMarks)
	if bestLag > size/2 || bestLag >= m {
		bestLag -= size
	}
	fit.refine(measured, logged, frame,
		func(t time.Duration) int { return int(rate.FrameAt(t+frame/20)-first) + bestLag },
		func(t time.Duration) int { return int((t - zero + frame*time.Duration(bestPhase)/phases) / frame) })
	return fit
}

func clamp01(x float64) float64 { return max(0, min(1, x)) }

// marks are the captured frames of a stretch: how many frames of the game begin in
// each, and how much each counts.
type marks struct{ count, weight []float64 }

// marksOf forgives begins that were rounded by a twentieth of a captured frame.
func marksOf(frames []pacing.Frame, rate pacing.Rate, first int64, n int) marks {
	m := marks{make([]float64, n), make([]float64, n)}
	slack := rate.TimeOf(1) / 20
	for i, f := range frames {
		from, to := rate.FrameAt(f.Begin+slack)-first, rate.FrameAt(f.End()+slack)-first
		w := 1.0
		switch {
		case f.Kind == pacing.Still:
			w = 0
		case f.Doubtful:
			w = 0.5
		}
		for k := max(0, from); k < min(int64(n), to); k++ {
			m.weight[k] = max(m.weight[k], w)
		}
		// The first frame may have begun before what was measured.
		if i > 0 && w > 0 && from >= 0 && from < int64(n) {
			m.count[from]++
			m.weight[from] = max(m.weight[from], w)
		}
	}
	return m
}

// refine moves the shift by the median of what those frames differ by that stand
// alone in captured frames that belong together, which bin tells of the log's, and
// counts the frames that then agree.
func (f *LogFit) refine(measured, logged []pacing.Frame, frame time.Duration, captured func(t time.Duration) int, bin func(t time.Duration) int) {
	alone := map[int]int{} // by captured frame: of the log's frames one more than the index, -1: there are more
	for i, one := range logged {
		k := bin(one.Begin)
		if _, taken := alone[k]; taken {
			alone[k] = -1
		} else {
			alone[k] = i + 1
		}
	}
	var off []time.Duration
	for _, one := range measured[1:] {
		if i := alone[captured(one.Begin)]; i > 0 && one.Kind == pacing.Normal {
			off = append(off, one.Begin-logged[i-1].Begin)
		}
	}
	if len(off) > 0 {
		slices.Sort(off)
		f.Shift = off[len(off)/2]
	}
	j := 0
	for _, one := range measured[1:] {
		if one.Kind != pacing.Normal {
			continue
		}
		for j+1 < len(logged) && logged[j+1].Begin+f.Shift <= one.Begin {
			j++
		}
		near := func(i int) bool {
			d := one.Begin - logged[i].Begin - f.Shift
			return max(d, -d) <= frame/2
		}
		f.Begun++
		if near(j) || j+1 < len(logged) && near(j+1) {
			f.Agree++
		}
	}
}
