package check

import (
	"fmt"
	"math"
	"slices"
	"time"

	"fairframe/render/pacing"
)

// begins returns when the frames begin that begin in [from, to).
func begins(frames []pacing.Frame, from, to time.Duration) []time.Duration {
	var list []time.Duration
	for _, f := range frames {
		if f.Kind == pacing.Normal && f.Begin >= from && f.Begin < to {
			list = append(list, f.Begin)
		}
	}
	return list
}

// refreshes marks the captured frames of [from, from+n) in which frames begin. A
// twentieth of a frame forgives stamps that were rounded.
func refreshes(begun []time.Duration, rate pacing.Rate, from int64, n int) []bool {
	marks := make([]bool, n)
	for _, t := range begun {
		if k := rate.FrameAt(t+rate.TimeOf(1)/20) - from; k >= 0 && k < int64(n) {
			marks[k] = true
		}
	}
	return marks
}

// alike counts the marks of kind that a and b share, and those of the one that
// has more.
func alike(a, b []bool, kind bool) (both, most int) {
	var inA, inB int
	for i := range a {
		if a[i] == kind {
			inA++
		}
		if b[i] == kind {
			inB++
		}
		if a[i] == kind && b[i] == kind {
			both++
		}
	}
	return both, max(inA, inB)
}

const (
	// farthest is how far a log is moved in search of a better place.
	farthest = 30
	// countSlack is the share by which the counts of new frames may differ: a
	// measurement sees no change where the picture hardly moves.
	countSlack = 0.10
)

// Cadence compares a log with what the pictures of a stretch show: measured and
// logged hold the frames of the game around [from, to), in capture time. Still
// stretches of the measurement say nothing and should not be given. rate is the
// capture's.
func Cadence(measured, logged []pacing.Frame, rate pacing.Rate, from, to time.Duration) []Finding {
	frame := rate.TimeOf(1)
	inner, outer := begins(measured, from+frame, to), begins(logged, from-(farthest+1)*frame,
		to+(farthest+1)*frame)
	here := begins(logged, from+frame, to)
	const few = 8 // fewer frames than these prove nothing
	if len(inner) < few {
		return nil
	}
	differ := math.Abs(float64(len(inner) - len(here)))
	if differ > 2 && differ > countSlack*float64(max(len(inner), len(here))) {
		return []Finding{Finding{Severity: Misleads, What: "the pacing log contradicts the pictures",
			Evidence: fmt.Sprintf("%d new frames measured from %.2f s to %.2f s, the log has %d",
				len(inner), from.Seconds(), to.Seconds(), len(here)),
			Remedy: "check column, means, unit and starts under pacing:, " +
				"or let fairframe measure the capture"}.AtTime(from)}
	}
	// Moved by whole frames, as the captured pictures are. What is rarer tells
	// more: at nearly one frame a refresh the repeated ones, else the new ones.
	n := int(rate.FramesIn(to - from - 2*frame))
	first := rate.FrameAt(from+frame/2) + 1
	seen := refreshes(begins(measured, from, to+frame), rate, first, n)
	wide := refreshes(outer, rate, first-farthest, n+2*farthest)
	news := 0
	for _, mark := range seen {
		if mark {
			news++
		}
	}
	kind, what := true, "new"
	if 2*news > n {
		kind, what, news = false, "repeated", n-news
	}
	if news < few {
		return nil
	}
	best, at, now := 0.0, 0, 0.0
	var bestBoth, nowBoth int
	for _, k := range nearFirst(farthest) {
		both, most := alike(seen, wide[farthest-k:farthest-k+n], kind)
		score := float64(both) / float64(most)
		if k == 0 {
			now, nowBoth = score, both
		}
		if score > best {
			best, at, bestBoth = score, k, both
		}
	}
	if at != 0 && best >= 0.85 && now <= 0.7 {
		word := "late"
		if at > 0 {
			word = "early"
		}
		by := time.Duration(at) * frame
		return []Finding{Finding{Severity: Misleads, What: LogOffset,
			Evidence: fmt.Sprintf("%d of %d captured frames measured as %s are so in the log; with "+
				"the log moved by %+.1f ms (it is %s), %d are", nowBoth, news, what, ms(by), word, bestBoth),
			Remedy: fmt.Sprintf("add %+.4f s to pacing: starts: of this capture, and check again",
				by.Seconds())}.AtTime(from)}
	}
	return nil
}

