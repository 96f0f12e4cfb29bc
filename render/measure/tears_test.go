package measure

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// TestTears synthesises torn frames at known rows and finds each within 8 rows.
func TestTears(t *testing.T) {
	t.Parallel()
	const w, h, frames = 320, 184, 180
	edges := []start{{}}
	// Near the edges, two within one captured frame, and whole frames between.
	for n := int64(4); n+8 < frames; n += 12 {
		edges = append(edges, start{n, 8}, start{n + 2, h - 8}, start{n + 4, 16}, start{n + 6, 40}, start{n + 6, 120}, start{n + 9, 0})
	}
	// At the display's own pace all rows change all the time.
	creeping := []start{{}}
	for n := int64(1); n < frames; n++ {
		creeping = append(creeping, start{n, 60 + int(n)*2/5})
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
		{"creeping", creeping},
		// From frame 3: nothing shows what began in the capture's first picture.
		{"73 Hz", slices.DeleteFunc(torn(rng, frames, h, 0.82, 0.01), func(s start) bool { return s.n < 3 && s != start{} })},
	} {
		encodings := []encoding{ffv1, x264(18, 60)}
		if c.name == "creeping" {
			encodings = encodings[:1] // a small picture's seams are lost in coding
		}
		if sweeping() && c.name != "creeping" {
			encodings = append(encodings, x264(12, 60))
		}
		for _, e := range encodings {
			t.Run(c.name+"/"+e.name, func(t *testing.T) {
				f := &fixture{w: w, h: h, frames: frames, src: newSource("pan", 240, 3), starts: c.starts, seed: 3}
				m := measureFile(t, f.encode(t, e), e, w, h, Settings{})
				s := m.score(f)
				t.Logf("%v", s)
				// What an encoder leaves of a tear is blurred by up to its blocks of
				// 16 rows, and its key frames look like frames of their own.
				lost := 0
				if e.name != ffv1.name {
					lost = s.torn / 20
				} else if c.name == "73 Hz" {
					lost = 1 // the first, of which only the end shows
				} else if c.name == "creeping" {
					lost = 5 // where the tear was in the same row for two frames from the start
				}
				if s.missed > lost || s.invented > lost {
					t.Errorf("missed %d, invented %d of %d tears", s.missed, s.invented, s.torn)
					t.Logf("true     %v", f.starts)
					t.Logf("measured %v", m.starts(h))
				}
			})
		}
	}
}

// TestWhole: where frames are stated to begin at the top only, none is torn, whatever
// the pictures look like, and the log's times are whole refreshes.
func TestWhole(t *testing.T) {
	t.Parallel()
	f := &fixture{w: 320, h: 184, frames: 120, src: newSource("pan", 240, 3), starts: torn(rand.New(rand.NewPCG(8, 9)), 120, 184, 1.35, 0.1), seed: 3}
	for _, whole := range []bool{false, true} {
		m := measureDrawn(t, f, Settings{Whole: whole})
		if whole == (m.sum.Torn > 0) {
			t.Errorf("stated to be whole %v: %d frames torn", whole, m.sum.Torn)
		}
	}
}
