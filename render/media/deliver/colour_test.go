package deliver

import (
	"fmt"
	"image"
	"io"
	"math"
	"path/filepath"
	"strconv"
	"testing"

	"fairframe/layout"
	"fairframe/render/media"
	"fairframe/render/media/graph"
	"fairframe/testdata/published"
)

// planes decodes frame n of a file to packed yuv420p codes, as they are.
func planes(t testing.TB, path string, size image.Point, n int) []byte {
	t.Helper()
	buf := make([]byte, size.X*size.Y*3/2)
	tools := tools(t)
	err := tools.Run(t.Context(), media.Process{Args: []string{"-v", "level+error", "-nostdin", "-i", media.FileURL(path), "-vf", fmt.Sprintf("trim=start_frame=%d:end_frame=%d", n, n+1),
		"-fps_mode", "passthrough", "-f", "rawvideo", "-pix_fmt", "yuv420p", "pipe:1"},
		Stdout: func(r io.Reader) error { _, err := io.ReadFull(r, buf); return err }})
	if err != nil {
		t.Fatal(err)
	}
	return buf
}

type ycc [3]int

func codeAt(p []byte, size image.Point, at image.Point) ycc {
	c := size.X * size.Y
	i := at.Y/2*(size.X/2) + at.X/2
	return ycc{int(p[at.Y*size.X+at.X]), int(p[c+i]), int(p[c*5/4+i])}
}

func worst(a, b ycc) int {
	w := 0
	for i := range a {
		w = max(w, max(a[i]-b[i], b[i]-a[i]))
	}
	return w
}

// publishedBars are the 8 bit codes of colour bars by matrix and level, from
// testdata/published/01_colour_bars.csv (BT.709-6, BT.601-7 quantisation;
// SMPTE RP 219-1; the file says of each row how its value was obtained).
func publishedBars(t *testing.T, matrix, level string) []ycc {
	t.Helper()
	var bars []ycc
	for _, r := range published.Records(t, "01_colour_bars.csv") {
		if r[0] != matrix || r[1] != level || r[3] != "8" {
			continue
		}
		var c ycc
		for i := range c {
			var err error
			if c[i], err = strconv.Atoi(r[4+i]); err != nil {
				t.Fatal(err)
			}
		}
		bars = append(bars, c)
	}
	if len(bars) < 6 {
		t.Fatalf("%d bars of %s at %s %%", len(bars), matrix, level)
	}
	return bars
}

// barPicture draws bars of equal width.
func barPicture(bars []ycc, size image.Point) []byte {
	p := make([]byte, size.X*size.Y*3/2)
	plane := func(dst []byte, w, h, c int) {
		for y := range h {
			for x := range w {
				dst[y*w+x] = byte(bars[x*len(bars)/w][c])
			}
		}
	}
	n := size.X * size.Y
	plane(p[:n], size.X, size.Y, 0)
	plane(p[n:n*5/4], size.X/2, size.Y/2, 1)
	plane(p[n*5/4:], size.X/2, size.Y/2, 2)
	return p
}

// fullRange turns limited-range codes into full-range ones: 219 steps of luma
// and 224 of colour difference become 255 (BT.709-6, BT.2100-2 table 9).
func fullRange(limited []ycc) []ycc {
	full := make([]ycc, len(limited))
	for i, c := range limited {
		difference := func(v int) int { return min(255, int(math.Round(float64(v-128)*255/224+128))) }
		full[i] = ycc{int(math.Round(float64(c[0]-16) * 255 / 219)), difference(c[1]), difference(c[2])}
	}
	return full
}

func barCentre(i, n, width int) int { return (2*i + 1) * width / n / 2 &^ 1 }

