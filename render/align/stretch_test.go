package align

import (
	"math"
	"testing"
	"time"
)

// TestDivergence: two machines load for different times, and one player goes
// another way for a while. Each stretch has its own offset, and what does not
// match belongs to none.
func TestDivergence(t *testing.T) {
	g := newGame(11, 80)
	a := shoot(t, g, take{length: 40, cadence: every(2)})
	// b waits 1.3 s longer at 14 s, and plays what a never saw from 28 s on.
	b := shoot(t, g, take{length: 40, cut: func(t float64) float64 {
		switch {
		case t < 14:
			return t
		case t < 15.3:
			return 14
		case t < 28:
			return t - 1.3
		}
		return t + 30
	}})
	for by := Both; by <= Picture; by++ {
		if by != Both && testing.Short() {
			continue
		}
		r, err := Match(t.Context(), a, b, Settings{By: by, Around: -1})
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range r.Stretches {
			t.Logf("by %v: %.1f s to %.1f s: %+.4f s, confidence %.2f", by, s.From, s.To, s.Offset, s.Confidence)
		}
		if len(r.Stretches) != 2 {
			t.Errorf("by %v: %d stretches, want 2", by, len(r.Stretches))
			continue
		}
		one, two := r.Stretches[0], r.Stretches[1]
		if math.Abs(one.Offset) > 0.008 || math.Abs(two.Offset-1.3) > 0.008 {
			t.Errorf("by %v: offsets %.4f and %.4f s, want 0 and 1.3", by, one.Offset, two.Offset)
		}
		// A block straddles the place.
		if math.Abs(one.To-14) > longest || math.Abs(two.From-14) > longest || math.Abs(two.To-26.7) > longest {
			t.Errorf("by %v: stretches end at %.1f, begin at %.1f and end at %.1f s", by, one.To, two.From, two.To)
		}
		// At a moment, the stretch around it counts, and none far from all.
		if by != Both {
			continue
		}
		for _, at := range []struct{ moment, offset float64 }{{22, 1.3}} {
			r, err := Match(t.Context(), a, b, Settings{By: by, Around: secs(at.moment)})
			if err != nil {
				t.Fatal(err)
			}
			if !r.Matched() || math.Abs(r.Offset-at.offset) > 0.008 {
				t.Errorf("by %v at %v s: %.4f s with confidence %.2f, want %v", by, at.moment, r.Offset, r.Confidence, at.offset)
			}
		}
		if r, err := Match(t.Context(), a, b, Settings{By: by, Around: 37 * time.Second}); err != nil || r.Matched() {
			t.Errorf("by %v at 37 s: %.4f s with confidence %.2f, %v", by, r.Offset, r.Confidence, err)
		}
	}
}

// TestDrift: a recorder whose clock is fast by 60 parts per million.
func TestDrift(t *testing.T) {
	g := newGame(12, 100)
	a := shoot(t, g, take{length: 90, rate: pacingRate(10), blind: true})
	b := shoot(t, g, take{lead: 2, length: 85, rate: pacingRate(10), blind: true, clock: 60})
	r, err := Match(t.Context(), a, b, Settings{By: Sound, Around: -1})
	if err != nil {
		t.Fatal(err)
	}
	if !r.Matched() || len(r.Stretches) != 1 {
		t.Fatalf("not one stretch: %+v", r.Stretches)
	}
	s := r.Stretches[0]
	t.Logf("drift %.2f ± %.2f ppm", s.Drift, s.DriftError)
	if math.Abs(s.Drift-60) > 3 || s.DriftError > 2 {
		t.Errorf("drift %.2f ± %.2f ppm, want 60", s.Drift, s.DriftError)
	}
	// b shows game time x at (x-2)·(1+60e-6), a at x.
	for _, at := range []float64{10, 50, 80} {
		want := (at-2)*(1+60e-6) - at
		if got := s.OffsetAt(at); math.Abs(got-want) > 0.0005 {
			t.Errorf("at %v s: %.5f s, want %.5f", at, got, want)
		}
	}
}

// TestMinutes: an offset of minutes, found by sound with cheap pictures.
func TestMinutes(t *testing.T) {
	g := newGame(13, 200)
	a := shoot(t, g, take{length: 180, rate: pacingRate(5), blind: true})
	b := shoot(t, g, take{lead: 143.217, length: 24, rate: pacingRate(5), blind: true})
	for name, order := range map[string][2]*Track{"late": {a, b}, "early": {b, a}} {
		if name == "late" && testing.Short() {
			continue
		}
		want := -143.217
		if name == "early" {
			want = -want
		}
		r, err := Match(t.Context(), order[0], order[1], Settings{By: Sound, Around: -1})
		if err != nil {
			t.Fatal(err)
		}
		if !r.Matched() || math.Abs(r.Offset-want) > 0.001 {
			t.Errorf("%s: %.5f s with confidence %.2f, want %v", name, r.Offset, r.Confidence, want)
		}
	}
	// Outside the range that is searched there is nothing.
	r, err := Match(t.Context(), b, a, Settings{By: Sound, Around: -1, Search: time.Minute})
	if err != nil {
		t.Fatal(err)
	}
	if r.Matched() {
		t.Errorf("found %.3f s outside ±60 s", r.Offset)
	}
}
