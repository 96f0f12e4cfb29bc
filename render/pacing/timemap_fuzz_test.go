package pacing

import (
	"math/big"
	"testing"
	"time"
)

// FuzzTimeMap passes any scene at any speed, with any two holds: the scene's time
// never runs backwards nor out of the scene, and the clip is as long as its parts.
func FuzzTimeMap(f *testing.F) {
	f.Add(int64(60), int64(1), int64(8*time.Second), int64(1), int64(4), int64(time.Second), int64(2*time.Second), int64(3*time.Second), int64(time.Second), int64(77))
	f.Add(int64(60000), int64(1001), int64(time.Second), int64(64), int64(1), int64(0), int64(time.Second), int64(1), int64(10*time.Millisecond), int64(0))
	f.Add(int64(240), int64(1), int64(24*time.Hour), int64(1), int64(64), int64(0), int64(10*time.Minute), int64(24*time.Hour), int64(10*time.Millisecond), int64(1<<40))
	f.Fuzz(func(t *testing.T, num, den, length, speed, over, at1, for1, at2, for2, k int64) {
		r, err := NewRate(num, den)
		if err != nil || r.Hz() > 240 || r.Hz() < 1 || length > int64(24*time.Hour) || length < int64(r.TimeOf(1)) || for1 < int64(10*time.Millisecond) || for2 < int64(10*time.Millisecond) || speed < 1 || over < 1 || speed > 1e9 || over > 1e9 || for1 > int64(time.Hour) || for2 > int64(time.Hour) ||
			float64(speed)/float64(over) > 64 || float64(over)/float64(speed) > 64 {
			t.Skip()
		}
		m, err := NewTimeMap(r, time.Duration(length), big.NewRat(speed, over), []Freeze{{time.Duration(at1), time.Duration(for1)}, {time.Duration(at2), time.Duration(for2)}})
		if err != nil {
			return
		}
		if m.Frames() < 0 {
			t.Fatalf("%d frames", m.Frames())
		}
		if m.Frames() == 0 {
			return
		}
		want := new(big.Rat).Quo(exact(time.Duration(length)), big.NewRat(speed, over))
		want.Add(want, exact(time.Duration(for1+for2))).Mul(want, big.NewRat(r.Num, r.Den))
		if off := new(big.Rat).Sub(want, big.NewRat(m.Frames(), 1)); off.Abs(off).Cmp(big.NewRat(2, 1)) > 0 {
			t.Errorf("%d frames, %s belong", m.Frames(), want.FloatString(3))
		}
		total := int64(0)
		for _, run := range m.Runs() {
			total += run.To - run.From
		}
		if total != m.Frames() {
			t.Errorf("runs of %d frames in all, %d in the map", total, m.Frames())
		}
		k = max(0, min(k, m.Frames()-2))
		for _, n := range []int64{k, 0, m.Frames() - 2} {
			if n < 0 {
				continue
			}
			a, b := m.Scene(n), m.Scene(min(n+1, m.Frames()-1))
			if a.Sign() < 0 || b.Cmp(a) < 0 || b.Cmp(exact(time.Duration(length))) > 0 {
				t.Errorf("frames %d and %d show %s and %s of %v", n, n+1, a, b, time.Duration(length))
			}
		}
	})
}
