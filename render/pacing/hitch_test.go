package pacing

import (
	"testing"
	"time"
)

// Captures that are compared have one measure for their hitches: twice the slowest median.
// A frame of 50 ms is a hitch at 60 fps by itself, and none beside a machine at 30 fps.
func TestOneHitchTime(t *testing.T) {
	r := Rate{60, 1}
	fast := []time.Duration{1, 1, 1, 3, 1, 1, 1, 1, 5, 1}
	slow := []time.Duration{2, 2, 2, 2, 2, 2, 5, 2, 2, 2}
	of := func(refreshes []time.Duration) *Trace {
		var frames []Frame
		n := int64(0)
		for _, k := range refreshes {
			frames = append(frames, Frame{Begin: r.TimeOf(n), Time: r.TimeOf(n+int64(k)) - r.TimeOf(n)})
			n += int64(k)
		}
		return newTrace(frames)
	}
	a, b := of(fast), of(slow)
	list := []Figures{a.Figures(0, time.Second, r), b.Figures(0, time.Second, r)}
	if len(list[0].Hitches) != 2 || len(list[1].Hitches) != 1 {
		t.Errorf("by themselves: %d and %d", len(list[0].Hitches), len(list[1].Hitches))
	}
	longest := OneHitchTime(list)
	if want := 4 * r.TimeOf(1); longest < want-time.Microsecond || longest > want+time.Microsecond {
		t.Errorf("measure %v", longest)
	}
	list[0].SetHitchTime(a, longest)
	list[1].SetHitchTime(b, longest)
	if len(list[0].Hitches) != 1 || len(list[1].Hitches) != 1 || list[0].HitchTime != longest {
		t.Errorf("compared: %d and %d, over %v", len(list[0].Hitches), len(list[1].Hitches), list[0].HitchTime)
	}
	if !list[0].KeepsRefresh() {
		t.Error("a machine with v-sync does not keep the refresh")
	}

	var frames []Frame
	for at := time.Duration(0); at < time.Second; at += 13 * time.Millisecond {
		frames = append(frames, Frame{Begin: at, Time: 13 * time.Millisecond})
	}
	unlocked := newTrace(frames)
	if g := unlocked.Figures(0, time.Second, r); g.KeepsRefresh() {
		t.Error("a machine without v-sync keeps the refresh")
	}
}
