package pacing

import (
	"math"
	"testing"
	"time"
)

// Doubt against a count of milliseconds, one by one, on traces with gaps and still
// stretches, and at the border of what is uncertain.
func TestDoubt(t *testing.T) {
	ms := time.Millisecond
	frames := []Frame{
		{Begin: 0, Time: 40 * ms},
		{Begin: 40 * ms, Time: 20 * ms, Doubtful: true},
		{Begin: 60 * ms, Time: 600 * ms, Kind: Still, Doubtful: true}, // no frame was seen
		{Begin: 700 * ms, Time: 100 * ms},                             // after a gap
		{Begin: 800 * ms, Time: 40 * ms, Doubtful: true},
		{Begin: 840 * ms, Time: 160 * ms},
	}
	trace, err := NewTrace(frames)
	if err != nil {
		t.Fatal(err)
	}
	for from := time.Duration(-50); from < 1000; from += 17 {
		for to := from + 1; to < 1100; to += 23 {
			var want Doubt
			for at := from; at < to; at++ {
				for _, f := range frames {
					if f.Kind == Normal && at*ms >= f.Begin && at*ms < f.End() {
						want.Seen += ms
						if f.Doubtful {
							want.Time += ms
						}
					}
				}
			}
			if got := trace.Doubt(from*ms, to*ms); got != want {
				t.Fatalf("from %v to %v ms: %v, want %v", int(from), int(to), got, want)
			}
			if got := trace.Figures(from*ms, to*ms, at60).Doubt; got != want {
				t.Fatalf("figures from %v to %v ms: %v, want %v", int(from), int(to), got, want)
			}
		}
	}
	for _, one := range []struct {
		d         Doubt
		part      float64
		uncertain bool
		percent   string
	}{
		{Doubt{}, 0, false, "0 %"}, {Doubt{0, 8 * time.Second}, 0, false, "0 %"}, {Doubt{ms, 8 * time.Second}, 0.000125, false, "< 0.1 %"},
		{Doubt{50 * ms, time.Second}, 0.05, false, "5.0 %"}, {Doubt{51 * ms, time.Second}, 0.051, true, "5.1 %"},
		{Doubt{140 * ms, time.Second}, 0.14, true, "14 %"}, {Doubt{999 * ms, time.Second}, 0.999, true, "99 %"}, {Doubt{time.Second, time.Second}, 1, true, "100 %"},
	} {
		if got := one.d.Part(); math.Abs(got-one.part) > 1e-12 || one.d.Uncertain() != one.uncertain || one.d.Percent() != one.percent {
			t.Errorf("%v: %v, uncertain %v, %q", one.d, got, one.d.Uncertain(), one.d.Percent())
		}
	}
}
