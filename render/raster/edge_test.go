package raster

import (
	"image"
	"io"
	"math"
	"path/filepath"
	"testing"
	"time"

	"fairframe/render/media"
)

// staircase draws a near-level edge without smoothing at a raster and scales it with a
// kernel, or by repeating pixels where there is none. It is turned for a near-upright one.
func staircase(from, to image.Point, slope float64, k *kernel) []byte {
	source := make([]float64, from.X*from.Y)
	for y := range from.Y {
		for x := range from.X {
			source[y*from.X+x] = 60
			// A rasteriser takes a pixel if its centre lies inside (common practice).
			if float64(y)+0.5 > 0.3*float64(from.Y)+slope*(float64(x)+0.5) {
				source[y*from.X+x] = 180
			}
		}
	}
	weigh := func(i, n, m int) (first int, w []float64) {
		c := (float64(i)+0.5)*float64(n)/float64(m) - 0.5
		if k == nil {
			return int(math.Floor(c + 0.5)), []float64{1}
		}
		first = int(math.Floor(c)) - 3
		sum := 0.0
		for j := range 8 {
			w = append(w, k.at(float64(first+j)-c))
			sum += w[j]
		}
		for j := range w {
			w[j] /= sum
		}
		return first, w
	}
	wide := make([]float64, to.X*from.Y)
	for x := range to.X {
		first, w := weigh(x, from.X, to.X)
		for y := range from.Y {
			for j, v := range w {
				wide[y*to.X+x] += v * source[y*from.X+min(max(first+j, 0), from.X-1)]
			}
		}
	}
	luma := make([]byte, to.X*to.Y)
	for y := range to.Y {
		first, w := weigh(y, from.Y, to.Y)
		for x := range to.X {
			v := 0.0
			for j, wj := range w {
				v += wj * wide[min(max(first+j, 0), from.Y-1)*to.X+x]
			}
			luma[y*to.X+x] = byte(math.Round(v))
		}
	}
	return luma
}

// Edges of 60 slopes at 12 rasters are counted rightly or refused.
func TestCountSteps(t *testing.T) {
	to := image.Pt(480, 270)
	counted := 0
	for _, lines := range []int{135, 150, 162, 180, 191, 198, 203, 216, 225, 236, 243, 252} {
		from := image.Pt(lines*16/9, lines)
		for i := range 60 {
			slope := math.Tan(float64(i+1) * 0.75 * math.Pi / 180)
			k := []*kernel{nil, &kernels[0], &kernels[1], &kernels[2], &kernels[3]}[i%5]
			luma := staircase(from, to, slope, k)
			// The ends as a hand would state them.
			a := image.Pt(20, int(0.3*270+slope*20+0.5))
			b := image.Pt(460, int(0.3*270+slope*460+0.5))
			if over := b.Y - 255; over > 0 {
				b = image.Pt(b.X-int(float64(over)/slope), 255)
			}
			s, err := CountSteps(luma, to, a, b)
			if err != nil {
				continue
			}
			counted++
			if math.Abs(s.From-float64(lines)) > s.Error {
				t.Errorf("%d lines, %.2f degrees, kernel %v: %d steps in %.2f pixels, %.1f lines, give or take %.1f", lines, float64(i+1)*0.75, k, s.Steps, s.Pixels, s.From, s.Error)
			}
		}
	}
	t.Logf("%d of 720 edges counted", counted)
	if counted < 120 {
		t.Errorf("only %d edges were counted", counted)
	}
}

// The same on a capture that ffmpeg coded, and an edge that is smoothed is refused.
func TestCountAt(t *testing.T) {
	tools, err := media.Find("")
	if err != nil {
		t.Fatal(err)
	}
	to := image.Pt(480, 270)
	luma := staircase(image.Pt(320, 180), to, 0.06, &kernels[0])
	c := encode(t, tools, to, "format=yuv420p", func(w io.Writer) error {
		for range 4 {
			if _, err := w.Write(luma); err != nil {
				return err
			}
		}
		return nil
	}, "-crf", "14")
	s, err := CountAt(t.Context(), tools, c, 350*time.Millisecond, image.Pt(20, 82), image.Pt(470, 109))
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(s.From-180) > s.Error || s.Upright || s.Shown > 350*time.Millisecond {
		t.Errorf("%s, at %s", s.Verdict(), s.Shown)
	}
	path := filepath.Join(t.TempDir(), "edge.png")
	if err := s.Draw(path, c); err != nil {
		t.Fatal(err)
	}
	if err := s.Draw(c.Path, c); err == nil {
		t.Error("the picture took the place of the capture")
	}
	for x := range to.X { // a soft edge
		for y := range to.Y {
			d := float64(y) - 81 - 0.06*float64(x)
			luma[y*to.X+x] = byte(120 + 60*math.Tanh(d/2))
		}
	}
	for _, line := range [][2]image.Point{{{20, 82}, {470, 109}}, {{20, 82}, {470, 84}}, {{20, 20}, {470, 47}}, {{20, 82}, {600, 109}}} {
		if s, err := CountSteps(luma, to, line[0], line[1]); err == nil {
			t.Errorf("%v: %s", line, s.Verdict())
		}
	}
}

// Near-upright edges are near-level ones turned.
func TestCountStepsUpright(t *testing.T) {
	to := image.Pt(480, 270)
	luma := staircase(image.Pt(320, 180), to, 0.08, &kernels[2])
	upright := make([]byte, len(luma))
	for y := range to.Y {
		for x := range to.X {
			upright[x*to.Y+y] = luma[y*to.X+x]
		}
	}
	level, err := CountSteps(luma, to, image.Pt(10, 82), image.Pt(470, 119))
	if err != nil {
		t.Fatal(err)
	}
	turned, err := CountSteps(upright, image.Pt(270, 480), image.Pt(119, 470), image.Pt(82, 10))
	if err != nil {
		t.Fatal(err)
	}
	if !turned.Upright || turned.Steps != level.Steps || turned.From != level.From || math.Abs(level.From-180) > level.Error {
		t.Errorf("level %s, upright %s", level.Verdict(), turned.Verdict())
	}
}
