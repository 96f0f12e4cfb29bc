package deliver

import (
	"image"
	"io"
	"math"
	"path/filepath"
	"testing"
	"time"

	"fairframe/layout"
	"fairframe/render/media"
	"fairframe/render/media/graph"
)

// dots makes a capture of n frames, each the same grey with a soft bright dot
// every 40 pixels, the first at (20, 20). A place of the capture is counted from
// its corner: the middle of the first pixel is at 0.5.
func dots(t *testing.T, size image.Point, n int) media.Capture {
	t.Helper()
	path := filepath.Join(t.TempDir(), "dots.mkv")
	pic := make([]byte, size.X*size.Y*3/2)
	for i := range pic {
		pic[i] = 128
	}
	for y := range size.Y {
		for x := range size.X {
			dx, dy := math.Mod(float64(x)+0.5, 40)-20, math.Mod(float64(y)+0.5, 40)-20
			pic[y*size.X+x] = byte(40 + 170*math.Exp(-(dx*dx+dy*dy)/18) + 0.5)
		}
	}
	err := tools(t).Encode(t.Context(), media.EncodeSpec{Out: path, Size: size, PixFmt: "yuv420p", Rate: hz60,
		Args: []string{"-c:v", "ffv1", "-level", "3", "-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709", "-color_range", "tv", "-f", "matroska"}},
		func(w io.Writer) error {
			for range n {
				if _, err := w.Write(pic); err != nil {
					return err
				}
			}
			return nil
		})
	if err != nil {
		t.Fatal(err)
	}
	c, err := tools(t).Probe(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// centre finds the middle of a bright dot near (x, y), from the light above the
// ground within r pixels.
func centre(luma []byte, width, height int, x, y, r float64) (cx, cy float64) {
	var sum float64
	for py := max(0, int(y-r)); py <= min(height-1, int(y+r)); py++ {
		for px := max(0, int(x-r)); px <= min(width-1, int(x+r)); px++ {
			w := max(0, float64(luma[py*width+px])-60)
			sum += w
			cx += w * (float64(px) + 0.5)
			cy += w * (float64(py) + 0.5)
		}
	}
	return cx / sum, cy / sum
}

// TestGlide tracks dots through slow and quick glides, pans and zooms, with every
// kernel, and compares their places with the glide's own formula: at most 0.25
// output pixel off, and no more than 0.2 from one frame's error to the next's,
// which would be a step.
func TestGlide(t *testing.T) {
	const frames = 60
	capture := dots(t, image.Pt(640, 360), frames)
	window := func(x, y, num, den int64) layout.Window {
		return layout.Window{CenterX: layout.Fraction{Num: x, Den: 1000}, CenterY: layout.Fraction{Num: y, Den: 1000}, Magnify: layout.Fraction{Num: num, Den: den}}
	}
	out, pane := image.Pt(320, 180), image.Pt(320, 180)
	type key struct {
		frame float64
		w     layout.Window
	}
	for _, c := range []struct {
		name, kernel string
		keys         []key
	}{
		{"slow pan at one to one", "lanczos", []key{{0, window(400, 500, 2, 1)}, {59.3, window(425, 520, 2, 1)}}},
		{"pan enlarged", "bicubic", []key{{5.5, window(300, 400, 6, 1)}, {50, window(420, 470, 6, 1)}}},
		{"zoom in on a detail", "lanczos", []key{{0, window(500, 500, 1, 1)}, {40, window(300, 350, 6, 1)}}},
		{"zoom out beyond the capture", "lanczos", []key{{0, window(500, 500, 3, 1)}, {55, window(500, 500, 3, 4)}}},
		{"true pixels", "nearest", []key{{0, window(500, 500, 4, 1)}, {20, window(400, 450, 8, 1)}, {55, window(600, 500, 8, 1)}}},
		{"there and back", "bicubic", []key{{0, window(500, 500, 1, 1)}, {20, window(200, 300, 5, 1)}, {30, window(200, 300, 5, 1)}, {59, window(700, 600, 2, 1)}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			var stops []layout.Stop
			for _, k := range c.keys {
				shot, err := k.w.Shoot(capture.Size, pane, out)
				if err != nil {
					t.Fatal(err)
				}
				stops = append(stops, layout.Stop{Frame: k.frame, Shot: shot})
			}
			glide, err := layout.NewGlide(stops)
			if err != nil {
				t.Fatal(err)
			}
			clip := columns(t, out, hz60, frames, []media.Capture{capture}, []time.Duration{0}, centred)
			clip.Sound = graph.Sound{}
			clip.Panes[0].Glide, clip.Panes[0].Kernel = glide, c.kernel
			path := filepath.Join(t.TempDir(), "clip.mkv")
			done, err := Render(t.Context(), tools(t), clip, path, nil)
			if err != nil {
				t.Fatal(err)
			}
			made := done.Clip
			worst, jump, tracked := 0.0, 0.0, 0
			lastError := map[image.Point][2]float64{}
			_, err = tools(t).DecodeVideo(t.Context(), made, media.Request{Count: -1}, func(k int64, picture *[]byte) error {
				luma := *picture
				_, _, scale := glide.At(float64(k))
				r := 9 * scale
				seen := map[image.Point][2]float64{}
				for gy := range 9 {
					for gx := range 16 {
						x, y := clip.Panes[0].Place(k, float64(20+40*gx), float64(20+40*gy))
						if x < r+1 || y < r+1 || x > float64(out.X)-r-1 || y > float64(out.Y)-r-1 {
							continue
						}
						cx, cy := centre(luma, out.X, out.Y, x, y, r)
						e := [2]float64{cx - x, cy - y}
						worst = max(worst, math.Abs(e[0]), math.Abs(e[1]))
						at := image.Pt(gx, gy)
						if before, ok := lastError[at]; ok {
							jump = max(jump, math.Abs(e[0]-before[0]), math.Abs(e[1]-before[1]))
						}
						seen[at] = e
						tracked++
					}
				}
				lastError = seen
				return nil
			})
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%d places, off by at most %.3f px, %.3f px from frame to frame", tracked, worst, jump)
			if tracked < frames || worst > 0.25 || jump > 0.2 {
				t.Errorf("%d places, off by at most %.3f px, %.3f px from frame to frame", tracked, worst, jump)
			}
		})
	}
}
