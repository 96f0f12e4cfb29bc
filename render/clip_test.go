package render

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"fairframe/layout"
	"fairframe/render/comparison"
	"fairframe/render/deck"
	"fairframe/render/media/mediatest"
	"fairframe/render/pacing"
	"fairframe/render/scene"
)

func render(t *testing.T, p *scene.Project, id string) Result {
	t.Helper()
	r, err := Render(t.Context(), p, id, "", nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// TestPanesFillTheOutput: without a deck, two columns in 1280x720 are panes of
// 640x720 around the windows' centres, with nothing drawn on them. Compared
// pixel by pixel with the captures' own pictures.
func TestPanesFillTheOutput(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	size := image.Pt(1280, 720)
	barCapture(t, filepath.Join(dir, "alder.mkv"), size, hz60, 12)
	barCapture(t, filepath.Join(dir, "birch.mkv"), size, hz60, 16)
	p := open(t, dir, `
output: {folder: out, size: 1280x720, delivery: lossless}
captures:
  alder: {video: alder.mkv}
  birch: {video: birch.mkv}
defaults: {captures: [alder, birch], start: {alder: f2, birch: f7}, length: f6, deck: {place: none}}
scenes:
  - {id: middle}
  - {id: aside, window: {alder: {center: [0.4, 0.5]}, birch: {center: [0.55, 0.2]}}}
`)
	for id, left := range map[string][2]int{
		// The pane's left edge in the capture: its centre less half of 640.
		"middle": {640 - 320, 640 - 320},
		"aside":  {512 - 320, 704 - 320},
	} {
		clip := pictures(t, render(t, p, id).Out, size, "yuv420p")
		if len(clip) != 6 {
			t.Fatalf("%s: %d frames", id, len(clip))
		}
		drawn := make([]byte, mediatest.PictureBytes(size))
		for k, got := range clip {
			for i, first := range []int{2, 7} {
				mediatest.Picture(drawn, size, first+k)
				pane := cut(got, size, image.Rect(640*i, 0, 640*i+640, 720))
				if !bytes.Equal(pane, cut(drawn, size, image.Rect(left[i], 0, left[i]+640, 720))) {
					t.Errorf("%s: frame %d, pane %d is not the capture's frame %d from x = %d on", id, k, i, first+k, left[i])
				}
			}
		}
	}
}

// TestDeckBelongsToThePictures reads finished clips back: the capture frame in
// every pane of every frame, by its bar code, and the deck below it, to the bit,
// against a deck that was set up here by hand for the same instants.
func TestDeckBelongsToThePictures(t *testing.T) {
	size := image.Pt(640, 360)
	for _, tt := range []struct {
		name, rate, start  string
		capture, out       pacing.Rate
		alder, birch       time.Duration // starts
		firstA, firstB     int64
		everyA, everyB, of int64 // capture frames per output frames, for Alder and Birch
	}{
		{"60 in 60", "60", "{alder: f45, birch: 1.5s}", hz60, hz60, 750 * time.Millisecond, 1500 * time.Millisecond, 45, 90, 1, 1, 1},
		{"60 in 30", "30", "{alder: f45, birch: 1.5s}", hz60, hz30, 750 * time.Millisecond, 1500 * time.Millisecond, 45, 90, 2, 2, 1},
		{"59.94 in 59.94", "60000/1001", "{alder: f45, birch: f91}", hz5994, hz5994, hz5994.TimeOf(45), hz5994.TimeOf(91), 45, 91, 1, 1, 1},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			barCapture(t, filepath.Join(dir, "alder.mkv"), size, tt.capture, 130)
			barCapture(t, filepath.Join(dir, "birch.mkv"), size, tt.capture, 170)
			// Alder falls to every second refresh, Birch wavers.
			alder := append(cadence(60, 1), shift(cadence(120, 2), hz60.TimeOf(60))...)
			birch := cadence(200, 1, 2, 1, 1, 2, 4)
			writeLog(t, filepath.Join(dir, "alder.csv"), alder)
			writeLog(t, filepath.Join(dir, "birch.csv"), birch)
			p := open(t, dir, `
output: {folder: out, size: 640x360, rate: `+tt.rate+`, delivery: lossless}
captures:
  alder: {name: Alder, raster: 1408x792, video: alder.mkv, pacing: alder.csv}
  birch: {name: Birch, detail: wavers, raster: 1920x1080, video: birch.mkv, pacing: birch.csv}
scenes:
  - {id: ridge, captures: [alder, birch], start: `+tt.start+`, length: f40, caption: "Launch"}
`)
			screen, err := layout.Solve(layout.Spec{Size: size, Captures: 2, Tabs: true, Caption: true})
			if err != nil {
				t.Fatal(err)
			}
			// The same stretches of the logs: a rate is a mean over a span's frames, whose
			// whole nanoseconds differ, and a line's edge shows the seventh decimal.
			part := func(frames []pacing.Frame, start time.Duration) *pacing.Trace {
				t.Helper()
				trace, _, err := pacing.TraceOf("made", frames, max(0, start-2500*time.Millisecond), start+tt.out.TimeOf(40))
				if err != nil {
					t.Fatal(err)
				}
				return trace
			}
			byHand, err := deck.New(deck.Settings{Screen: screen, Caption: "Launch", Rate: tt.out, Frames: 40, Refresh: tt.capture, Captures: []deck.Capture{
				{Name: "Alder", Raster: image.Pt(1408, 792), Trace: part(alder, tt.alder), Start: tt.alder, Style: 1},
				{Name: "Birch", Detail: "wavers", Raster: image.Pt(1920, 1080), Base: deck.Base{Name: "Alder", Raster: image.Pt(1408, 792)}, Trace: part(birch, tt.birch), Start: tt.birch, Style: 2},
			}})
			if err != nil {
				t.Fatal(err)
			}
			clip := pictures(t, render(t, p, "ridge").Out, size, "yuv420p")
			if len(clip) != 40 {
				t.Fatalf("%d frames", len(clip))
			}
			want := make([]byte, byHand.FrameBytes())
			var before []byte
			changes := 0
			for k := int64(len(clip)) - 1; k >= 0; k-- { // backwards: a frame stands for itself
				got := clip[k]
				a, b := tt.firstA+k*tt.everyA/tt.of, tt.firstB+k*tt.everyB/tt.of
				if n := bar(t, got, size, screen.Panes[0].Area, size.X); int64(n) != a {
					t.Errorf("frame %d shows Alder's frame %d, on screen is %d", k, n, a)
				}
				if n := bar(t, got, size, screen.Panes[1].Area, size.X); int64(n) != b {
					t.Errorf("frame %d shows Birch's frame %d, on screen is %d", k, n, b)
				}
				byHand.Draw(want, int(k))
				strip := cut(got, size, screen.Strip)
				if !bytes.Equal(strip, want) {
					t.Errorf("frame %d: the deck is not the one of its instant", k)
				}
				if before != nil && !bytes.Equal(strip, before) {
					changes++
				}
				before = strip
			}
			if changes != 39 { // the playhead and the clock move each frame
				t.Errorf("the deck changed %d times in 39", changes)
			}
		})
	}
}

