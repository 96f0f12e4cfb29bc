package deliver

import (
	"fmt"
	"image"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"fairframe/layout"
	"fairframe/render/media"
	"fairframe/render/media/graph"
)

// TestTruePixels enlarges a capture by whole factors with the kernel nearest, and
// finds each of its pixels again as a block of equal ones, everywhere and from
// every place: output pixel (x, y) is capture pixel (x/n, y/n) by whole division.
func TestTruePixels(t *testing.T) {
	size, out := image.Pt(320, 180), image.Pt(320, 180)
	luma := func(x, y int) byte { return byte(16 + (x*7+y*13+x*y)%220) }
	path := filepath.Join(t.TempDir(), "places.mkv")
	pic := make([]byte, size.X*size.Y*3/2)
	for i := range pic {
		pic[i] = 128
	}
	for y := range size.Y {
		for x := range size.X {
			pic[y*size.X+x] = luma(x, y)
		}
	}
	err := tools(t).Encode(t.Context(), media.EncodeSpec{Out: path, Size: size, PixFmt: "yuv420p", Rate: hz60,
		Args: []string{"-c:v", "ffv1", "-level", "3", "-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709", "-color_range", "tv", "-f", "matroska"}},
		func(w io.Writer) error { _, err := w.Write(pic); return err })
	if err != nil {
		t.Fatal(err)
	}
	capture, err := tools(t).Probe(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	for i, n := range []int64{2, 3, 4, 5, 7, 8, 13, 16} {
		for j, at := range [][2]int64{{500, 500}, {0, 0}, {1000, 1000}, {333, 617}, {501, 499}} {
			if i > 0 && j != i%5 && os.Getenv("FAIRFRAME_SWEEP") == "" {
				continue // the places take turns
			}
			t.Run(fmt.Sprintf("%dx at %v", n, at), func(t *testing.T) {
				w := layout.Window{CenterX: layout.Fraction{Num: at[0], Den: 1000}, CenterY: layout.Fraction{Num: at[1], Den: 1000}, Magnify: layout.Fraction{Num: n, Den: 1}}
				clip := columns(t, out, hz60, 1, []media.Capture{capture}, []time.Duration{0}, w)
				clip.Sound, clip.Panes[0].Kernel = graph.Sound{}, "nearest"
				out := filepath.Join(t.TempDir(), "clip.mkv")
				done, err := Render(t.Context(), tools(t), clip, out, nil)
				if err != nil {
					t.Fatal(err)
				}
				made := done.Clip
				shot := clip.Panes[0].Shot
				_, err = tools(t).DecodeVideo(t.Context(), made, media.Request{Count: -1}, func(_ int64, picture *[]byte) error {
					got := *picture
					for y := range clip.Size.Y {
						for x := range clip.Size.X {
							px, py := shot.Crop.Min.X+(shot.Keep.Min.X+x)/int(n), shot.Crop.Min.Y+(shot.Keep.Min.Y+y)/int(n)
							if want := luma(px, py); got[y*clip.Size.X+x] != want {
								return fmt.Errorf("output pixel %d,%d is %d, capture pixel %d,%d is %d", x, y, got[y*clip.Size.X+x], px, py, want)
							}
						}
					}
					return nil
				})
				if err != nil {
					t.Error(err)
				}
			})
		}
	}
}
