package deck

import (
	"flag"
	"fmt"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"fairframe/layout"
)

var update = flag.Bool("update", false, "rewrite the golden pictures in testdata")

// tolerance is how far a channel may be off: rasterisers may round coverage
// differently where the processor fuses multiplication and addition.
const tolerance = 3

var goldenSizes = []image.Point{{1280, 720}, {1920, 1080}, {3840, 2160}, {1080, 1920}, {1080, 1080}}

func TestGoldens(t *testing.T) {
	for _, size := range goldenSizes {
		for n := layout.MinCaptures; n <= layout.MaxCaptures; n++ {
			for _, place := range []layout.Place{layout.Below, layout.Over} {
				name := fmt.Sprintf("%dx%d-%d-%v", size.X, size.Y, n, place)
				t.Run(name, func(t *testing.T) {
					d := newDeck(t, demo(t, size, n, place))
					if d.Screen.Place != place {
						t.Skip("stands below instead")
					}
					golden(t, name, d, 610)
				})
			}
		}
	}
}

// Pictures of what the demo scene's middle does not show.
func TestGoldenMoments(t *testing.T) {
	size := image.Pt(1280, 720)
	t.Run("begin", func(t *testing.T) {
		golden(t, "moment-begin", newDeck(t, demo(t, size, 2, layout.Below)), 0)
	})
	t.Run("hitch", func(t *testing.T) {
		golden(t, "moment-hitch", newDeck(t, demo(t, size, 2, layout.Below)), 250)
	})
	t.Run("still", func(t *testing.T) {
		s := demo(t, size, 2, layout.Below)
		s.Captures[0].Trace = withStill(t, s.Captures[0].Trace)
		golden(t, "moment-still", newDeck(t, s), 170)
	})
	t.Run("doubtful", func(t *testing.T) {
		s := demo(t, size, 3, layout.Below)
		for i := range s.Captures {
			s.Captures[i].Trace = withDoubt(t, s.Captures[i].Trace)
		}
		golden(t, "moment-doubtful", newDeck(t, s), 305)
	})
	t.Run("limit", func(t *testing.T) {
		s := demo(t, size, 2, layout.Below)
		s.Captures[1].Trace = atLimit(t, s.Captures[1].Trace)
		golden(t, "moment-limit", newDeck(t, s), 305)
	})
	t.Run("gap", func(t *testing.T) {
		s := demo(t, size, 2, layout.Below)
		s.Captures[1].Trace = withGap(t, s.Captures[1].Trace)
		golden(t, "moment-gap", newDeck(t, s), 200)
	})
	t.Run("page", func(t *testing.T) {
		s := demoOf(t, layout.Spec{Size: size, Captures: 2, Tabs: true}, 60*200)
		golden(t, "moment-page", newDeck(t, s), 60*70)
	})
	t.Run("tabs", func(t *testing.T) {
		golden(t, "moment-tabs", newDeck(t, demo(t, size, 3, layout.None)), 5)
	})
}

// golden compares a frame with testdata/NAME.png: its Y plane over its U and V
// planes side by side, as grey, so that the very codes are compared and the
// files stay small. Translucent frames lie on footage of mid-grey. On failure
// it leaves NAME.got.png, NAME.diff.png, and NAME.colour.got.png for the eye.
func golden(t *testing.T, name string, d *Deck, k int) {
	t.Helper()
	got := grey(d, k)
	path := filepath.Join("testdata", name+".png")
	if *update {
		writePNG(t, path, got)
		return
	}
	fail := func(format string, args ...any) {
		t.Helper()
		writePNG(t, filepath.Join("testdata", name+".got.png"), got)
		writePNG(t, filepath.Join("testdata", name+".colour.got.png"), d.Image(k))
		t.Errorf(format+"; see testdata/%s.*.png (go test ./render/deck -update accepts)", append(args, name)...)
	}
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	img, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	want, ok := img.(*image.Gray)
	if !ok || want.Rect != got.Rect {
		fail("size %v, want %v", got.Rect, img.Bounds())
		return
	}
	diff := image.NewGray(got.Rect)
	off, worst := 0, 0
	for i := range got.Pix {
		d := abs(int(got.Pix[i]) - int(want.Pix[i]))
		worst = max(worst, d)
		if d > tolerance {
			off++
		}
		diff.Pix[i] = uint8(min(8*d, 255))
	}
	if off > 0 {
		writePNG(t, filepath.Join("testdata", name+".diff.png"), diff)
		fail("%d codes are off by up to %d", off, worst)
	}
}

// grey lays a frame's planes out as one grey picture. Frames more than 3000
// wide are halved.
func grey(d *Deck, k int) *image.Gray {
	buf := make([]byte, d.FrameBytes())
	d.Draw(buf, k)
	w, h := d.size.X, d.size.Y
	p := planesOf(buf, w, h, d.alpha)
	out := image.NewGray(image.Rect(0, 0, w, h+h/2))
	for y := range h {
		for x := range w {
			v := p.y[y*w+x]
			if d.alpha {
				v = lerp(126, v, p.a[y*w+x])
			}
			out.Pix[y*w+x] = v
		}
	}
	for y := range h / 2 {
		for x := range w / 2 {
			u, v := p.u[y*w/2+x], p.v[y*w/2+x]
			if d.alpha {
				a := p.a[2*y*w+2*x]
				u, v = lerp(128, u, a), lerp(128, v, a)
			}
			out.Pix[(h+y)*w+x], out.Pix[(h+y)*w+w/2+x] = u, v
		}
	}
	if w <= 3000 {
		return out
	}
	half := image.NewGray(image.Rect(0, 0, w/2, (h+h/2)/2))
	for y := range half.Rect.Dy() {
		for x := range half.Rect.Dx() {
			i := 2*y*w + 2*x
			sum := int(out.Pix[i]) + int(out.Pix[i+1]) + int(out.Pix[i+w]) + int(out.Pix[i+w+1])
			half.Pix[y*half.Stride+x] = uint8((sum + 2) / 4)
		}
	}
	return half
}

func writePNG(t *testing.T, path string, img image.Image) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	enc := png.Encoder{CompressionLevel: png.BestCompression}
	if err := enc.Encode(f, img); err != nil {
		t.Fatal(err)
	}
}
