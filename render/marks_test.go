package render

import (
	"bytes"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/scene"
)

// blockCapture makes a black capture with a white block at r.
func blockCapture(t testing.TB, path string, size image.Point, r image.Rectangle, frames int) {
	t.Helper()
	blockOn(t, "black", path, size, r, frames)
}

// blockOn makes a capture of one colour with a white block at r.
func blockOn(t testing.TB, colour, path string, size image.Point, r image.Rectangle, frames int) {
	t.Helper()
	footage(t, path, lavfi(fmt.Sprintf("color=%s:size=%dx%d:rate=60,format=yuv420p,drawbox=%d:%d:%d:%d:white:fill",
		colour, size.X, size.Y, r.Min.X, r.Min.Y, r.Dx(), r.Dy()), join([]string{"-frames:v", fmt.Sprint(frames)}, bt709)...)...)
}

// TestMarksLandOnTheirPlace: the capture is black but for a white block, which a
// box outlines and an arrow points at. Where the block is in the output is read
// from the clip without marks; the marks have to be there, at every scale.
func TestMarksLandOnTheirPlace(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	size, small := image.Pt(640, 360), image.Pt(320, 180)
	blockCapture(t, filepath.Join(dir, "alder.mkv"), size, image.Rect(320, 160, 384, 192), 8)
	blockCapture(t, filepath.Join(dir, "birch.mkv"), small, image.Rect(160, 80, 192, 96), 8)
	windows := []struct {
		text  string
		exact int // pixels of doubt
	}{
		{"{center: [0.5, 0.5]}", 1},
		{"{magnify: 2, kernel: nearest}", 0},
		{"{magnify: 3, kernel: nearest, center: [0.55, 0.48]}", 0},
		{"{magnify: 1.3, center: [0.6, 0.55]}", 1},
		{"{magnify: 0.5}", 1},
		{"whole", 1},
	}
	text := `output: {folder: out, size: 640x360, delivery: lossless}
captures:
  alder: {video: alder.mkv}
  birch: {video: birch.mkv}
defaults: {captures: [alder, birch], start: 0s, length: f2, deck: {place: none, tabs: false}}
scenes:
`
	const box = "{box: [0.5, 4/9, 0.1, 4/45]}"
	for i, w := range windows {
		for name, marks := range map[string]string{"bare": "[]", "box": "[" + box + "]", "arrow": "[{arrow: [[0.45, 0.4], [0.5, 4/9]]}]"} {
			text += fmt.Sprintf("  - {id: %s%d, window: %s, marks: %s}\n", name, i, w.text, marks)
		}
	}
	p := open(t, dir, text)
	first := func(id string) []byte { return pictures(t, render(t, p, id).Out, size, "yuv420p")[0] }
	for i, w := range windows {
		bare := first(fmt.Sprintf("bare%d", i))
		boxed, pointed := first(fmt.Sprintf("box%d", i)), first(fmt.Sprintf("arrow%d", i))
		for pane := range 2 {
			area := image.Rect(320*pane, 0, 320*pane+320, 320)
			block := image.Rectangle{}
			for y := area.Min.Y; y < area.Max.Y; y++ {
				for x := area.Min.X; x < area.Max.X; x++ {
					if bare[y*size.X+x] > 125 {
						block = block.Union(image.Rect(x, y, x+1, y+1))
					}
				}
			}
			if block.Empty() || block.Dx() < 12 {
				t.Fatalf("window %s, pane %d: the block is at %v", w.text, pane, block)
			}
			drawn := func(picture []byte, x, y int) bool { return picture[y*size.X+x] != bare[y*size.X+x] }
			mid := block.Min.Add(block.Max).Div(2)
			// From the middle of the block outwards, where is the first of the line?
			edge := func(dx, dy int) int {
				for n := 0; ; n++ {
					at := mid.Add(image.Pt(n*dx, n*dy))
					if !at.In(area) {
						return -1
					}
					if drawn(boxed, at.X, at.Y) {
						return n
					}
				}
			}
			for _, side := range []struct{ dx, dy, want int }{
				{-1, 0, mid.X - block.Min.X + 1}, {1, 0, block.Max.X - mid.X}, {0, -1, mid.Y - block.Min.Y + 1}, {0, 1, block.Max.Y - mid.Y},
			} {
				if got := edge(side.dx, side.dy); got < side.want-w.exact || got > side.want+w.exact {
					t.Errorf("window %s, pane %d: towards %d,%d the box begins %d from the middle, the block ends at %d", w.text, pane, side.dx, side.dy, got, side.want)
				}
			}
			// The tip is at the block's corner: ink there, and none just inside.
			ink := false
			for y := -1 - w.exact; y <= w.exact; y++ {
				for x := -1 - w.exact; x <= w.exact; x++ {
					ink = ink || drawn(pointed, block.Min.X+x, block.Min.Y+y)
				}
			}
			if !ink || drawn(pointed, mid.X, mid.Y) {
				t.Errorf("window %s, pane %d: the arrow does not end at %v", w.text, pane, block.Min)
			}
		}
	}
}