// TestBarsPassUnchanged sends the published 75 % and 100 % bars through a pane.
func TestBarsPassUnchanged(t *testing.T) {
	size := image.Pt(640, 360)
	tests := []struct {
		name, from string   // matrix of the capture's codes
		args       []string // how the capture is coded and tagged
		filter     string
		delivery   string
		tolerance  int
	}{
		{"tagged, lossless", "BT.709", []string{"-c:v", "ffv1", "-colorspace", "bt709", "-color_range", "tv"}, "", "lossless", 1},
		{"untagged below 720 lines is BT.601", "BT.601", []string{"-c:v", "ffv1"}, "", "lossless", 2},
		{"tagged BT.601", "BT.601", []string{"-c:v", "ffv1", "-colorspace", "smpte170m", "-color_range", "tv"}, "", "lossless", 2},
		{"full range", "full", []string{"-c:v", "ffv1", "-colorspace", "bt709", "-color_range", "pc"}, "", "lossless", 2},
		{"RGB", "BT.709", []string{"-c:v", "ffv1", "-pix_fmt", "bgr0"},
			"scale=in_color_matrix=bt709:in_range=tv:out_range=pc:flags=accurate_rnd+full_chroma_int,format=bgr0", "lossless", 2},
		{"4:4:4, 10 bit", "BT.709", []string{"-c:v", "ffv1", "-pix_fmt", "yuv444p10le", "-colorspace", "bt709", "-color_range", "tv"},
			"setparams=range=tv:colorspace=bt709", "lossless", 1},
		{"for the web, within coding loss", "BT.709", []string{"-c:v", "ffv1", "-colorspace", "bt709", "-color_range", "tv"}, "", "web", 3},
	}
	// The bars of both levels stand side by side.
	both := func(matrix string) []ycc {
		return append(publishedBars(t, matrix, "75"), publishedBars(t, matrix, "100")...)
	}
	want := both("BT.709")
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			var coded []ycc
			if tt.from == "full" {
				coded = fullRange(want)
			} else {
				coded = both(tt.from)
			}
			if len(coded) != len(want) {
				t.Fatalf("%d bars in one matrix, %d in the other", len(coded), len(want))
			}
			path := filepath.Join(t.TempDir(), "bars.mkv")
			picture := barPicture(coded, size)
			err := tools(t).Encode(t.Context(), media.EncodeSpec{Out: path, Size: size, PixFmt: "yuv420p", Rate: hz30, Filter: tt.filter,
				Args: append(tt.args, "-f", "matroska")}, func(w io.Writer) error {
				for range 6 {
					if _, err := w.Write(picture); err != nil {
						return err
					}
				}
				return nil
			})
			if err != nil {
				t.Fatal(err)
			}
			capture, err := tools(t).Probe(t.Context(), path)
			if err != nil {
				t.Fatal(err)
			}
			d, err := DeliveryOf(tt.delivery)
			if err != nil {
				t.Fatal(err)
			}
			shot, err := layout.Window{Whole: true}.Shoot(size, size, size)
			if err != nil {
				t.Fatal(err)
			}
			clip := &graph.Clip{Size: size, Rate: hz30, Frames: 4, Delivery: d,
				Inputs: []graph.Input{{Name: "bars", Capture: capture}},
				Panes:  []graph.Pane{{Shot: shot, Kernel: "lanczos", Area: image.Rectangle{Max: size}}}}
			out := filepath.Join(t.TempDir(), "clip"+d.Ext)
			made, err := Render(t.Context(), tools(t), clip, out, nil)
			if err != nil {
				t.Fatal(err)
			}
			got := planes(t, out, size, 2)
			for i, c := range want {
				at := image.Pt(barCentre(i, len(want), size.X), size.Y/2)
				if w := worst(codeAt(got, size, at), c); w > tt.tolerance {
					t.Errorf("bar %d is %v, published is %v", i, codeAt(got, size, at), c)
				}
			}
			if got := made.Clip.Colour; got.Matrix != "bt709" || got.Full || got.Assumed || got.Transfer != "bt709" {
				t.Errorf("the clip is tagged %+v", got)
			}
		})
	}
}

// TestStripColoursArriveExactly: what is drawn as codes comes out of the decoded
// clip as these codes, opaque and at half alpha over a grey of known code.
func TestStripColoursArriveExactly(t *testing.T) {
	size := image.Pt(320, 180)
	capture := barCapture(t, codecs[10], hz60, 20, 0)
	colour := ycc{169, 58, 181} // Okabe-Ito orange #E69F00 by BT.709, rounded
	for _, tt := range []struct {
		name  string
		kind  graph.LayerKind
		alpha byte
		want  ycc
	}{
		{"opaque, below", graph.Opaque, 255, colour},
		{"opaque, over", graph.Alpha, 255, colour},
		{"half, over", graph.Alpha, 128, ycc{}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			area := image.Rect(0, 120, 320, 180)
			pane := image.Pt(320, 120)
			if tt.kind == graph.Alpha {
				pane.Y = 180
			}
			clip := columns(t, image.Pt(320, pane.Y), hz60, 3, []media.Capture{capture}, nil0, centred)
			clip.Size, clip.Sound = size, graph.Sound{}
			n := area.Dx() * area.Dy()
			clip.Layers = []graph.Layer{{Kind: tt.kind, Area: area, Draw: func(dst []byte, _ int) {
				for i, part := range [][]byte{dst[:n], dst[n : n*5/4], dst[n*5/4 : n*3/2]} {
					for j := range part {
						part[j] = byte(colour[i])
					}
				}
				for i := n * 3 / 2; i < len(dst); i++ {
					dst[i] = tt.alpha
				}
			}}}
			out := filepath.Join(t.TempDir(), "clip.mkv")
			if _, err := Render(t.Context(), tools(t), clip, out, nil); err != nil {
				t.Fatal(err)
			}
			got := planes(t, out, size, 1)
			for _, at := range []image.Point{{10, 130}, {160, 150}, {318, 178}} {
				want := tt.want
				if tt.alpha != 255 {
					// Straight alpha: a·strip + (1-a)·picture, the picture read beside the strip.
					under := codeAt(got, size, image.Pt(at.X, 60))
					for i := range want {
						want[i] = (int(tt.alpha)*colour[i] + (255-int(tt.alpha))*under[i] + 127) / 255
					}
				}
				if w := worst(codeAt(got, size, at), want); w > 1 {
					t.Errorf("at %v the clip has %v, drawn was %v", at, codeAt(got, size, at), want)
				}
			}
		})
	}
}
