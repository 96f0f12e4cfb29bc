package align

import (
	"context"
	"fmt"
	"math"
	"time"
)

// Loop is the third side of three captures: the second against the third. The way
// from the first to the third must be as long as that by the second.
type Loop struct {
	B, C string
	// Result is C against B; nil when one of the other sides matches nothing, so
	// that there is nothing to compare it with.
	*Result
	// Compared says that all three sides hold at one instant, and Gap by how many
	// seconds the way by B is longer there than the way from A to C; where there are
	// several stretches, the largest. At is that instant in A's capture time.
	Compared bool
	Gap, At  float64
	frame    float64 // seconds of the fastest capture
}

// Agrees reports whether the three offsets agree within half a frame.
func (l *Loop) Agrees() bool { return l.Compared && math.Abs(l.Gap) <= l.frame/2 }

// contradicted is what is left of the confidence of offsets that contradict each
// other: one of them is wrong, and nothing says which.
const contradicted = 0.4

// closeLoop aligns the second of three captures with the third, and takes the
// confidence from offsets that do not agree. moment says that only the surroundings
// of a moment are of interest.
func closeLoop(ctx context.Context, pairs []Pair, tracks []*Track, s Settings,
	moment bool) (*Loop, error) {
	ab, ac := &pairs[0], &pairs[1]
	l := &Loop{B: ab.B, C: ac.B}
	for _, c := range tracks {
		l.frame = max(l.frame, c.Capture.Rate.Hz())
	}
	l.frame = 1 / l.frame
	if !ab.Matched() || !ac.Matched() {
		return l, nil
	}
	if moment {
		best := ab.Stretches[ab.Best]
		s.From, s.To = seconds(best.From+ab.Offset), seconds(best.To+ab.Offset)
		s.Around = seconds(s.Around.Seconds() + ab.Offset)
	}
	var err error
	if l.Result, err = Match(ctx, tracks[1], tracks[2], s); err != nil {
		return nil, err
	}
	for i := range ab.Stretches {
		for j := range ac.Stretches {
			l.compare(ab, ac, i, j)
		}
	}
	return l, nil
}

func seconds(s float64) time.Duration {
	return max(0, time.Duration(math.Round(s*float64(time.Second))))
}

// compare closes the loop in two stretches, with each of B's against C that lies
// within both.
func (l *Loop) compare(ab, ac *Pair, i, j int) {
	p, q := &ab.Stretches[i], &ac.Stretches[j]
	if p.Confidence < Confident || q.Confidence < Confident {
		return
	}
	for k := range l.Stretches {
		r := &l.Stretches[k]
		if r.Confidence < Confident {
			continue
		}
		from, to := max(p.From, q.From, r.From-p.Offset), min(p.To, q.To, r.To-p.Offset)
		if to-from <= l.Block {
			continue // where stretches end is known to half a block
		}
		at := (from + to) / 2
		b := at + p.OffsetAt(at)
		gap := p.OffsetAt(at) + r.OffsetAt(b) - q.OffsetAt(at)
		if !l.Compared || math.Abs(gap) > math.Abs(l.Gap) {
			l.Compared, l.Gap, l.At = true, gap, at
		}
		if math.Abs(gap) <= l.frame/2 {
			continue
		}
		for _, side := range []struct {
			pair *Pair
			i    int
		}{{ab, i}, {ac, j}} {
			side.pair.Stretches[side.i].Confidence *= contradicted
			if side.i == side.pair.Best {
				side.pair.Confidence *= contradicted
				side.pair.Notes = append(side.pair.Notes, l.contradiction())
			}
		}
		return
	}
}

func (l *Loop) contradiction() string {
	return fmt.Sprintf("%s against %s contradicts it: at %.3f s the two offsets through %s add up to "+
		"%+.1f ms more, over half a frame; one of the three is wrong",
		l.C, l.B, l.At, l.B, 1000*l.Gap)
}

// Verdict says in a sentence what the check of the third side came to.
func (l *Loop) Verdict() string {
	switch {
	case l.Result == nil:
		return "not compared: one of the offsets is not reliable"
	case !l.Compared:
		return "nothing to check with: all three never match at one instant"
	case l.Agrees():
		return fmt.Sprintf("through %s the offset differs by %.1f ms, within half a frame",
			l.B, 1000*math.Abs(l.Gap))
	}
	return fmt.Sprintf("contradiction: through %s the offset differs by %+.1f ms at %.3f s; one of "+
		"the three offsets is wrong", l.B, 1000*l.Gap, l.At)
}
