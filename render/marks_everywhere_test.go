package render

import (
	"bytes"
	"image"
	"math"
	"path/filepath"
	"strings"
	"testing"
)

// TestMovingMarksEverywhere: marks that follow a gliding window, where the scene is
// held while the window goes on, under a wipe's line that swings, in a picture of
// one pane, and in an overlay. What is drawn is what the clips with and without
// marks do not have in common.
func TestMovingMarksEverywhere(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	size := image.Pt(640, 360)
	// Grey, so that the lines' dark edges are seen too.
	blockOn(t, "0x505050", filepath.Join(dir, "alder.mkv"), size, image.Rect(320, 160, 384, 192), 40)
	const text = `output: {folder: out, size: 640x360, delivery: lossless}
captures:
  alder: {video: alder.mkv}
  birch: {video: alder.mkv}
defaults:
  captures: [alder, birch]
  start: 0s
  length: f12
  deck: {place: none, tabs: false}
  window: {moves: [{at: 0s, magnify: 1, center: [0.5, 0.5]}, {at: f11, magnify: 2, center: [0.53, 0.49]}]}
scenes:
  - {id: swing-bare, view: wipe, wipe: {at: 0.5, swing: 500ms}}
  - {id: swing, view: wipe, wipe: {at: 0.5, swing: 500ms}, marks: [{box: [0.42, 0.3, 0.2, 0.35], capture: birch}]}
  - {id: held-bare, hold: [{at: f4, for: 200ms}], window: {moves: [{at: f2, magnify: 1}, {at: f4, held: 200ms, magnify: 2, center: [0.53, 0.49]}]}}
  - {id: held, hold: [{at: f4, for: 200ms}], window: {moves: [{at: f2, magnify: 1}, {at: f4, held: 200ms, magnify: 2, center: [0.53, 0.49]}]}, marks: [{box: [0.5, 4/9, 0.1, 4/45]}]}
`
	p := open(t, dir, text)
	inks := func(id string) [][]image.Point {
		bare, marked := pictures(t, render(t, p, id+"-bare").Out, size, "yuv420p"), pictures(t, render(t, p, id).Out, size, "yuv420p")
		var list [][]image.Point
		for k := range marked {
			var ink []image.Point
			for y := range size.Y {
				for x := range size.X {
					if bare[k][y*size.X+x] != marked[k][y*size.X+x] {
						ink = append(ink, image.Pt(x, y))
					}
				}
			}
			list = append(list, ink)
		}
		return list
	}

	// The line swings as a sine between 0.1 and 0.9; Birch is right of it.
	swung := inks("swing")
	most, least := 0, math.MaxInt
	for k, ink := range swung {
		line := int(float64(size.X) * (0.5 + 0.4*math.Sin(2*math.Pi*float64(k)/30)))
		for _, at := range ink {
			if at.X < line-1 {
				t.Fatalf("frame %d: Birch's mark is at %v, left of the line at %d", k, at, line)
			}
		}
		most, least = max(most, len(ink)), min(least, len(ink))
	}
	if most < 500 || least*2 > most {
		t.Errorf("the line leaves %d to %d pixels of the mark", least, most)
	}

	// The box goes with the white block also while the scene is held.
	held := inks("held")
	bare := pictures(t, filepath.Join(dir, "out", "held-bare.mkv"), size, "yuv420p")
	if len(bare) != 24 {
		t.Fatalf("%d frames", len(bare))
	}
	block := func(k int) (r image.Rectangle) {
		for y := 100; y < 290; y++ { // between the sign and the name tabs
			for x := range size.X / 2 {
				if bare[k][y*size.X+x] > 160 {
					r = r.Union(image.Rect(x, y, x+1, y+1))
				}
			}
		}
		return r
	}
	for k, ink := range held {
		want, got := block(k), image.Rectangle{}
		for _, at := range ink {
			if at.X < size.X/2 {
				got = got.Union(image.Rectangle{at, at.Add(image.Pt(1, 1))})
			}
		}
		for _, d := range []int{want.Min.X - got.Min.X, want.Min.Y - got.Min.Y, got.Max.X - want.Max.X, got.Max.Y - want.Max.Y} {
			if d < 2 || d > 7 { // the line and its edges
				t.Fatalf("frame %d: the block is at %v, the box around it at %v", k, want, got)
			}
		}
	}
	if block(5) == block(15) || block(16) != block(23) {
		t.Errorf("the window stands at %v, %v and %v", block(5), block(15), block(23))
	}

	// One pane's picture is what the picture of all panes has there.
	for _, k := range []int64{0, 7, 20} {
		still := func(o StillOptions) []byte {
			s, err := NewStills(t.Context(), p, "held", o)
			if err != nil {
				t.Fatal(err)
			}
			b, err := s.Picture(t.Context(), k)
			if err != nil {
				t.Fatal(err)
			}
			return raw(t, b)
		}
		all, one := still(StillOptions{NoDeck: true}), still(StillOptions{Pane: "birch"})
		if len(one)*2 != len(all) {
			t.Fatalf("the pane has %d bytes of %d", len(one), len(all))
		}
		for y := range size.Y {
			if !bytes.Equal(one[y*size.X*3/2:][:size.X*3/2], all[y*size.X*3+size.X*3/2:][:size.X*3/2]) {
				t.Fatalf("frame %d: row %d of the pane is not that of the picture", k, y)
			}
		}
	}

	// An overlay has the marks and nothing else.
	drawn := map[string][][]image.Point{"swing": swung, "held": held}
	p = open(t, dir, strings.Replace(text, "delivery: lossless", "delivery: overlay, codec: ffv1", 1))
	for id, inks := range drawn {
		over := pictures(t, render(t, p, id).Out, size, "yuva420p")
		if len(over) != len(inks) {
			t.Fatalf("the overlay has %d frames", len(over))
		}
		alpha := size.X * size.Y * 3 / 2
		for k, ink := range inks {
			// Besides the marks it has the sign above and the tabs below.
			marked, covered := 0, 0
			for _, at := range ink {
				if over[k][alpha+at.Y*size.X+at.X] == 0 {
					t.Fatalf("%s, frame %d: the overlay has nothing at %v", id, k, at)
				}
				if at.Y >= 60 && at.Y < 290 {
					marked++
				}
			}
			for _, a := range over[k][alpha+60*size.X:][:230*size.X] {
				if a > 40 { // less may change nothing that can be seen
					covered++
				}
			}
			if covered > marked+marked/20 {
				t.Errorf("%s, frame %d: the overlay covers %d pixels, the clip's marks %d", id, k, covered, marked)
			}
		}
	}
}
