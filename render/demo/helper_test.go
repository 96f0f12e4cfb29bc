package demo

import (
	"context"
	"image"
	"slices"
	"sync"
	"testing"
	"time"

	"fairframe/render/media"
	"fairframe/render/pacing"
)

// built keeps the worlds that tests built, because building takes longer than
// the small pictures of them.
var built struct {
	sync.Mutex
	worlds map[uint64]*world
}

// worldOf is newWorld, but builds each world once.
func worldOf(seed uint64) *world {
	built.Lock()
	defer built.Unlock()
	if built.worlds[seed] == nil {
		if built.worlds == nil {
			built.worlds = map[uint64]*world{}
		}
		built.worlds[seed] = newWorld(seed)
	}
	return built.worlds[seed]
}

// smallWorld is a world for the tests that only look at it.
func smallWorld() *world { return worldOf(3) }

func tools(t *testing.T) *media.Tools {
	t.Helper()
	tools, err := media.Find("")
	if err != nil {
		t.Skip(err)
	}
	return tools
}

// demoOf makes a demo in a folder of the test.
func demoOf(t *testing.T, o Options) (string, Result) {
	t.Helper()
	dir := t.TempDir()
	r, err := write(context.Background(), tools(t), dir, o, worldOf)
	if err != nil {
		t.Fatal(err)
	}
	return dir, r
}

// lossless is the demo that several tests look at: made once, tiny, without
// coding loss.
func lossless(t *testing.T) []film {
	t.Helper()
	losslessOnce.Do(func() {
		_, r := demoOf(t, Options{Length: 2 * time.Second, Seed: 3, Size: image.Pt(256, 144), Lossless: true})
		for _, c := range r.Captures {
			losslessFilms = append(losslessFilms, decode(t, c))
		}
	})
	if len(losslessFilms) == 0 {
		t.Skip("no demo was made")
	}
	return losslessFilms
}

var (
	losslessOnce  sync.Once
	losslessFilms []film
)

// film is a capture with its decoded luma.
type film struct {
	Capture
	luma [][]byte
}

func decode(t *testing.T, c Capture) film {
	t.Helper()
	ctx := context.Background()
	probed, err := tools(t).Probe(ctx, c.Video)
	if err != nil {
		t.Fatal(err)
	}
	if probed.Size != c.Size || probed.Rate != captureRate() || !probed.Audio {
		t.Errorf("%s: probed as %v at %v, audio %v", c.Key, probed.Size, probed.Rate, probed.Audio)
	}
	f := film{Capture: c}
	_, err = tools(t).DecodeVideo(ctx, probed, media.Request{Count: -1}, func(_ int64, luma *[]byte) error {
		f.luma = append(f.luma, slices.Clone(*luma))
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if int64(len(f.luma)) != c.Count {
		t.Fatalf("%s: %d frames decoded, want %d", c.Key, len(f.luma), c.Count)
	}
	return f
}

// shows is the game's frame in row y of captured frame n, by the log alone.
func (f *film) shows(n int64, y int) int {
	from, to := captureRate().TimeOf(n), captureRate().TimeOf(n+1)
	shown := 0
	for i, fr := range f.Frames {
		if fr.Begin <= from || fr.Begin < to && y >= fr.Tear {
			shown = i
		}
	}
	return shown
}

// row is row y of captured frame n.
func (f *film) row(n int64, y int) []byte { return f.luma[n][y*f.Size.X:][:f.Size.X] }

// meanDifference is the mean absolute difference of two pictures, in codes.
func meanDifference(a, b []byte) float64 {
	var sum int
	for i := range a {
		d := int(a[i]) - int(b[i])
		sum += max(d, -d)
	}
	return float64(sum) / float64(len(a))
}

// schedule is a machine's capture by its log alone.
func schedule(key string, length time.Duration, rows int, seed uint64) (director, []pacing.Frame) {
	leg := Options{Length: length}.leg()
	for _, m := range machines() {
		if m.key == key {
			d := director{leg: leg, lead: m.lead, frames: captureRate().FramesIn(length), rows: rows}
			return d, frames(m.show(seed, d), d)
		}
	}
	panic("no machine " + key)
}