func shift(frames []pacing.Frame, by time.Duration) []pacing.Frame {
	for i := range frames {
		frames[i].Begin += by
	}
	return frames
}

// TestPreviewIsTheRenderedFrame compares previews with the frames of the finished
// lossless clip: every pixel, panes and deck, after the same conversion to RGB;
// and the greys of the bar code with the formula of BT.709.
func TestPreviewIsTheRenderedFrame(t *testing.T) {
	t.Parallel()
	size := image.Pt(640, 360)
	dir := t.TempDir()
	barCapture(t, filepath.Join(dir, "alder.mkv"), size, hz60, 60)
	barCapture(t, filepath.Join(dir, "birch.mkv"), size, hz60, 60)
	writeLog(t, filepath.Join(dir, "alder.csv"), cadence(60, 1, 2))
	writeLog(t, filepath.Join(dir, "birch.csv"), cadence(60, 3, 1))
	for _, place := range []string{"below", "over", "none"} {
		t.Run(place, func(t *testing.T) {
			sub := filepath.Join(dir, "out-"+place)
			p := open(t, dir, `
output: {folder: `+filepath.Base(sub)+`, size: 640x360, delivery: lossless}
captures:
  alder: {name: Alder, video: alder.mkv, pacing: alder.csv}
  birch: {name: Birch, video: birch.mkv, pacing: birch.csv}
scenes:
  - {id: ridge, captures: [alder, birch], start: {alder: 300ms, birch: f7}, length: f30, deck: {place: `+place+`}}
`)
			r := render(t, p, "ridge")
			rgb := pictures(t, r.Out, size, "rgb24",
				"scale=in_color_matrix=bt709:in_range=tv:out_range=pc:flags=bicubic+accurate_rnd+full_chroma_int+full_chroma_inp", "format=rgb24")
			luma := pictures(t, r.Out, size, "yuv420p")
			for _, k := range []int{29, 0, 17} {
				at, err := comparison.ParseTime("f" + strconv.Itoa(k))
				if err != nil {
					t.Fatal(err)
				}
				b, frame, _, err := preview(t, p, "ridge", at)
				if err != nil || frame != int64(k) {
					t.Fatalf("preview of frame %d: frame %d, %v", k, frame, err)
				}
				img, err := png.Decode(bytes.NewReader(b))
				if err != nil {
					t.Fatal(err)
				}
				if img.Bounds().Size() != size {
					t.Fatalf("preview of %v", img.Bounds())
				}
				differ, worst := 0, 0
				for y := range size.Y {
					for x := range size.X {
						c := color.NRGBAModel.Convert(img.At(x, y)).(color.NRGBA)
						at := rgb[k][3*(y*size.X+x):][:3]
						for i, v := range []uint8{c.R, c.G, c.B} {
							if d := int(v) - int(at[i]); d != 0 {
								differ++
								worst = max(worst, d, -d)
							}
						}
					}
				}
				if differ > 0 {
					t.Errorf("frame %d: %d values differ, by %d at most", k, differ, worst)
				}
				// Grey has no colour difference: R = G = B = (Y - 16) 255/219.
				for x := 8; x < size.X; x += 8 {
					const y = 20
					code := float64(luma[k][y*size.X+x])
					want := math.Round(min(max((code-16)*255/219, 0), 255))
					if c := color.NRGBAModel.Convert(img.At(x, y)).(color.NRGBA); math.Abs(float64(c.R)-want) > 1 {
						t.Fatalf("frame %d: %v at %d, %d, want grey %v", k, c, x, y, want)
					}
				}
			}
		})
	}
}
