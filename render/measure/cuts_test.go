package measure

import (
	"image"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"fairframe/render/pacing"
)

// differences decodes a fixture's capture and compares its pictures.
func differences(t *testing.T, f *fixture, e encoding) []*difference {
	s, err := Settings{}.resolve(image.Pt(f.w, f.h))
	if err != nil {
		t.Fatal(err)
	}
	c := newComparer(image.Pt(f.w, f.h), s)
	var list []*difference
	var pic []byte
	decode(t, f.encode(t, e), f.w, f.h, func(_ int64, luma []byte) error {
		d := c.newDifference()
		pic = append(pic[:0], luma...)
		c.compare(&pic, d)
		list = append(list, d)
		return nil
	})
	return list
}

// measureDifferences measures what src says of pictures that were compared before.
func measureDifferences(t *testing.T, src Source, list []*difference) (frames []pacing.Frame) {
	m, err := New(src, Settings{}, func(f pacing.Frame) error { frames = append(frames, f); return nil })
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range list {
		o := &observation{difference: d}
		m.relate(o)
		if err := m.take(o); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := m.Finish(); err != nil {
		t.Fatal(err)
	}
	return frames
}

// TestCuts measures captures in random parts, each with what lies around it, as Capture
// reads them: a second or more from their ends all frames are those of the whole. Parts
// that are files of their own have nothing around them; how many of their frames differ
// is bounded. FAIRFRAME_SWEEP=1 tries ten captures and 200 parts of each.
func TestCuts(t *testing.T) {
	t.Parallel()
	const frames = 600
	kinds, encodings, tries := []string{"pan", "text", "pan"}, []encoding{x264(23, 60), x264(28, 60), x264(18, 60)}, 4
	if sweeping() {
		kinds = []string{"pan", "text", "pan", "zoom", "particles", "object", "dark", "mixed", "gradient", "pan"}
		encodings, tries = append(encodings, x264(23, 250, "-bf", "0"), ffv1, mjpeg), 200
	}
	all, differ := 0, 0
	for i, kind := range kinds {
		rng := rand.New(rand.NewPCG(uint64(i), 11))
		f := &fixture{w: 320, h: 180, frames: frames, src: newSource(kind, 240, uint64(i)), seed: uint64(i)}
		switch i % 3 {
		case 0:
			f.starts = unlocked(rng, frames, 1, 3, 0.02)
		case 1:
			f.starts = cadence(30, frames)
		case 2:
			f.starts = torn(rng, frames, f.h, 1.35, 0.1)
		}
		e := encodings[i%len(encodings)]
		list := differences(t, f, e)
		src := Source{Size: image.Pt(f.w, f.h), Rate: captureRate, Codec: e.codec}
		whole := measureDifferences(t, src, list)
		for range tries {
			from := int64(rng.IntN(frames - 200))
			count := 130 + int64(rng.IntN(frames-130-int(from)))
			lead := min(from, reach)
			part := src
			part.First, part.Lead, part.Count = from-lead, lead, count
			got := measureDifferences(t, part, list[from-lead:min(from+count+reach, frames)])
			if n, d := differing(whole, got, from, from+count); d > 0 {
				t.Errorf("%s, %s: frames %d to %d: %d of %d decisions differ", kind, e.name, from, from+count, d, n)
			}
			part.First, part.Lead, part.Count = from, 0, 0
			n, d := differing(whole, measureDifferences(t, part, list[from:from+count]), from, from+count)
			all, differ = all+n, differ+d
		}
	}
	t.Logf("of parts that are files of their own %d of %d decisions differ", differ, all)
	if differ*50 > all {
		t.Errorf("of parts that are files of their own %d of %d decisions differ, more than 2 %%", differ, all)
	}
}

// differing counts the frames that begin a second or more from either end of a part, and
// those that the part or the whole has alone, or marks alone.
func differing(whole, part []pacing.Frame, from, to int64) (all, differ int) {
	inside := func(list []pacing.Frame) (out []pacing.Frame) {
		for _, f := range list {
			if f.Begin >= captureRate.TimeOf(from)+time.Second && f.End() <= captureRate.TimeOf(to)-time.Second {
				f.Ceiling = false
				out = append(out, f)
			}
		}
		return out
	}
	a, b := inside(whole), inside(part)
	for _, f := range a {
		if !slices.Contains(b, f) {
			differ++
		}
	}
	for _, f := range b {
		if !slices.Contains(a, f) {
			differ++
		}
	}
	return len(a), differ
}
