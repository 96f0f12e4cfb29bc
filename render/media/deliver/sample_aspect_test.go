package deliver

import (
	"fmt"
	"image"
	"io"
	"math/big"
	"path/filepath"
	"testing"
	"time"

	"fairframe/render/media"
	"fairframe/render/media/graph"
)

// TestAnamorphic films one scene, a white block on black, with square pixels, with
// wide ones and with high ones: all panes show it at the same place, in the same
// size, and say how their pixels are scaled.
func TestAnamorphic(t *testing.T) {
	tools, dir := tools(t), t.TempDir()
	scene := image.Pt(320, 240)
	block := image.Rect(120, 80, 200, 160)
	var captures []media.Capture
	for i, c := range []struct {
		size image.Point
		sar  string
	}{{scene, "1/1"}, {image.Pt(240, 240), "4/3"}, {image.Pt(320, 180), "3/4"}} {
		path := filepath.Join(dir, fmt.Sprintf("%d.mkv", i))
		err := tools.Encode(t.Context(), media.EncodeSpec{Out: path, Size: c.size, PixFmt: "yuv420p", Rate: hz60,
			Filter: "setsar=" + c.sar, Args: []string{"-c:v", "ffv1", "-f", "matroska"}}, func(w io.Writer) error {
			pic := make([]byte, c.size.X*c.size.Y*3/2)
			for j := range pic {
				x, y := j%c.size.X*scene.X/c.size.X, j/c.size.X*scene.Y/c.size.Y
				switch {
				case j >= c.size.X*c.size.Y:
					pic[j] = 128
				case image.Pt(x, y).In(block):
					pic[j] = 235
				default:
					pic[j] = 16
				}
			}
			for range 12 {
				if _, err := w.Write(pic); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		capture, err := tools.Probe(t.Context(), path)
		if err != nil {
			t.Fatal(err)
		}
		if capture.Size != c.size || capture.DisplaySize() != scene {
			t.Fatalf("%v with pixels %s is shown as %v", capture.Size, c.sar, capture.DisplaySize())
		}
		captures = append(captures, capture)
	}
	clip := columns(t, image.Pt(960, 240), hz60, 3, captures, make([]time.Duration, 3), centred)
	clip.Sound = graph.Sound{}
	made, err := Render(t.Context(), tools, clip, filepath.Join(dir, "clip.mkv"), nil)
	if err != nil {
		t.Fatal(err)
	}
	_, err = tools.DecodeVideo(t.Context(), made.Clip, media.Request{Count: 1}, func(_ int64, picture *[]byte) error {
		luma := *picture
		for i, p := range clip.Panes {
			seen := image.Rectangle{Min: scene}
			for y := range scene.Y {
				for x := range scene.X {
					if luma[y*960+p.Area.Min.X+x] > 125 {
						seen.Min.X, seen.Min.Y = min(seen.Min.X, x), min(seen.Min.Y, y)
						seen.Max.X, seen.Max.Y = max(seen.Max.X, x+1), max(seen.Max.Y, y+1)
					}
				}
			}
			for _, d := range []int{seen.Min.X - block.Min.X, seen.Min.Y - block.Min.Y, seen.Max.X - block.Max.X, seen.Max.Y - block.Max.Y} {
				if d < -1 || d > 1 {
					t.Errorf("pane %d shows the block at %v instead of %v", i, seen, block)
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	shot := clip.Panes[1].Shot
	shot.PixelX, shot.PixelY = captures[1].SampleAspect()
	if x, y := shot.Scales(); shot.OneToOne() || x.Cmp(big.NewRat(4, 3)) != 0 || y.Cmp(big.NewRat(1, 1)) != 0 {
		t.Errorf("scales %v and %v of pixels 4:3", x, y)
	}
}
