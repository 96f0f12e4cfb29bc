package media

import (
	"image"
	"testing"
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
