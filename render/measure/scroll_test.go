package measure

import (
	"fmt"
	"math/rand/v2"
	"testing"
)

// grain is a texture of single pixels that moves sideways.
type grain struct {
	pan
}

func newGrain(speed float64, seed uint64) *grain {
	rng := rand.New(rand.NewPCG(seed, 78))
	tex := &texture{n: 256, data: make([]float64, 256*256)}
	for i := range tex.data {
		tex.data[i] = rng.Float64()
	}
	return &grain{pan{tex: tex, vx: speed, low: 60, high: 180}}
}

// TestHalfCoded: an encoder with B pictures codes repeats of a fine texture that moves
// sideways half-way to the next frame; what it so made new is marked.
func TestHalfCoded(t *testing.T) {
	t.Parallel()
	for i, speed := range []float64{30, 60, 120, 240} {
		for _, e := range []encoding{x264(28, 250), x264(33, 250)} {
			t.Run(fmt.Sprintf("%g/%s", speed, e.name), func(t *testing.T) {
				f := &fixture{w: 320, h: 180, frames: 150, src: newGrain(speed, uint64(i)), starts: cadence(30, 150)}
				s := measureFile(t, f.encode(t, e), e, f.w, f.h, Settings{}).score(f)
				t.Logf("%v", s)
				if s.sure*200 > s.decisions {
					t.Errorf("%d of %d decisions are wrong and not marked", s.sure, s.decisions)
				}
			})
		}
	}
}

// TestSpeeds: motion that becomes ever slower, and motion that changes pictures by less
// than the noise does, most of whose frames are found, though marked.
func TestSpeeds(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		trial
		seed uint64
		most int // wrong decisions of 179
	}{
		{trial{kind: "zoom", speed: 300, cadence: "50", enc: x264(23, 250, "-preset", "ultrafast")}, 5, 1},
		{trial{kind: "dark", speed: 300, cadence: "hitches", enc: x264(12, 60), noise: 3}, 458, 37},
	} {
		t.Run(c.name(), func(t *testing.T) {
			f := c.fixture(c.seed)
			s := measureFile(t, f.encode(t, c.enc), c.enc, f.w, f.h, Settings{}).score(f)
			t.Logf("%v", s)
			if s.wrong > c.most || s.sure > 0 {
				t.Errorf("of %d decisions %d are wrong, not %d at most, %d of them not marked", s.decisions, s.wrong, c.most, s.sure)
			}
		})
	}
}
