package measure

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// pacedWindow is a window of n whole frames in a picture without tears: those
// that starts lists differ by step octaves more than the others, and each by a
// random amount of half an octave's spread in its own right.
func pacedWindow(n int, starts []start, step float64, seed uint64) *window {
	rng := rand.New(rand.NewPCG(seed, 9))
	w := &window{steps: 1, bands: 1}
	for v := range views {
		w.wholeRaw[v] = make([]float64, n)
	}
	for i := range n {
		level := 1.0
		if slices.Contains(starts, start{n: int64(i)}) {
			level *= math.Exp2(step)
		}
		vary := func() float64 { return level * math.Exp2(0.5*rng.NormFloat64()) }
		w.wholeRaw[meanView][i], w.wholeRaw[peakView][i] = vary(), 4*vary()
		w.obs = append(w.obs, &observation{near: 0.5 * vary()})
	}
	return w
}

// cadenced decides a window by its cadence alone.
func cadenced(w *window) (v verdict, proven bool) {
	v.sure = make([]float64, len(w.obs))
	return v, w.byCadence(&v, false)
}

// TestCadence decides windows whose kinds of frames lie two spreads apart, so that
// one frame in six is on the wrong side by itself, and which so only their cadence
// tells.
func TestCadence(t *testing.T) {
	const n = 176
	for _, fps := range []float64{30, 20, 15, 40, 45, 24, 48, 12, 50, 10} {
		starts := cadence(fps, n)
		w := pacedWindow(n, starts, 1.2, uint64(fps))
		v, _ := cadenced(w)
		wrong := 0
		for i := range n {
			if slices.Contains(v.starts, i) != slices.Contains(starts, start{n: int64(i)}) {
				wrong++
			}
		}
		if !v.paced || wrong > 2 {
			t.Errorf("%v frames a second: paced %v, %d of %d frames wrong", fps, v.paced, wrong, n)
		}
	}
}

// TestCadenceInvents nothing: where frames are all new, or come at random, there is
// none, at any seed.
func TestCadenceInventsNothing(t *testing.T) {
	const n = 176
	for seed := range uint64(40) {
		if v, _ := cadenced(pacedWindow(n, cadence(60, n), 1.2, seed)); v.paced {
			t.Errorf("seed %d: all new, %d of %d taken as new", seed, len(v.starts), n)
		}
		rng := rand.New(rand.NewPCG(seed, 4))
		if v, proven := cadenced(pacedWindow(n, unlocked(rng, n, 1, 3, 0), 1.2, seed)); proven {
			t.Errorf("seed %d: unlocked, a cadence is proven (%d of %d new)", seed, len(v.starts), n)
		}
	}
}

// TestCadenceDrops: a frame that is seen to be dropped is dropped, and the cadence
// goes on after it in step or out of it; one that differs by neither kind is
// doubtful, whatever the cadence says.
func TestCadenceDrops(t *testing.T) {
	const n, at = 176, 80
	for name, c := range map[string]struct {
		shift int64
	}{"in step": {0}, "a refresh late": {1}} {
		var starts []start
		for _, s := range cadence(30, n) {
			switch {
			case s.n == at:
			case s.n > at:
				starts = append(starts, start{n: s.n + c.shift})
			default:
				starts = append(starts, s)
			}
		}
		w := pacedWindow(n, starts, 4, 3)
		v, proven := cadenced(w)
		var got []start
		for _, s := range v.starts {
			got = append(got, start{n: int64(s)})
		}
		want := slices.DeleteFunc(slices.Clone(starts), func(s start) bool { return s.n >= n })
		if !proven || !slices.Equal(got, want) {
			t.Errorf("%s: proven %v, starts %v, want %v", name, proven, got, want)
		}
	}
	w := pacedWindow(n, cadence(30, n), 4, 3)
	for _, raw := range [][]float64{w.wholeRaw[meanView], w.wholeRaw[peakView]} {
		raw[at] = math.Sqrt(raw[at] * raw[at+1])
	}
	w.obs[at].near = math.Sqrt(w.obs[at].near * w.obs[at+1].near)
	if v, proven := cadenced(w); !proven || v.sure[at] >= weak || v.sure[at+2] < weak {
		t.Errorf("a frame between the kinds: proven %v, evidence %.1f, of another %.1f", proven, v.sure[at], v.sure[at+2])
	}
}
