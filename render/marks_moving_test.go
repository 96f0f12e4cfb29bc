package render

import (
	"bytes"
	"image"
	"math"
	"path/filepath"
	"testing"

	"fairframe/render/media/graph"
	"fairframe/render/scene"
)

// TestMarksFollowTheGlide tracks a white block through a slow glide and a zoom: in
// every frame the box around it begins within a pixel of the block's edge, and its
// line keeps its distance from that edge and its width to a fraction of a pixel, so
// it does not tremble. The block is found in the clip without marks, not by the
// glide's formula.
func TestMarksFollowTheGlide(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	size := image.Pt(640, 360)
	// Not on black, so that the line's dark edge is seen too.
	const ground = 16 + 48*219/255
	blockOn(t, "0x303030", filepath.Join(dir, "alder.mkv"), size, image.Rect(320, 160, 384, 192), 40)
	p := open(t, dir, `output: {folder: out, size: 640x360, delivery: lossless}
captures:
  alder: {video: alder.mkv}
  birch: {video: alder.mkv}
defaults: {captures: [alder, birch], start: 0s, length: f36, deck: {place: none, tabs: false}}
scenes:
  - {id: glide-bare, window: {magnify: 2, moves: [{at: 0s, center: [0.54, 0.48]}, {at: f35, center: [0.56, 0.5]}]}}
  - {id: glide, window: {magnify: 2, moves: [{at: 0s, center: [0.54, 0.48]}, {at: f35, center: [0.56, 0.5]}]}, marks: [{box: [0.5, 4/9, 0.1, 4/45]}]}
  - {id: zoom-bare, window: {moves: [{at: f2, magnify: 1, center: [0.5, 0.5]}, {at: f33, magnify: 3, center: [0.55, 0.49]}]}}
  - {id: zoom, window: {moves: [{at: f2, magnify: 1, center: [0.5, 0.5]}, {at: f33, magnify: 3, center: [0.55, 0.49]}]}, marks: [{box: [0.5, 4/9, 0.1, 4/45]}]}
`)
	for _, id := range []string{"glide", "zoom"} {
		bare, marked := pictures(t, render(t, p, id+"-bare").Out, size, "yuv420p"), pictures(t, render(t, p, id).Out, size, "yuv420p")
		for pane := range 2 {
			area := image.Rect(320*pane, 0, 320*pane+320, 290) // above the name tabs
			var least, most, thin, thick [4]float64
			for i := range 4 {
				least[i], thin[i] = math.Inf(1), math.Inf(1)
			}
			moved := image.Rectangle{}
			for k := range marked {
				light := func(picture []byte, at image.Point) float64 {
					return min((float64(picture[at.Y*size.X+at.X])-ground)/(235-ground), 1)
				}
				block := image.Rectangle{}
				for y := area.Min.Y; y < area.Max.Y; y++ {
					for x := area.Min.X; x < area.Max.X; x++ {
						if light(bare[k], image.Pt(x, y)) > 0.5 {
							block = block.Union(image.Rect(x, y, x+1, y+1))
						}
					}
				}
				if block.Dx() < 40 || !block.Inset(-12).In(area) {
					t.Fatalf("%s, pane %d, frame %d: the block is at %v", id, pane, k, block)
				}
				if k == 0 {
					moved = block
				} else if k == len(marked)-1 && block == moved {
					t.Errorf("%s: the window does not move", id)
				}
				mid := block.Min.Add(block.Max).Div(2)
				for i, d := range []image.Point{{-1, 0}, {1, 0}, {0, -1}, {0, 1}} {
					// Outwards from the middle: the block ends where its light does, the
					// line is what the mark makes lighter.
					end, first, sum, moment := 0.0, -1, 0.0, 0.0
					for n := range 120 {
						at := mid.Add(d.Mul(n))
						if !at.In(area) {
							break
						}
						was, is := light(bare[k], at), light(marked[k], at)
						end += max(was, 0)
						if first < 0 && math.Abs(is-was) > 0.05 {
							first = n
						}
						if is > was {
							sum += is - was
							moment += (is - was) * (float64(n) + 0.5)
						}
					}
					if sum == 0 || math.Abs(float64(first)+0.5-end) > 1 {
						t.Fatalf("%s, pane %d, frame %d, towards %v of %v: the block ends after %.2f px, the box begins after %d", id, pane, k, d, block, end, first)
					}
					gap := moment/sum - end
					least[i], most[i] = min(least[i], gap), max(most[i], gap)
					thin[i], thick[i] = min(thin[i], sum), max(thick[i], sum)
				}
			}
			for i := range 4 {
				t.Logf("%s, pane %d, side %d: the line's middle is %.2f to %.2f px from the block, %.2f to %.2f px wide", id, pane, i, least[i], most[i], thin[i], thick[i])
				if least[i] < 0 || most[i]-least[i] > 0.5 || thick[i]-thin[i] > 0.5 {
					t.Errorf("%s, pane %d, side %d: the line's middle is %.2f to %.2f px from the block, %.2f to %.2f px wide", id, pane, i, least[i], most[i], thin[i], thick[i])
				}
			}
		}
	}
}

