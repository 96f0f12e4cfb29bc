package measure

import (
	"fmt"
	"math/rand/v2"
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

// trials returns the trials of the quick tier, or of the whole sweep.
func trials(sweep bool) (list []trial) {
	cadences := []string{"60", "30", "24", "50", "20", "unlocked", "hitches", "still", "40", "15", "48"}
	variants := []trial{
		{enc: ffv1}, {enc: ffv1, noise: 2}, {enc: x264(12, 60)}, {enc: x264(18, 250, "-bf", "0")},
	}
	speeds := []float64{300}
	if sweep {
		variants = append(variants,
			trial{enc: mjpeg}, trial{enc: x264(18, 60)}, trial{enc: x264(23, 30)}, trial{enc: x264(28, 60)},
			trial{enc: x264(23, 60, "-bf", "0")}, trial{enc: x264(28, 60, "-bf", "0")},
			trial{enc: x264(18, 60, "-preset", "medium")}, trial{enc: x264(23, 250, "-preset", "ultrafast")},
			trial{enc: x264(18, 60), dither: true}, trial{enc: ffv1, noise: 6}, trial{enc: mjpeg, noise: 3},
			trial{enc: x264(12, 60), noise: 3}, trial{enc: x264(23, 60), noise: 3})
		speeds = []float64{12, 90, 300, 900}
	}
	i := 0
	for k, kind := range sourceKinds {
		for _, speed := range speeds {
			for j, v := range variants {
				if !sweep && (j+k)%2 == 1 {
					continue // half of them, in a chequer
				}
				v.kind, v.speed, v.cadence = kind, speed, cadences[i%len(cadences)]
				list = append(list, v)
				i++
			}
		}
	}
	return list
}

// TestConfusion measures made-up captures of every kind of motion and cadence
// and logs who was taken for whom (go test -v -run Confusion). The whole sweep,
// which takes minutes, runs with FAIRFRAME_SWEEP=1; it includes what no
// measurement can tell: motion of less than what the noise or the encoder
// leaves of it.
func TestConfusion(t *testing.T) {
	t.Parallel()
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
			path := f.encode(t, c.enc)
			scores[i] = measureFile(t, path, c.enc, f.w, f.h, Settings{}).scoreBut(f, f.unseen(t, path))
		}()
	}
	wg.Wait()
	byKind, byEncoding, bySpeed := map[string]*score{}, map[string]*score{}, map[string]*score{}
	add := func(m map[string]*score, k string, s score) {
		if m[k] == nil {
			m[k] = &score{}
		}
		m[k].add(s)
	}
	var all score
	for i, c := range list {
		add(byKind, c.kind, scores[i])
		add(bySpeed, fmt.Sprintf("%g px/s", c.speed), scores[i])
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
	for _, m := range []map[string]*score{byKind, byEncoding, bySpeed} {
		for k, s := range m {
			t.Logf("%-32s %v; %s", k, *s, s.reliability())
		}
	}
	t.Logf("%-32s %v; %s", "all", all, all.reliability())
	// A reader can live with what is marked; what is wrong and not marked misleads.
	if all.sure*1000 > all.decisions {
		t.Errorf("%d of %d decisions are wrong without being marked doubtful, more than 0.1 %%", all.sure, all.decisions)
	}
	// What is marked without need makes good captures look bad.
	most := struct{ wrong, guarded int }{0, 1} // in a hundred
	if sweeping() {
		most.wrong, most.guarded = 2, 14
	}
	if all.wrong*100 > most.wrong*all.decisions+all.decisions/2 || all.guarded*100 > most.guarded*all.decisions {
		t.Errorf("of %d decisions %d are wrong, more than %d %%, or %d right but marked, more than %d %%", all.decisions, all.wrong, most.wrong, all.guarded, most.guarded)
	}
	if sweeping() {
		return
	}
	// What the captures hold must be found; the lossy ones lost a little.
	for name, s := range byEncoding {
		if most := s.decisions * allowed[name] / 1000; s.wrong > most {
			t.Errorf("%s: %d of %d decisions are wrong, more than %d", name, s.wrong, s.decisions, most)
		}
	}
	if len(byEncoding) != len(allowed) {
		t.Errorf("%d encodings have been tried, %d have limits", len(byEncoding), len(allowed))
	}
}

// allowed are the wrong decisions in a thousand allowed to the quick tier.
var allowed = map[string]int{"ffv1": 0, "ffv1+noise2": 0, "crf12-g60": 3, "crf18-g250-bf0": 6}