// TestMarksHaveTheirTime: a mark stands from the frame on screen at from to the
// one before that at to, in its capture's pane alone, over a still footage of
// which all else stays as it is; and previews show what the clip shows.
func TestMarksHaveTheirTime(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	size := image.Pt(640, 360)
	blockCapture(t, filepath.Join(dir, "alder.mkv"), size, image.Rect(320, 160, 384, 192), 40)
	writeLog(t, filepath.Join(dir, "alder.csv"), cadence(40, 1))
	text := `output: {folder: out, size: 640x360, delivery: lossless}
captures:
  alder: {video: alder.mkv, pacing: alder.csv}
  birch: {video: alder.mkv, pacing: alder.csv}
defaults: {captures: [alder, birch], start: 0s, length: 500ms, deck: {place: over}}
scenes:
  - {id: bare}
  - id: marked
    title: 100ms
    marks:
      - {box: [0.5, 0.2, 0.1, 0.1], note: Late, capture: birch, from: f7, to: 210ms}
      - {note: Early, at: [0.5, 0.2], capture: alder, to: f3}
      - {arrow: [[0.4, 0.3], [0.5, 0.4]], from: 485ms}
      - {arrow: [[0.5, 0.9], [0.5, 0.99]], note: Under the deck}
`
	p := open(t, dir, text)
	const lead = 6
	bare := pictures(t, render(t, p, "bare").Out, size, "yuv420p")
	clip := pictures(t, render(t, p, "marked").Out, size, "yuv420p")[lead:]
	plan, err := scene.PlanScene(t.Context(), p, &p.File.Scenes[1])
	if err != nil {
		t.Fatal(err)
	}
	strip := plan.Clip.Layers[len(plan.Clip.Layers)-1].Area
	left, right := image.Rect(0, 0, 320, strip.Min.Y), image.Rect(320, 0, 640, strip.Min.Y)
	// The note of the mark that lies under the deck stands above it all the time.
	var always []byte
	for k, got := range clip {
		if !bytes.Equal(cut(got, size, strip), cut(bare[k], size, strip)) {
			t.Errorf("frame %d: a mark is in the deck", k)
		}
		if always == nil && k == 5 {
			always = got
		}
	}
	for k, got := range clip {
		for _, pane := range []struct {
			name  string
			area  image.Rectangle
			marks bool
		}{{"left", left, k < 3 || k >= 29}, {"right", right, k >= 7 && k < 12 || k >= 29}} {
			same := bytes.Equal(cut(got, size, pane.area), cut(always, size, pane.area))
			if same == pane.marks {
				t.Errorf("frame %d: marks in the %s pane: %v, want %v", k, pane.name, !same, pane.marks)
			}
		}
	}
	stills, err := NewStills(t.Context(), p, "marked", StillOptions{})
	if err != nil {
		t.Fatal(err)
	}
	rgb := pictures(t, filepath.Join(dir, "out", "marked.mkv"), size, "rgb24",
		"scale=in_color_matrix=bt709:in_range=tv:out_range=pc:flags=bicubic+accurate_rnd+full_chroma_int+full_chroma_inp", "format=rgb24")[lead:]
	for _, k := range []int64{0, 3, 6, 7, 11, 12, 28, 29} {
		b, err := stills.Picture(t.Context(), k)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(raw(t, b), rgb[k]) {
			t.Errorf("the preview of frame %d is not that frame", k)
		}
	}
	// A pane alone and the panes alone have their marks, but no deck.
	for _, o := range []StillOptions{{Pane: "birch"}, {NoDeck: true}} {
		s, err := NewStills(t.Context(), p, "marked", o)
		if err != nil {
			t.Fatal(err)
		}
		with, err := s.Picture(t.Context(), 8)
		if err != nil {
			t.Fatal(err)
		}
		without, err := s.Picture(t.Context(), 15)
		if err != nil {
			t.Fatal(err)
		}
		if bytes.Equal(with, without) {
			t.Errorf("%+v: the mark is missing", o)
		}
	}
}

// raw decodes a PNG to packed RGB.
func raw(t testing.TB, b []byte) []byte {
	t.Helper()
	img, err := png.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	r := img.Bounds()
	whole := image.NewNRGBA(r)
	draw.Draw(whole, r, img, r.Min, draw.Src)
	out := make([]byte, 0, 3*r.Dx()*r.Dy())
	for i := 0; i < len(whole.Pix); i += 4 {
		out = append(out, whole.Pix[i:i+3]...)
	}
	return out
}

// TestMarkWarnings: what cannot be seen is said, and marks are in the fingerprint.
func TestMarkWarnings(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	small(t, dir)
	file := strings.Replace(smallFile, "{id: ridge, caption: Launch}", "{id: ridge, window: {magnify: 4}, marks: [{box: [0, 0, 0.1, 0.1]}, {note: "+strings.Repeat("wide ", 39)+", at: [0.5, 0.5]}, {note: Short, at: [0.5, 0.5], from: 34ms, to: 40ms}]}", 1)
	p := open(t, dir, file)
	plan, err := scene.PlanScene(t.Context(), p, &p.File.Scenes[0])
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"mark 1 is outside of what the panes show", "note shortened to", "is on screen for no frame"} {
		if !slices.ContainsFunc(finding.Warnings(plan.Warnings), func(w string) bool { return strings.Contains(w, want) }) {
			t.Errorf("no warning %q in %q", want, plan.Warnings)
		}
	}
	before, err := fingerprint(p, &p.File.Scenes[0])
	if err != nil {
		t.Fatal(err)
	}
	p.File.Scenes[0].Marks[0].A.X = comparison.Ratio{Num: 1, Den: 100}
	if after, err := fingerprint(p, &p.File.Scenes[0]); err != nil || after == before {
		t.Errorf("a mark that moved leaves the fingerprint as it is (%v)", err)
	}
}
