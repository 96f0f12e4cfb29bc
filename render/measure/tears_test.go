package measure

import (
	"math/rand/v2"
	"testing"
)

// TestTears synthesises torn frames at known rows and finds each within 8 rows.
func TestTears(t *testing.T) {
	const w, h, frames = 320, 184, 180
	edges := []start{{}}
	// Near the edges, two within one captured frame, and whole frames between.
	for n := int64(4); n+8 < frames; n += 12 {
		edges = append(edges, start{n, 8}, start{n + 2, h - 8}, start{n + 4, 16}, start{n + 6, 40}, start{n + 6, 120}, start{n + 9, 0})
	}
	rng := rand.New(rand.NewPCG(8, 9))
	for _, c := range []struct {
		name   string
		starts []start
	}{
		{"edges", edges},
		{"45 Hz", torn(rng, frames, h, 1.35, 0.1)},
		{"27 Hz", torn(rng, frames, h, 2.2, 0.5)},
		{"52 Hz", torn(rng, frames, h, 1.15, 0.02)},
		{"73 Hz", torn(rng, frames, h, 0.82, 0.01)},
	} {
		for _, e := range []encoding{ffv1, x264(12, 60), x264(18, 60)} {
			t.Run(c.name+"/"+e.name, func(t *testing.T) {
				f := &fixture{w: w, h: h, frames: frames, src: newSource("pan", 240, 3), starts: c.starts, seed: 3}
				m := measureFile(t, f.encode(t, e), w, h, Settings{})
				s := m.score(f)
				t.Logf("%v", s)
				if s.missed+s.invented > 0 {
					t.Errorf("missed %d, invented %d of %d tears", s.missed, s.invented, s.torn)
					t.Logf("true     %v", f.starts)
					t.Logf("measured %v", m.starts(h))
				}
			})
		}
	}
}
