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
