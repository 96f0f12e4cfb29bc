package align

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"
)

func secs(x float64) time.Duration { return time.Duration(math.Round(x * float64(time.Second))) }

// TestErrors is the error table: what Match says of takes whose offset is known,
// by both, by sound and by picture. Within half a frame wherever it is confident,
// and never confident where nothing matches.
func TestErrors(t *testing.T) {
	g, third := newGame(1, 22), newGame(3, 22)
	a := shoot(t, g, take{lead: 5, length: 12, cadence: every(2)})
	const frame = 1.0 / 60
	cases := []struct {
		name  string
		game  *game
		take  take
		quiet bool // sound need not be found
		dark  bool // pictures need not be found
	}{
		{name: "the same frames", take: take{lead: 5, cadence: every(2)}},
		{name: "17 frames, 30 against 60 fps", take: take{lead: 5 - 17*frame}},
		{name: "100 frames, 30 against 20 fps", take: take{lead: 5 + 100*frame, cadence: every(3)}},
		{name: "3.4 frames, 30 against 60 fps", take: take{lead: 5 + 3.4*frame}},
		{name: "fraction of a millisecond", take: take{lead: 5.0003, cadence: every(2)}},
		{name: "30 against unlocked", take: take{lead: 4, cadence: func(n int64) int64 { return n - int64(uint32(n*2654435761)>>30)%2 }, late: 0.006}},
		{name: "gain, brightness, half volume", take: take{lead: 6.25, gain: 0.6, bright: 30, volume: 0.4}},
		{name: "noise in both", take: take{lead: 6.25, grain: 0.7, hiss: 0.02, cadence: every(3)}},
		{name: "heavy noise in both", take: take{lead: 6.25, grain: 3, hiss: 0.05, cadence: every(3)}},
		{name: "noise and 60 fps", take: take{lead: 4.11, grain: 1.5, hiss: 0.05}},
		{name: "a voice over one", take: take{lead: 6.25, voice: third}},
		{name: "25 fps capture", take: take{lead: 3.123, rate: pacingRate(25)}},
		{name: "sound 12 ms late in one", take: take{lead: 4.37, delay: 0.012}},
		{name: "sound 5 ms early in one", take: take{lead: 4.37, delay: -0.005}},
		{name: "sound 90 ms late, 20 fps", take: take{lead: 4.37, delay: 0.090, cadence: every(3)}},
		{name: "no sound in one", take: take{lead: 3.5, deaf: true}, quiet: true},
		{name: "still pictures in one", take: take{lead: 3.5, blind: true}, dark: true},
	}
	t.Logf("%-32s %-8s %10s %10s %6s", "case", "by", "error/ms", "of frame", "conf")
	for _, c := range cases {
		if c.game == nil {
			c.game = g
		}
		c.take.length = 11
		b := shoot(t, c.game, c.take)
		for by := Both; by <= Picture; by++ {
			if by == Sound && (c.take.deaf || c.take.delay != 0 || c.take.cadence != nil && c.take.hiss == 0 && c.take.late == 0) {
				continue // nothing to hear, or nothing new
			}
			r, err := Match(t.Context(), a, b, Settings{By: by, Around: -1})
			if err != nil {
				t.Fatal(err)
			}
			want := 5 - c.take.lead
			e := r.Offset - want
			t.Logf("%-32s %-8v %+10.3f %+10.3f %6.3f", c.name, by, 1000*e, e/frame, r.Confidence)
			if r.Matched() && math.Abs(e) > frame/2 {
				t.Errorf("%s by %v: confident of %.4f s, which is %+.1f ms wrong", c.name, by, r.Offset, 1000*e)
			}
			needed := by == Both || by == Sound && !c.quiet || by == Picture && !c.dark
			if needed && !r.Matched() {
				t.Errorf("%s by %v: not found (confidence %.2f)", c.name, by, r.Confidence)
			}
			if by != Picture && !c.quiet && c.take.delay == 0 && r.Matched() && math.Abs(e) > 0.001 {
				t.Errorf("%s by %v: %+.3f ms off, although there is sound", c.name, by, 1000*e)
			}
		}
	}
}

