package measure

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// TestParseFindsStarts draws random starts, turns them into noisy evidence and
// has them found again.
func TestParseFindsStarts(t *testing.T) {
	const frames, steps = 40, 60
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(seed, 2))
		r := &raster{frames: frames, steps: steps, llr: make([]float64, frames*steps), twice: make([]float64, frames*steps), opening: true}
		var want []int
		for s := rng.IntN(3) * steps; s < (frames-2)*steps; {
			want = append(want, s)
			d := steps + 8 + rng.IntN(2*steps) // a gap of some steps at least
			if rng.IntN(2) == 0 {
				d = (s/steps + 2 + rng.IntN(3)) * steps // a whole frame next
				d -= s
			}
			s += d
			if at := s % steps; at > 0 && at < 3 {
				s += 3 - at // less is not worth a tear
			} else if at > steps-3 {
				s += steps - at
			}
		}
		changed := make([]bool, frames*steps)
		for _, s := range want {
			for i := s; i < s+steps; i++ {
				changed[i] = true
			}
		}
		for i := range r.llr {
			r.llr[i] = -3 + rng.NormFloat64()
			if changed[i] {
				r.llr[i] = 3 + rng.NormFloat64()
			}
		}
		got, _ := r.parse(parseCosts{tear: tearCost, overlap: overlapCost, duration: make([]float64, durations)})
		if !slices.Equal(got, want) {
			t.Errorf("seed %d: starts %v, want %v", seed, got, want)
		}
	}
}

// TestParseOfNothing finds no starts where nothing changes.
func TestParseOfNothing(t *testing.T) {
	r := &raster{frames: 5, steps: 10, llr: make([]float64, 50), twice: make([]float64, 50)}
	for i := range r.llr {
		r.llr[i] = -1
	}
	if got, gain := r.parse(parseCosts{duration: make([]float64, 4)}); len(got) != 0 || gain != 0 {
		t.Errorf("%v, gain %v", got, gain)
	}
}