// LogOffset is what is said of a log that lies beside its pictures.
const LogOffset = "the pacing log is offset from the pictures"

// Offset judges by how much a log would have to be moved to fit the pictures, found
// anywhere in it: agree of begun new frames then agree. A captured frame is forgiven.
func Offset(by, frame time.Duration, agree, begun int, from time.Duration) []Finding {
	if max(by, -by) < frame*3/2 {
		return nil
	}
	return []Finding{Finding{Severity: Misleads, What: LogOffset,
		Evidence: fmt.Sprintf("it fits where it is moved by %+.3f s: %d of %d new frames of the "+
			"pictures are in it there", by.Seconds(), agree, begun),
		Remedy: fmt.Sprintf("add %+.4f s to pacing: starts: of this capture, and check again",
			by.Seconds())}.AtTime(from)}
}

// nearFirst returns 0, -1, 1, -2, 2 … so that of equal shifts the least wins.
func nearFirst(n int) []int {
	list := []int{0}
	for k := 1; k <= n; k++ {
		list = append(list, -k, k)
	}
	return list
}

// Extent judges what a log covers against its capture: a wrong unit shows as a
// log that is a thousand times too short or too long.
func Extent(begin, end, capture time.Duration, unit string) []Finding {
	if capture <= 0 || end <= begin {
		return nil
	}
	ratio := float64(end-begin) / float64(capture)
	for _, power := range []int{-9, -6, -3, 3, 6, 9} {
		factor := math.Pow(10, float64(power))
		// A log seldom covers the whole capture; a fifth of it is taken for it.
		if r := ratio / factor; r < 0.2 || r > 5 {
			continue
		}
		return []Finding{{Severity: Misleads, What: "the pacing log's unit seems wrong",
			Evidence: fmt.Sprintf("read as %s it covers %s, the capture lasts %.2f s: about 10^%d times",
				unit, span(end-begin), capture.Seconds(), power),
			Remedy: "set pacing: unit: to what the log counts in: s, ms, us or ns"}}
	}
	return nil
}

func span(d time.Duration) string {
	if d < time.Second {
		return fmt.Sprintf("%.3g ms", ms(d))
	}
	return fmt.Sprintf("%.4g s", d.Seconds())
}

// Moving returns the frames of a measurement and whether enough of the stretch
// moved for them to be compared with a log.
func Moving(frames []pacing.Frame, from, to time.Duration) bool {
	return !slices.ContainsFunc(frames, func(f pacing.Frame) bool {
		return f.Kind == pacing.Still && f.Begin < to && f.End() > from
	})
}

// Doubt judges how much of a scene, which starts at from, rests on doubtful frames of
// the log that is used.
func Doubt(d pacing.Doubt, from time.Duration) []Finding {
	if d.Time <= 0 {
		return nil
	}
	f := Finding{Severity: Note, What: "some frames of its pacing are doubtful",
		Evidence: d.Percent() + " of the scene rests on them",
		Remedy:   "the clip marks them; nothing need be done"}
	if d.Uncertain() {
		f.Severity, f.What, f.Evidence = Misleads, "pacing uncertain", d.Percent()+
			" of the scene rests on doubtful frames"
		f.Remedy = "record with less compression, name the part of the picture that counts with " +
			"pacing: region:, or use the machine's own log"
	}
	return []Finding{f.AtTime(from)}
}

// Measured judges what was measured of a scene: how many frames of the game begin,
// and for how long the picture stood still. from is the scene's start.
func Measured(frames int, still, from time.Duration) []Finding {
	var list []Finding
	if frames <= 1 && still == 0 {
		list = append(list, Finding{Severity: Misleads, What: "nothing moves that could be measured",
			Evidence: "no new frame in the scene",
			Remedy:   "choose another stretch, or use a log"}.AtTime(from))
	}
	return list
}