// loop is play that comes back every period seconds, sound and pictures alike.
func loop(period float64) func(float64) float64 {
	return func(t float64) float64 { return 5 + math.Mod(t+100*period, period) }
}

// drone is a game that hums: tones that never change, over its own soft noise.
func drone(seed uint64, length float64) *game {
	g := newGame(seed, length)
	quiet := newGame(seed, 1)
	quiet.sounds()
	g.high = make([]float32, int(length*highRate))
	for i := range g.high {
		t := float64(i) / highRate
		g.high[i] = float32(0.1*math.Sin(2*math.Pi*50*t)+0.1*math.Sin(2*math.Pi*150*t)+0.05*math.Sin(2*math.Pi*440*t)) + 0.02*quiet.high[i*7919%len(quiet.high)]
	}
	return g
}

// bank is a game whose events all sound the same, at times of their own.
func bank(seed uint64, length float64) *game {
	g := newGame(seed, length)
	event := newGame(77, 2).sounds()[:highRate/2]
	r := rand.New(rand.NewPCG(seed, 1))
	g.high = make([]float32, int(length*highRate))
	for n := int(2 * length); n > 0; n-- {
		at := r.IntN(len(g.high) - len(event))
		for k, v := range event {
			g.high[at+k] += 3 * v
		}
	}
	for i := range g.high {
		g.high[i] += float32(0.01 * (r.Float64() - 0.5))
	}
	return g
}

// TestNoMatch: captures that do not match, or match in more than one way, are
// never aligned with confidence.
func TestNoMatch(t *testing.T) {
	g, other := newGame(1, 30), newGame(2, 30)
	cases := []struct {
		name string
		a, b *Track
		only []By // empty: all
	}{
		{name: "another game", a: shoot(t, g, take{lead: 5, length: 11}), b: shoot(t, other, take{lead: 5, length: 11})},
		{name: "other parts of a game", a: shoot(t, g, take{length: 11}), b: shoot(t, g, take{lead: 18, length: 11})},
		{name: "a loop of 2 s", a: shoot(t, g, take{length: 11, cut: loop(2)}), b: shoot(t, g, take{lead: 0.7, length: 11, cut: loop(2)})},
		{name: "a loop of 5 s", a: shoot(t, g, take{length: 14, cut: loop(5)}), b: shoot(t, g, take{length: 14, cut: func(t float64) float64 { return loop(5)(t + 1.3) }})},
		{name: "silent and still", a: shoot(t, g, take{length: 12, silent: true, blind: true}), b: shoot(t, g, take{length: 12, silent: true, blind: true})},
		{name: "noise alone", a: shoot(t, g, take{length: 12, silent: true, blind: true, hiss: 0.05, grain: 2}), b: shoot(t, g, take{lead: 1, length: 12, silent: true, blind: true, hiss: 0.05, grain: 2})},
		{name: "hums", a: shoot(t, drone(4, 20), take{length: 12}), b: shoot(t, drone(5, 20), take{lead: 1, length: 12})},
		{name: "the same sounds at other times", a: shoot(t, bank(6, 20), take{length: 11}), b: shoot(t, bank(7, 20), take{length: 11})},
		{name: "sound against pictures", a: shoot(t, g, take{lead: 5, length: 11}), b: shoot(t, g, take{lead: 7, length: 11, delay: 3}), only: []By{Both}},
		{name: "music against pictures", a: shoot(t, g, take{lead: 5, length: 11, heard: other}), b: shoot(t, g, take{lead: 7, length: 11, delay: -1, heard: other}), only: []By{Both}},
	}
	t.Logf("%-32s %-8s %10s %6s", "case", "by", "offset/s", "conf")
	for _, c := range cases {
		for by := Both; by <= Picture; by++ {
			if c.only != nil && !slices.Contains(c.only, by) {
				continue
			}
			r, err := Match(t.Context(), c.a, c.b, Settings{By: by, Around: -1})
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%-32s %-8v %+10.3f %6.3f", c.name, by, r.Offset, r.Confidence)
			if r.Confidence > 0.35 {
				t.Errorf("%s by %v: confidence %.2f of %.3f s: %+v", c.name, by, r.Confidence, r.Offset, r.Stretches[r.Best])
			}
		}
	}
}