// TestMovingMarksKeepTheirTimeAndPlace: between from and to alone, in their pane,
// off the deck, on their capture's side or turn; and previews show what the clip
// shows.
func TestMovingMarksKeepTheirTimeAndPlace(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	size := image.Pt(640, 360)
	blockCapture(t, filepath.Join(dir, "alder.mkv"), size, image.Rect(320, 160, 384, 192), 40)
	writeLog(t, filepath.Join(dir, "alder.csv"), cadence(40, 1))
	p := open(t, dir, `output: {folder: out, size: 640x360, delivery: lossless}
captures:
  alder: {video: alder.mkv, pacing: alder.csv}
  birch: {video: alder.mkv, pacing: alder.csv}
defaults:
  captures: [alder, birch]
  start: 0s
  length: f24
  window: {moves: [{at: 0s, magnify: 1, center: [0.5, 0.5]}, {at: f23, magnify: 2, center: [0.52, 0.5]}]}
scenes:
  - {id: columns-bare, deck: {place: over}, title: 100ms}
  - {id: columns, deck: {place: over}, title: 100ms, marks: [{box: [0.4, 0.4, 0.3, 0.5], note: Late, capture: birch, from: f7, to: f12}, {arrow: [[0.45, 0.3], [0.5, 0.5]], note: Here, capture: birch, from: f7, to: f12}]}
  - {id: turns-bare, view: alternate, alternate: {every: 100ms}, deck: {place: none, tabs: false}}
  - {id: turns, view: alternate, alternate: {every: 100ms}, deck: {place: none, tabs: false}, marks: [{box: [0.5, 0.4, 0.1, 0.1], capture: birch, from: f8}]}
  - {id: wipe-bare, view: wipe, wipe: {at: 0.5}, deck: {place: none, tabs: false}}
  - {id: wipe, view: wipe, wipe: {at: 0.5}, deck: {place: none, tabs: false}, marks: [{box: [0.4, 0.4, 0.2, 0.2], capture: birch}]}
`)
	for _, c := range []struct {
		id    string
		lead  int
		shown func(k int) bool
		where func(plan *graph.Clip) image.Rectangle // nothing may change outside of it
	}{
		{"columns", 6, func(k int) bool { return k >= 7 && k < 12 }, func(clip *graph.Clip) image.Rectangle {
			strip := clip.Layers[len(clip.Layers)-1].Area
			return image.Rect(320, 0, 640, strip.Min.Y)
		}},
		{"turns", 0, func(k int) bool { return k >= 8 && k/6%2 == 1 }, func(*graph.Clip) image.Rectangle { return image.Rectangle{Max: size} }},
		{"wipe", 0, func(int) bool { return true }, func(*graph.Clip) image.Rectangle { return image.Rect(320, 0, 640, 360) }},
	} {
		s, err := p.File.Scene(c.id)
		if err != nil {
			t.Fatal(err)
		}
		plan, err := scene.PlanScene(t.Context(), p, s)
		if err != nil {
			t.Fatal(err)
		}
		where := c.where(plan.Clip)
		bare := pictures(t, render(t, p, c.id+"-bare").Out, size, "yuv420p")[c.lead:]
		path := render(t, p, c.id).Out
		marked := pictures(t, path, size, "yuv420p")[c.lead:]
		for k := range marked {
			in, out := 0, 0
			for y := range size.Y {
				for x := range size.X {
					switch {
					case bare[k][y*size.X+x] == marked[k][y*size.X+x]:
					case image.Pt(x, y).In(where):
						in++
					default:
						out++
					}
				}
			}
			if (in > 0) != c.shown(k) || out > 0 {
				t.Errorf("%s, frame %d: %d pixels of marks in %v, %d elsewhere; shown %v", c.id, k, in, where, out, c.shown(k))
			}
		}
		stills, err := NewStills(t.Context(), p, c.id, StillOptions{})
		if err != nil {
			t.Fatal(err)
		}
		rgb := pictures(t, path, size, "rgb24",
			"scale=in_color_matrix=bt709:in_range=tv:out_range=pc:flags=bicubic+accurate_rnd+full_chroma_int+full_chroma_inp", "format=rgb24")[c.lead:]
		for _, k := range []int64{6, 7, 11, 12, 20} {
			b, err := stills.Picture(t.Context(), k)
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(raw(t, b), rgb[k]) {
				t.Errorf("%s: the preview of frame %d is not that frame", c.id, k)
			}
		}
	}
}
