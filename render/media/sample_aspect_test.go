package media

import (
	"fmt"
	"image"
	"io"
	"math/big"
	"path/filepath"
	"testing"
	"time"
)

// TestPixelShape: forms of ffprobe's sample_aspect_ratio, and what becomes of a
// picture. 1440x1080 at 4:3 is the anamorphic HD of HDV and HDCAM, 720x576 at
// 64:45 widescreen PAL; both are shown 16:9 (common practice).
func TestPixelShape(t *testing.T) {
	for _, c := range []struct {
		text       string
		size, want image.Point
		good       bool
	}{
		{"", image.Pt(1920, 1080), image.Pt(1920, 1080), true},
		{"1:1", image.Pt(1920, 1080), image.Pt(1920, 1080), true},
		{"0:1", image.Pt(1920, 1080), image.Pt(1920, 1080), true},
		{"4:3", image.Pt(1440, 1080), image.Pt(1920, 1080), true},
		{"64:45", image.Pt(720, 576), image.Pt(1024, 576), true},
		{"8:9", image.Pt(720, 480), image.Pt(720, 540), true},
		{"9:1", image.Pt(720, 480), image.Point{}, false},
		{"-4:3", image.Pt(720, 480), image.Point{}, false},
		{"wide", image.Pt(720, 480), image.Point{}, false},
	} {
		pixel, err := pixelShape(c.text)
		if (err == nil) != c.good {
			t.Errorf("%q: %v", c.text, err)
			continue
		}
		if got := (Capture{Size: c.size, Pixel: pixel}).DisplaySize(); c.good && got != c.want {
			t.Errorf("%v of %q pixels is shown as %v instead of %v", c.size, c.text, got, c.want)
		}
	}
}

// TestAnamorphic films one scene, a white block on black, with square pixels, with
// wide ones and with high ones: all panes show it at the same place, in the same
// size, and say how their pixels are scaled.
func TestAnamorphic(t *testing.T) {
	tools, dir := tools(t), t.TempDir()
	scene := image.Pt(320, 240)
	block := image.Rect(120, 80, 200, 160)
	var captures []Capture
	for i, c := range []struct {
		size image.Point
		sar  string
	}{{scene, "1/1"}, {image.Pt(240, 240), "4/3"}, {image.Pt(320, 180), "3/4"}} {
		path := filepath.Join(dir, fmt.Sprintf("%d.mkv", i))
		err := tools.Encode(t.Context(), EncodeSpec{Out: path, Size: c.size, PixFmt: "yuv420p", Rate: hz60,
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
	clip.Sound = Sound{}
	made, err := tools.Render(t.Context(), clip, filepath.Join(dir, "clip.mkv"), nil)
	if err != nil {
		t.Fatal(err)
	}
	_, err = tools.DecodeVideo(t.Context(), made.Clip, Request{Count: 1}, func(_ int64, picture *[]byte) error {
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
