package measure

import (
	"math/rand/v2"
	"testing"
	"time"

	"fairframe/render/pacing"
)

// TestFramesTile feeds starts at random rows, in and out of order, and asks for
// frames that follow each other without gap or overlap.
func TestFramesTile(t *testing.T) {
	for seed := range uint64(50) {
		rng := rand.New(rand.NewPCG(seed, 1))
		rate := pacing.Rate{Num: 60000, Den: 1001}
		var got []pacing.Frame
		var sum Summary
		e := emitter{rate: rate, height: 1080, offset: int64(rng.IntN(1e6)), sum: &sum, emit: func(f pacing.Frame) error { got = append(got, f); return nil }}
		const n = 300
		for i := range int64(n) {
			var rows []int
			if i == 0 {
				rows = []int{0}
			}
			for range rng.IntN(4) {
				rows = append(rows, rng.IntN(1080))
			}
			if i > 100 && i < 160 {
				rows = nil
			}
			if err := e.frame(i, rows, rng.Float64()*10); err != nil {
				t.Fatal(err)
			}
		}
		if err := e.end(e.time(n, 0)); err != nil {
			t.Fatal(err)
		}
		trace, err := pacing.NewTrace(got)
		if err != nil {
			t.Fatal(err)
		}
		if trace.Begin() != e.time(0, 0) || trace.End() != e.time(n, 0) {
			t.Errorf("seed %d: frames from %v to %v, want %v to %v", seed, trace.Begin(), trace.End(), e.time(0, 0), e.time(n, 0))
		}
		for i, f := range got {
			if i > 0 && f.Begin != got[i-1].End() {
				t.Fatalf("seed %d: frame %d begins at %v, the one before ends at %v", seed, i, f.Begin, got[i-1].End())
			}
			if (f.Kind == pacing.Still) != (f.Time >= StillAfter) {
				t.Errorf("seed %d: %v is %v", seed, f.Time, f.Kind)
			}
		}
		if sum.Stills != 1 || sum.Still < 900*time.Millisecond || int(sum.Frames+sum.Stills) != len(got) {
			t.Errorf("seed %d: %+v of %d frames", seed, sum, len(got))
		}
	}
}

// TestTearTimes checks begin = (n + row/height)/rate.
func TestTearTimes(t *testing.T) {
	e := emitter{rate: pacing.Rate{Num: 60, Den: 1}, height: 1080}
	for _, c := range []struct {
		n    int64
		row  int
		want time.Duration
	}{{0, 0, 0}, {60, 0, time.Second}, {60, 540, time.Second + 8333333}, {216000, 810, time.Hour + 12500000}} {
		if got := e.time(c.n, c.row); got != c.want {
			t.Errorf("frame %d row %d: %d ns, want %d", c.n, c.row, got, c.want)
		}
	}
}

// TestCeiling feeds stretches in which every captured frame is new: half a second
// and more of them is a ceiling, and no less; a repeat or a tear ends it.
func TestCeiling(t *testing.T) {
	var got []pacing.Frame
	var sum Summary
	e := emitter{rate: pacing.Rate{Num: 25, Den: 1}, height: 100, sum: &sum, emit: func(f pacing.Frame) error { got = append(got, f); return nil }}
	n, begins := int64(0), 0
	var want []bool // by frame
	stretch := func(ceiling bool, count int, rows ...int) {
		t.Helper()
		for range count {
			if err := e.frame(n, rows, 10); err != nil {
				t.Fatal(err)
			}
			n++
			for range rows {
				want = append(want, ceiling)
				begins++
			}
		}
	}
	stretch(true, 12, 0)   // 0.48 s, and
	stretch(true, 1, 0)    // one more
	stretch(false, 1, 0)   // which repeats
	stretch(false, 1)      //
	stretch(false, 12, 0)  // 0.48 s: may as well be a game at 25 fps
	stretch(false, 1, 0)   // the same
	stretch(false, 1)      // repeats
	stretch(false, 30, 40) // torn: the picture before shows more
	stretch(false, 10, 0, 50)
	stretch(true, 40, 0)
	if err := e.end(e.time(n, 0)); err != nil {
		t.Fatal(err)
	}
	if err := e.flush(); err != nil {
		t.Fatal(err)
	}
	want[len(want)-1] = false // nothing tells how long the last one stays
	if len(got) != len(want) {
		t.Fatalf("%d frames, want %d", len(got), len(want))
	}
	var limit time.Duration
	for i, f := range got {
		if f.Ceiling != want[i] {
			t.Errorf("frame %d at %v, %v long: ceiling %v, want %v", i, f.Begin, f.Time, f.Ceiling, want[i])
		}
		if f.Ceiling {
			limit += f.Time
		}
		if i > 0 && f.Begin != got[i-1].End() {
			t.Fatalf("frame %d begins at %v, the one before ends at %v: their order was changed", i, f.Begin, got[i-1].End())
		}
	}
	if sum.Ceiling != limit || limit == 0 {
		t.Errorf("ceiling for %v in all, frames say %v", sum.Ceiling, limit)
	}
}
