package scene

import (
	"image"
	"testing"

	"fairframe/layout"
	"fairframe/render/comparison"
	"fairframe/render/media"
)

// View auto shows whole captures as large as one of the two arrangements can; what is
// not whole has one scale in both, and stays in columns.
func TestViewAuto(t *testing.T) {
	wide, tall := image.Pt(1920, 1080), image.Pt(1080, 1920)
	for _, c := range []struct {
		output, capture image.Point
		captures        int
		whole           bool
		want            layout.View
	}{
		{wide, wide, 2, true, layout.Columns},
		{tall, wide, 2, true, layout.Rows},
		{tall, wide, 3, true, layout.Rows},
		{image.Pt(1080, 1080), wide, 2, true, layout.Rows},
		{wide, tall, 2, true, layout.Columns},
		{tall, wide, 2, false, layout.Columns},
		{wide, image.Pt(3840, 1080), 2, true, layout.Rows}, // wide captures one above the other
	} {
		f := &Footage{File: &comparison.File{}, Scene: &comparison.Scene{View: comparison.ViewAuto, Window: map[string]comparison.Window{},
			Deck: comparison.Deck{Place: comparison.DeckBelow, Tabs: true}}}
		f.File.Output.Size = c.output
		for _, key := range []string{"alder", "birch", "cedar"}[:c.captures] {
			f.Scene.Captures = append(f.Scene.Captures, key)
			f.Scene.Window[key] = comparison.Window{Whole: c.whole}
			f.Takes = append(f.Takes, Take{Capture: &comparison.Capture{Key: key}, Probed: media.Capture{Size: c.capture}})
		}
		if got := specOf(f).View; got != c.want {
			t.Errorf("%v, %d captures of %v, whole %v: %v, want %v", c.output, c.captures, c.capture, c.whole, got, c.want)
		}
	}
}
