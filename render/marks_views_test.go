package render

import (
	"bytes"
	"image"
	"path/filepath"
	"testing"
)

// TestMarksFollowTheView: where captures share one place, a mark of one of them
// stands only while that one is on screen, and only on its side of the line.
func TestMarksFollowTheView(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	size := image.Pt(640, 360)
	blockCapture(t, filepath.Join(dir, "alder.mkv"), size, image.Rect(320, 160, 384, 192), 40)
	p := open(t, dir, `output: {folder: out, size: 640x360, delivery: lossless}
captures:
  alder: {video: alder.mkv}
  birch: {video: alder.mkv}
defaults: {captures: [alder, birch], start: 0s, length: f24, deck: {place: none, tabs: false}}
scenes:
  - {id: turns-bare, view: alternate, alternate: {every: 100ms}}
  - {id: turns, view: alternate, alternate: {every: 100ms}, marks: [{box: [0.5, 0.2, 0.1, 0.1], capture: birch, from: f8}]}
  - {id: wipe-bare, view: wipe, wipe: {keys: [{t: 0s, at: 0.1}, {t: 200ms, at: 0.1}, {t: 300ms, at: 0.9}]}}
  - {id: wipe, view: wipe, wipe: {keys: [{t: 0s, at: 0.1}, {t: 200ms, at: 0.1}, {t: 300ms, at: 0.9}]}, marks: [{box: [0.5, 0.2, 0.1, 0.1], capture: birch}, {box: [0.5, 0.6, 0.1, 0.1], capture: alder}]}
  - {id: still-bare, view: wipe, wipe: {at: 0.55, angle: 20}}
  - {id: still, view: wipe, wipe: {at: 0.55, angle: 20}, marks: [{box: [0.4, 0.4, 0.3, 0.3], capture: birch}]}
`)
	differ := func(a, b []byte, r image.Rectangle) bool { return !bytes.Equal(cut(a, size, r), cut(b, size, r)) }
	clips := func(id string) (bare, marked [][]byte) {
		return pictures(t, render(t, p, id+"-bare").Out, size, "yuv420p"), pictures(t, render(t, p, id).Out, size, "yuv420p")
	}
	bare, marked := clips("turns")
	for k := range marked {
		want := k >= 8 && k/6%2 == 1 // every 6 frames, Birch second
		if got := differ(bare[k], marked[k], image.Rectangle{Max: size}); got != want {
			t.Errorf("alternate, frame %d: mark %v, want %v", k, got, want)
		}
	}
	bare, marked = clips("wipe")
	upper, lower := image.Rect(0, 0, 640, 180), image.Rect(0, 180, 640, 360)
	for k := range marked {
		if k > 11 && k < 19 {
			continue // the line passes
		}
		before := k <= 11 // the line is far left: Birch has the middle
		if a, b := differ(bare[k], marked[k], upper), differ(bare[k], marked[k], lower); a != before || b != !before {
			t.Errorf("wipe, frame %d: Birch's mark %v, Alder's %v", k, a, b)
		}
	}
	bare, marked = clips("still")
	ink := 0
	for y := range size.Y {
		for x := range size.X {
			if bare[3][y*size.X+x] == marked[3][y*size.X+x] {
				continue
			}
			ink++
			// The line leans by 20 degrees and is nowhere left of 0.55 less half its lean.
			if x < 640*35/100 {
				t.Fatalf("Birch's mark is at %d,%d, on Alder's side", x, y)
			}
		}
	}
	if ink == 0 {
		t.Error("the leaning wipe has no mark")
	}
}
