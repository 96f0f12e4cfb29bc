package raster

import (
	"fmt"
	"image"
	"io"
	"math"
	"math/rand/v2"
	"path/filepath"
	"strconv"
	"testing"

	"fairframe/render/media"
	"fairframe/render/pacing"
	"fairframe/testdata/published"
)

// The kernels are those of the published formulas: Mitchell and Netravali 1988, Duchon
// 1979, as testdata/published/10_kernels.csv has them.
func TestKernels(t *testing.T) {
	of := map[string]kernel{"Mitchell B=C=1/3": kernels[2], "Catmull-Rom B=0 C=1/2": catmullRom, "Lanczos a=3": kernels[3]}
	tried := 0
	for _, row := range published.Rows(t, "10_kernels.csv") {
		k, ok := of[row["kernel"]]
		if !ok {
			continue
		}
		x, err := strconv.ParseFloat(row["x"], 64)
		if err != nil {
			t.Fatal(err)
		}
		want, err := strconv.ParseFloat(row["value"], 64)
		if err != nil {
			t.Fatal(err)
		}
		tried++
		if got := k.at(x); math.Abs(got-want) > 1e-9 {
			t.Errorf("%s at %v: %v instead of %v", row["kernel"], x, got, want)
		}
	}
	if tried < 31 {
		t.Errorf("only %d values were compared", tried)
	}
}

// What a scaling makes it explains wholly, and what another makes it does not.
func TestResidual(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, k := range kernels {
		for _, from := range []int{100, 133, 160, 200} {
			const to = 240
			s := newScaling(k, from, to, 0, to)
			source := make([]float64, from)
			for i := range source {
				source[i] = 200 * rng.Float64()
			}
			line, power := make([]float64, to), 0.0
			for i, w := range s.weights {
				for j, v := range w {
					line[i] += v * source[s.start[i]+j]
				}
			}
			other := append([]float64(nil), line...)
			s.residual(line)
			newScaling(k, from-apart, to, 0, to).residual(other)
			left := 0.0
			for i := range line {
				left += line[i] * line[i]
				power += other[i] * other[i]
			}
			if left > 1e-3*power {
				t.Errorf("%d to %d: %g is left, of %g with another raster", from, to, left, power)
			}
		}
	}
}

// The profile of a stretch covers only what counts.
func TestStudyKeepsToItsRegion(t *testing.T) {
	size := image.Pt(200, 100)
	luma := make([]byte, size.X*size.Y)
	for i := range luma {
		luma[i] = byte(60 + (i*7919)%120)
	}
	p := study(luma, size, image.Rect(20, 10, 180, 90), []image.Rectangle{image.Rect(20, 10, 60, 90)})
	for x, n := range p.profiles[across].count {
		if (n > 0) != (x > 60 && x < 179) {
			t.Fatalf("column %d counts %v samples", x, n)
		}
	}
	for y, n := range p.profiles[down].count {
		if (n > 0) != (y > 10 && y < 89) {
			t.Fatalf("row %d counts %v samples", y, n)
		}
	}
	for a, first := range []int{60, 10} {
		for _, l := range p.lines[a] {
			if l.first != first {
				t.Fatalf("axis %d: a line begins at %d", a, l.first)
			}
		}
	}
}

// texture is a picture with the detail that a game draws: areas, edges and grain, other
// ones in each frame.
func texture(dst []byte, size image.Point, rng *rand.Rand) {
	for i := range dst {
		dst[i] = byte(90 + rng.IntN(24))
	}
	for range 160 {
		w, h, grey := 4+rng.IntN(60), 4+rng.IntN(60), byte(30+rng.IntN(170))
		at := image.Pt(rng.IntN(size.X), rng.IntN(size.Y))
		lean := rng.IntN(5) - 2
		for y := at.Y; y < min(size.Y, at.Y+h); y++ {
			for x := max(0, at.X+lean*(y-at.Y)/3); x < min(size.X, at.X+w+lean*(y-at.Y)/3); x++ {
				dst[y*size.X+x] = grey + byte(rng.IntN(12))
			}
		}
	}
}

