package raster

import (
	"fmt"
	"image"
	"image/color"
	_ "image/jpeg"
	"io"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"fairframe/render/media"
)

// plane is a picture's luma.
type plane struct {
	w, h int
	y    []byte
}

func (p plane) at(x, y int) byte { // mirrored past its edges
	x, y = x%(2*p.w), y%(2*p.h)
	if x >= p.w {
		x = 2*p.w - 1 - x
	}
	if y >= p.h {
		y = 2*p.h - 1 - y
	}
	return p.y[y*p.w+x]
}

func loadHalf(path string) (p plane, err error) {
	f, err := os.Open(path)
	if err != nil {
		return p, err
	}
	defer f.Close()
	m, _, err := image.Decode(f)
	if err != nil {
		return p, err
	}
	b := m.Bounds()
	p = plane{b.Dx() / 2, b.Dy() / 2, make([]byte, b.Dx()/2*(b.Dy()/2))}
	for y := range p.h {
		for x := range p.w {
			sum := 0
			for k := range 4 {
				sum += int(color.GrayModel.Convert(m.At(b.Min.X+2*x+k%2, b.Min.Y+2*y+k/2)).(color.Gray).Y)
			}
			p.y[y*p.w+x] = byte(16 + sum*219/4/255)
		}
	}
	return p, nil
}

// sweepKinds are what is done to a photograph's codes.
var sweepKinds = map[string]func(v int, rng *rand.Rand) int{
	"photo": func(v int, _ *rand.Rand) int { return v },
	"dark":  func(v int, _ *rand.Rand) int { return 16 + (v-16)/4 },
	"fog":   func(v int, _ *rand.Rand) int { return 150 + (v-126)/5 },
	"grain": func(v int, rng *rand.Rand) int { return min(235, max(16, v+rng.IntN(13)-6)) },
}

// TestSweep estimates the raster of photographs (Debian's mate-backgrounds), at random
// places, rasters, kernels and codings, and prints how many answers are right, wrong and
// missing. FAIRFRAME_TRIALS is how many captures it makes; 200 take about ten minutes.
func TestSweep(t *testing.T) {
	if os.Getenv("FAIRFRAME_SWEEP") == "" {
		t.Skip("FAIRFRAME_SWEEP is not set")
	}
	trials := 200
	if n, err := strconv.Atoi(os.Getenv("FAIRFRAME_TRIALS")); err == nil {
		trials = n
	}
	files, err := filepath.Glob("/usr/share/backgrounds/mate/*/*.jpg")
	if err != nil || len(files) == 0 {
		t.Skip("the package mate-backgrounds is not installed")
	}
	tools, err := media.Find("")
	if err != nil {
		t.Fatal(err)
	}
	to := image.Pt(1920, 1080)
	lines := []int{540, 600, 648, 720, 765, 792, 810, 873, 900, 945, 972, 1008, 1080, 1080, 1080, 1080}
	scalers := []string{"bilinear", "bicubic:param0=0:param1=0.5", "bicubic:param0=0.3333:param1=0.3333", "lanczos:param0=3"}
	codings := [][]string{{"-crf", "16"}, {"-crf", "20"}, {"-crf", "24"}, {"-crf", "28"}, {"-b:v", "10M"}, {"-b:v", "20M"}, {"-b:v", "50M"}}
	kinds := slices.Sorted(maps.Keys(sweepKinds))
	rng := rand.New(rand.NewPCG(uint64(trials), 0))
	type count struct{ right, wrong, none, quiet int }
	table := map[string]*count{}
	for range trials {
		file, h := files[rng.IntN(len(files))], lines[rng.IntN(len(lines))]
		p, err := loadHalf(file)
		if err != nil {
			t.Fatal(err)
		}
		from := image.Pt((h*to.X/to.Y+1)&^1, h)
		coding, kind, at := codings[rng.IntN(len(codings))], kinds[rng.IntN(len(kinds))], image.Pt(rng.IntN(4000), rng.IntN(4000))
		filter := fmt.Sprintf("scale=%d:%d:flags=%s,format=yuv420p", to.X, to.Y, scalers[rng.IntN(len(scalers))])
		if from == to {
			filter = "format=yuv420p"
		}
		c := encode(t, tools, from, filter, func(w io.Writer) error {
			row := make([]byte, from.X)
			for f := range 12 {
				for y := range from.Y {
					for x := range row {
						row[x] = byte(sweepKinds[kind](int(p.at(at.X+x+67*f, at.Y+y+31*f)), rng))
					}
					if _, err := w.Write(row); err != nil {
						return err
					}
				}
			}
			return nil
		}, append(coding, "-g", "1")...)
		r, err := Estimate(t.Context(), tools, c, Options{Samples: 12})
		if err != nil {
			t.Fatal(err)
		}
		os.Remove(c.Path)
		for i, x := range []Axis{r.Across, r.Down} {
			truth, answer := []int{from.X, from.Y}[i], x.From()
			for _, row := range []string{strings.TrimPrefix(coding[0], "-") + " " + coding[1], kind, "all"} {
				n := table[row]
				if n == nil {
					n = &count{}
					table[row] = n
				}
				switch {
				case answer == 0 && from == to:
					n.quiet++
				case answer == 0:
					n.none++
				case from != to && answer >= truth-1 && answer <= truth+1:
					n.right++
				default:
					n.wrong++
					t.Logf("wrong: %d for %d, %s, %s, %v", answer, truth, filepath.Base(file), kind, coding)
				}
			}
		}
	}
	t.Logf("%-10s %6s %6s %6s  %s", "", "right", "wrong", "none", "rightly none")
	for _, row := range slices.Sorted(maps.Keys(table)) {
		n := table[row]
		t.Logf("%-10s %6d %6d %6d  %d", row, n.right, n.wrong, n.none, n.quiet)
	}
	if n := table["all"]; n.wrong > 0 || n.right == 0 {
		t.Errorf("%d wrong answers, %d right ones", n.wrong, n.right)
	}
}
