package align

import (
	"math/rand/v2"
	"testing"
	"time"

	"fairframe/render/pacing"
)

// playFrames returns frames that take one to three refreshes of 60 Hz at random, from begin on.
func playFrames(seed uint64, n int, kinds ...int64) []pacing.Frame {
	rng := rand.New(rand.NewPCG(seed, 1))
	r := pacing.Rate{Num: 60, Den: 1}
	var list []pacing.Frame
	at := int64(0)
	for range n {
		k := kinds[rng.IntN(len(kinds))]
		list = append(list, pacing.Frame{Begin: r.TimeOf(at), Time: r.TimeOf(at+k) - r.TimeOf(at)})
		at += k
	}
	return list
}

func moved(list []pacing.Frame, by time.Duration) []pacing.Frame {
	var out []pacing.Frame
	for _, f := range list {
		f.Begin += by
		out = append(out, f)
	}
	return out
}

// within are the frames that lie in a stretch.
func within(list []pacing.Frame, from, to time.Duration) []pacing.Frame {
	var out []pacing.Frame
	for _, f := range list {
		if f.Begin >= from && f.End() <= to {
			out = append(out, f)
		}
	}
	return out
}

// A log is found wherever it lies, to a fraction of a captured frame, and where many
// places are as good, or none is, none may be relied on.
func TestFitLog(t *testing.T) {
	r := pacing.Rate{Num: 60, Den: 1}
	const ms = time.Millisecond
	all := playFrames(3, 20000, 1, 1, 1, 2, 2, 3) // nine minutes
	jitter := moved(all, 0)
	rng := rand.New(rand.NewPCG(5, 1))
	for i := range jitter {
		jitter[i].Begin += time.Duration(rng.Int64N(int64(5 * ms)))
	}
	wrong := moved(all, 0)
	for i := range wrong {
		if i%10 == 0 { // one decision in ten is off by a frame
			wrong[i].Begin += r.TimeOf(1)
		}
	}
	for _, c := range []struct {
		name             string
		measured, logged []pacing.Frame
		want, allowed    time.Duration
		matched          bool
	}{
		{"in place", within(all, 0, 30*time.Second), all, 0, 0, true},
		{"four seconds of a long log", within(all, 300*time.Second, 304*time.Second), moved(all, -37*time.Second), 37 * time.Second, 0, true},
		{"any offset", within(all, 100*time.Second, 140*time.Second), moved(all, 123456*ms), -123456 * ms, 0, true},
		{"a fraction of a frame", within(all, 100*time.Second, 130*time.Second), moved(all, 5*ms), -5 * ms, 50 * time.Microsecond, true},
		{"a log that ends early", all, within(all, 200*time.Second, 230*time.Second), 0, 0, true},
		{"stamps of a clock", within(all, 20*time.Second, 50*time.Second), moved(jitter, 1700000000*time.Second), -1700000000 * time.Second, 4 * ms, true},
		{"a measurement with mistakes", within(wrong, 20*time.Second, 50*time.Second), moved(all, 9*time.Second), -9 * time.Second, 0, true},
		{"steady", within(playFrames(1, 4000, 2), 0, 30*time.Second), moved(playFrames(1, 4000, 2), time.Second), 0, 0, false},
		{"every refresh", within(playFrames(1, 4000, 1), 0, 30*time.Second), playFrames(1, 4000, 1), 0, 0, false},
		{"another run", within(playFrames(8, 4000, 1, 2, 3), 0, 30*time.Second), all, 0, 0, false},
		{"nothing", nil, all, 0, 0, false},
	} {
		f := FitLog(c.measured, c.logged, r)
		if f.Matched() != c.matched {
			t.Errorf("%s: confidence %.2f, correlation %.2f, runner %+v", c.name, f.Confidence, f.Correlation, f.Runner)
		}
		if d := f.Shift - c.want; c.matched && max(d, -d) > c.allowed+2*time.Nanosecond {
			t.Errorf("%s: shift %v, want %v", c.name, f.Shift, c.want)
		}
	}
}
