package demo

import (
	"bytes"
	"context"
	"errors"
	"image"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"fairframe/render/pacing"
)

var image128 = image.Pt(228, 128)

// Every row of every captured frame is the row before where the log says that
// the game's frame is the same, and new where it is another.
func TestPicturesFollowTheLogs(t *testing.T) {
	for _, f := range lossless(t) {
		t.Run(f.Key, func(t *testing.T) {
			for n := int64(1); n < f.Count; n++ {
				for y := 0; y < f.Size.Y; {
					was, is := f.shows(n-1, y), f.shows(n, y)
					end, same := y, true
					for ; end < f.Size.Y && f.shows(n-1, end) == was && f.shows(n, end) == is; end++ {
						same = same && bytes.Equal(f.row(n-1, end), f.row(n, end))
					}
					if same != (was == is) {
						t.Fatalf("captured frame %d, rows %d to %d: the game's frame was %d and is %d, but equal rows: %v", n, y, end, was, is, same)
					}
					y = end
				}
			}
		})
	}
}

// At one moment of the game, all machines show the same picture.
func TestCapturesShowTheSameFlight(t *testing.T) {
	films := lossless(t)
	base := films[1] // Birch has the full raster
	for _, f := range []film{films[0], films[2]} {
		shift := captureRate().FramesIn(base.Lead - f.Lead)
		if f.Lead > base.Lead {
			shift = -captureRate().FramesIn(f.Lead - base.Lead)
		}
		best, at := 1e9, int64(0)
		for off := int64(-6); off <= 6; off++ {
			var sum float64
			for n := int64(20); n < 40; n++ {
				sum += meanDifference(base.luma[n], f.luma[n+shift+off])
			}
			if sum < best {
				best, at = sum, off
			}
		}
		if at < -1 || at > 1 {
			t.Errorf("%s is %d frames away from where its lead puts it", f.Key, at)
		}
	}
}

// New frames stay new after lossy coding, and repeats repeats: the least change
// of a new frame lies well over the most of a repeated one. Key frames, where
// the coding starts afresh, are left out.
func TestNewFramesDifferAfterCoding(t *testing.T) {
	if raced {
		t.Skip("drawn without the race detector only")
	}
	_, r := demoOf(t, Options{Length: 2 * time.Second, Seed: 3, Size: image.Pt(320, 180), CRF: 23})
	for _, c := range r.Captures[:2] {
		f := decode(t, c)
		least, most := 1e9, 0.0
		for n := int64(1); n < f.Count; n++ {
			d := meanDifference(f.luma[n-1], f.luma[n])
			if n%60 == 0 {
				continue
			}
			if f.shows(n-1, 0) == f.shows(n, 0) {
				most = max(most, d)
			} else {

				least = min(least, d)
			}
		}
		t.Logf("%s: new frames change by %.2f codes or more, repeated ones by %.2f or less", c.Key, least, most)
		if least < 1.5*most || least < 1 {
			t.Errorf("%s: a new frame changes by %.2f codes, a repeated one by %.2f", c.Key, least, most)
		}
	}
}

// Wherever a tear may lie, the picture below it moves: in each band of rows, two
// frames of the game in quick succession differ.
func TestEveryBandMoves(t *testing.T) {
	size := image.Pt(320, 180)
	v := newView(smallWorld().paint(size, size))
	const bands = 18
	for g := 0.1; g < 11; g += 0.43 {
		var last []uint8
		for _, at := range []float64{g, g + 0.0125} {
			v.draw(at)
			if last == nil {
				last = slices.Clone(v.y)
				continue
			}
			for b := range bands {
				var sum float64
				for x := range size.X {
					i, j := x*v.stride+b*size.Y/bands, x*v.stride+(b+1)*size.Y/bands
					sum += meanDifference(last[i:j], v.y[i:j])
				}
				if mean := sum / float64(size.X); mean < 0.25 {
					t.Errorf("%.2f s: band %d of %d changes by %.3f codes in 12.5 ms", g, b, bands, mean)
				}
			}
		}
	}
}

