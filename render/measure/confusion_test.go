package measure

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"
)

// A trial is one made-up capture.
type trial struct {
	kind    string
	speed   float64 // pixels a second
	cadence string
	enc     encoding
	noise   float64
	dither  bool
}

func (c trial) name() string {
	s := fmt.Sprintf("%s at %g px/s, %s, %s", c.kind, c.speed, c.cadence, c.enc.name)
	if c.noise > 0 {
		s += fmt.Sprintf(", noise %g", c.noise)
	}
	if c.dither {
		s += ", dither"
	}
	return s
}

// fixture draws the trial up. The cadence is a frame rate, "unlocked" (one to
// three captured frames a frame, at random), "hitches" (60 with pauses of 67 to
// 333 ms), or "still" (30, a pause of 1.2 s, 30 again).
func (c trial) fixture(seed uint64) *fixture {
	f := &fixture{w: 320, h: 180, frames: 180, src: newSource(c.kind, c.speed, seed), noise: c.noise, dither: c.dither, seed: seed}
	rng := rand.New(rand.NewPCG(seed, 3))
	switch c.cadence {
	case "unlocked":
		f.starts = unlocked(rng, f.frames, 1, 3, 0)
	case "hitches":
		f.starts = unlocked(rng, f.frames, 1, 1, 0.04)
	case "still":
		for _, s := range cadence(30, f.frames) {
			if s.n < 60 || s.n >= 132 {
				f.starts = append(f.starts, s)
			}
		}
	default:
		var fps float64
		if _, err := fmt.Sscan(c.cadence, &fps); err != nil {
			panic(err)
		}
		f.starts = cadence(fps, f.frames)
	}
	return f
}

// trials returns the trials of a tier: those where the picture holds the
// answer for sure, and, when sweeping, those where the encoder took it away.
func trials(sweep bool) (list []trial) {
	cadences := []string{"60", "30", "24", "50", "20", "unlocked", "hitches", "still", "40", "15"}
	encodings := []encoding{ffv1, x264(12, 60), x264(18, 250, "-bf", "0"), x264(18, 60), x264(23, 30), x264(28, 60, "-bf", "0"), mjpeg}
	speeds := map[string][]float64{}
	for _, k := range sourceKinds {
		speeds[k] = []float64{90, 300}
	}
	if sweep {
		encodings = append(encodings, x264(28, 60), x264(18, 60, "-preset", "medium"), x264(23, 250, "-preset", "ultrafast"))
		for _, k := range sourceKinds {
			speeds[k] = []float64{12, 40, 90, 300, 900}
		}
	}
	i := 0
	for _, k := range sourceKinds {
		for _, speed := range speeds[k] {
			for _, e := range encodings {
				if !sweep && i%4 != 0 {
					i++
					continue
				}
				list = append(list, trial{kind: k, speed: speed, cadence: cadences[i%len(cadences)], enc: e})
				i++
			}
			list = append(list,
				trial{kind: k, speed: speed, cadence: cadences[i%len(cadences)], enc: ffv1, noise: 2},
				trial{kind: k, speed: speed, cadence: cadences[(i+1)%len(cadences)], enc: x264(18, 60), dither: true})
			if sweep {
				list = append(list,
					trial{kind: k, speed: speed, cadence: cadences[(i+2)%len(cadences)], enc: ffv1, noise: 6},
					trial{kind: k, speed: speed, cadence: cadences[(i+3)%len(cadences)], enc: x264(12, 60), noise: 3},
					trial{kind: k, speed: speed, cadence: cadences[(i+4)%len(cadences)], enc: x264(23, 60), noise: 3},
					trial{kind: k, speed: speed, cadence: cadences[(i+5)%len(cadences)], enc: mjpeg, noise: 3})
			}
			i++
		}
	}
	return list
}

func TestConfusion(t *testing.T) {
	list := trials(sweeping())
	scores := make([]score, len(list))
	var wg sync.WaitGroup
	slots := make(chan struct{}, 2)
	for i, c := range list {
		wg.Add(1)
		go func() {
			defer wg.Done()
			slots <- struct{}{}
			defer func() { <-slots }()
			f := c.fixture(uint64(i) + 1)
			scores[i] = measureFile(t, f.encode(t, c.enc), f.w, f.h, Settings{}).score(f)
		}()
	}
	wg.Wait()
	byKind, byEncoding := map[string]*score{}, map[string]*score{}
	add := func(m map[string]*score, k string, s score) {
		if m[k] == nil {
			m[k] = &score{}
		}
		m[k].add(s)
	}
	var all score
	for i, c := range list {
		add(byKind, c.kind, scores[i])
		e := c.enc.name
		if c.noise > 0 {
			e += fmt.Sprintf("+noise%g", c.noise)
		}
		if c.dither {
			e += "+dither"
		}
		add(byEncoding, e, scores[i])
		all.add(scores[i])
		if scores[i].wrong+scores[i].invented > 0 {
			t.Logf("%v: %v", c.name(), scores[i])
		}
	}
	for _, m := range []map[string]*score{byKind, byEncoding} {
		for k, s := range m {
			t.Logf("%-32s %v", k, *s)
		}
	}
	t.Logf("%-32s %v", strings.ToUpper("all"), all)
}