// film is a capture of pictures that are drawn at a raster and scaled to a size by
// ffmpeg's own scaler, which is the reference: it knows nothing of this package.
func film(t *testing.T, tools *media.Tools, from, to image.Point, flags string, frames int, args ...string) media.Capture {
	t.Helper()
	filter := fmt.Sprintf("scale=%d:%d:flags=%s+accurate_rnd", to.X, to.Y, flags)
	if from == to {
		filter = "null"
	}
	rng := rand.New(rand.NewPCG(7, uint64(from.X)))
	return encode(t, tools, from, filter+",format=yuv420p", func(w io.Writer) error {
		picture := make([]byte, from.X*from.Y)
		for range frames {
			texture(picture, from, rng)
			if _, err := w.Write(picture); err != nil {
				return err
			}
		}
		return nil
	}, args...)
}

func encode(t *testing.T, tools *media.Tools, size image.Point, filter string, write func(io.Writer) error, args ...string) media.Capture {
	t.Helper()
	path := filepath.Join(t.TempDir(), "capture.mkv")
	spec := media.EncodeSpec{Out: path, Size: size, PixFmt: "gray", Rate: pacing.Rate{Num: 10, Den: 1}, Filter: filter,
		Args: append([]string{"-f", "matroska", "-c:v", "libx264", "-preset", "veryfast", "-g", "2"}, args...)}
	if err := tools.Encode(t.Context(), spec, write); err != nil {
		t.Fatal(err)
	}
	c, err := tools.Probe(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func TestEstimate(t *testing.T) {
	tools, err := media.Find("")
	if err != nil {
		t.Fatal(err)
	}
	to := image.Pt(960, 540)
	for _, c := range []struct {
		name, flags string
		from        image.Point
		args        []string
	}{
		{"bilinear", "bilinear", image.Pt(704, 396), []string{"-crf", "16"}},
		{"bicubic", "bicubic", image.Pt(640, 360), []string{"-crf", "20"}},
		{"lanczos", "lanczos", image.Pt(800, 450), []string{"-crf", "16"}},
		{"lossless", "bicubic", image.Pt(640, 396), []string{"-qp", "0"}},
		{"narrow", "bicubic", image.Pt(704, 540), []string{"-crf", "16"}},
		{"native", "", to, []string{"-crf", "16"}},
		{"coarse", "", to, []string{"-crf", "30"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			r, err := Estimate(t.Context(), tools, film(t, tools, c.from, to, c.flags, 8, c.args...), Options{Samples: 4})
			if err != nil {
				t.Fatal(err)
			}
			wantX, wantY := c.from.X, c.from.Y
			if wantX == to.X {
				wantX = 0
			}
			if wantY == to.Y {
				wantY = 0
			}
			if r.Across.From() != wantX || r.Down.From() != wantY {
				t.Errorf("found %d and %d, not %d and %d", r.Across.From(), r.Down.From(), wantX, wantY)
			}
			if len(r.Samples) != 4 {
				t.Errorf("%d samples", len(r.Samples))
			}
		})
	}
}

// A game that changes its raster as it goes is told apart in time.
func TestEstimateInTime(t *testing.T) {
	tools, err := media.Find("")
	if err != nil {
		t.Fatal(err)
	}
	to := image.Pt(960, 540)
	low := film(t, tools, image.Pt(704, 396), to, "bicubic", 16, "-qp", "0")
	full := film(t, tools, to, to, "", 8, "-qp", "0")
	c := encode(t, tools, to, "format=yuv420p", func(w io.Writer) error {
		for _, part := range []media.Capture{low, full} {
			_, err := tools.DecodeVideo(t.Context(), part, media.Request{Count: -1}, func(_ int64, luma *[]byte) error {
				_, err := w.Write(*luma)
				return err
			})
			if err != nil {
				return err
			}
		}
		return nil
	}, "-crf", "16")
	r, err := Estimate(t.Context(), tools, c, Options{Samples: 12})
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range r.Samples {
		across, down := 704, 396
		if s.At.Seconds() >= 1.6 {
			across, down = 0, 0
		}
		if s.Across != across || s.Down != down {
			t.Errorf("at %s: %d and %d", s.At, s.Across, s.Down)
		}
	}
	part, err := Estimate(t.Context(), tools, c, Options{Samples: 4, From: 1600 * 1e6})
	if err != nil {
		t.Fatal(err)
	}
	if part.Across.Found || part.Down.Found {
		t.Errorf("the native part: %s, %s", part.Across.Verdict("across", 4), part.Down.Verdict("down", 4))
	}
}