// Two runs give the same files to the bit, another seed gives others.
func TestSameSeedSameBits(t *testing.T) {
	if raced {
		t.Skip("drawn without the race detector only")
	}
	o := Options{Length: MinLength, Seed: 3, Size: image128}
	a, ra := demoOf(t, o)
	b := t.TempDir()
	if _, err := Write(context.Background(), tools(t), b, o); err != nil { // in a world of its own
		t.Fatal(err)
	}
	o.Seed++
	c, _ := demoOf(t, o)
	for _, name := range fileNames(machines()) {
		var data [3][]byte
		for i, dir := range []string{a, b, c} {
			var err error
			if data[i], err = os.ReadFile(filepath.Join(dir, name)); err != nil {
				t.Fatal(err)
			}
		}
		if !bytes.Equal(data[0], data[1]) {
			t.Errorf("%s differs between two runs", name)
		}
		if name != comparisonName && bytes.Equal(data[0], data[2]) {
			t.Errorf("%s is the same for another seed", name)
		}
	}

	t.Run("logs", func(t *testing.T) {
		for _, c := range ra.Captures {
			format := pacing.Format{}
			if filepath.Ext(c.Log) == ".txt" {
				format = pacing.Format{Column: "ms", Means: pacing.FrameTime, Unit: pacing.Milliseconds}
			}
			f, err := os.Open(c.Log)
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			trace, warnings, err := pacing.ReadTrace(f, c.Log, format, captureRate(), 0, captureRate().TimeOf(c.Count))
			if err != nil || len(warnings) > 0 {
				t.Fatalf("%s: %v %v", c.Key, err, warnings)
			}
			got := trace.Frames()
			if len(got) != len(c.Frames) {
				t.Fatalf("%s: %d frames in the log, %d made", c.Key, len(got), len(c.Frames))
			}
			for i, w := range c.Frames {
				if d := got[i].Begin - w.Begin; got[i].Tear != w.Tear || d < -time.Microsecond || d > time.Microsecond {
					t.Errorf("%s: frame %d read as %+v, made as %+v", c.Key, i, got[i], w)
				}
			}
		}
	})
	t.Run("own files are replaced", func(t *testing.T) {
		if _, err := Write(cancelled(), tools(t), a, o); !errors.Is(err, context.Canceled) {
			t.Errorf("got %v, want the context's error, and no complaint about the folder", err)
		}
	})
	t.Run("changed files are kept", func(t *testing.T) {
		path := filepath.Join(a, comparisonName)
		if err := os.WriteFile(path, []byte("title: mine\n"), 0o666); err != nil {
			t.Fatal(err)
		}
		var kept *KeptError
		if _, err := Write(context.Background(), tools(t), a, o); !errors.As(err, &kept) {
			t.Errorf("got %v, want a *KeptError", err)
		}
	})
}

func cancelled() context.Context {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	return ctx
}

// listing names all that lies under dir.
func listing(t *testing.T, dir string) []string {
	t.Helper()
	var list []string
	err := filepath.WalkDir(dir, func(path string, _ fs.DirEntry, err error) error {
		if path != dir {
			list = append(list, path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return list
}

func TestCancelLeavesNothing(t *testing.T) {
	parent := t.TempDir()
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	o := Options{Length: time.Minute, Seed: 3, Size: image128, Progress: func(done, _ int) {
		if done == 20 {
			cancel()
		}
	}}
	_, err := write(ctx, tools(t), filepath.Join(parent, "new", "demo"), o, worldOf)
	if !errors.Is(err, context.Canceled) {
		t.Errorf("got %v, want the context's error", err)
	}
	if left := listing(t, parent); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

func TestOtherFilesAreKept(t *testing.T) {
	for _, name := range []string{comparisonName, filepath.Join("captures", "alder.mkv"), filepath.Join("captures", "birch.txt")} {
		dir := t.TempDir()
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte("mine"), 0o666); err != nil {
			t.Fatal(err)
		}
		_, err := Write(context.Background(), nil, dir, Options{})
		var kept *KeptError
		if !errors.As(err, &kept) || kept.Path != path {
			t.Errorf("%s: got %v, want a *KeptError for it", name, err)
		}
		if data, err := os.ReadFile(path); err != nil || string(data) != "mine" {
			t.Errorf("%s: now holds %q, %v", name, data, err)
		}
	}
}

func TestOptionsAreChecked(t *testing.T) {
	for want, o := range map[string]Options{
		"demo: length 1s is outside 2s to 1h0m0s":           {Length: time.Second},
		"demo: length -1s is outside 2s to 1h0m0s":          {Length: -time.Second},
		"demo: size 321x180 has an odd side":                {Size: image.Pt(321, 180)},
		"demo: size 320x100 has a side outside 128 to 4096": {Size: image.Pt(320, 100)},
		"demo: constant rate factor 52 is outside 1 to 51":  {CRF: 52},
	} {
		dir := t.TempDir()
		if _, err := Write(context.Background(), nil, dir, o); err == nil || err.Error() != want {
			t.Errorf("got %v, want %s", err, want)
		}
		if left := listing(t, dir); len(left) > 0 {
			t.Errorf("left behind: %v", left)
		}
	}
}
