package render

import (
	"fmt"
	"image"
	"io"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"fairframe/layout"
	"fairframe/render/comparison"
	"fairframe/render/media"
)

// pattern is the luma of pixel (x, y) of frame n of a capture: place, frame and
// capture are read from it, since no other choice of them gives the same picture.
func pattern(capture, n, x, y int) byte { return byte(40 + (3*x+7*y+11*n+53*capture)%160) }

var patternSize = image.Pt(480, 270)

func patternCapture(t testing.TB, path string, capture, frames int) {
	t.Helper()
	args := []string{"-c:v", "ffv1", "-level", "3", "-g", "1", "-f", "matroska",
		"-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709", "-color_range", "tv"}
	size := patternSize
	err := tools(t).Encode(t.Context(), media.EncodeSpec{Out: path, Size: size, PixFmt: "yuv420p", Rate: hz60, Args: args},
		func(w io.Writer) error {
			buf := make([]byte, size.X*size.Y*3/2)
			for i := range buf {
				buf[i] = 128
			}
			for n := range frames {
				for y := range size.Y {
					for x := range size.X {
						buf[y*size.X+x] = pattern(capture, n, x, y)
					}
				}
				if _, err := w.Write(buf); err != nil {
					return err
				}
			}
			return nil
		})
	if err != nil {
		t.Fatal(err)
	}
}

// shows says what of a capture stands where in a pane that shows its middle at one
// to one: the pane's corner in capture pixels, and bars where the pane is larger.
// It is the README's words in arithmetic, not the code under test.
func shows(pane image.Rectangle, x, y int) (cx, cy int, black bool) {
	along := func(capture, from, to, v int) (int, bool) {
		if pane := to - from; pane >= capture {
			c := v - from - (pane-capture)/2&^1
			return c, c < 0 || c >= capture
		}
		left := 2 * int(math.Floor((float64(capture)/2-float64(to-from)/2)/2+0.5))
		return v - from + left, false
	}
	cx, offX := along(patternSize.X, pane.Min.X, pane.Max.X, x)
	cy, offY := along(patternSize.Y, pane.Min.Y, pane.Max.Y, y)
	return cx, cy, offX || offY
}

// TestEveryViewShowsItsPlaces renders every view, in one of three shapes of output by turns, and
// compares every pixel that shows a capture with the capture's own: which capture,
// which frame, which place, at one to one.
func TestEveryViewShowsItsPlaces(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	keys := []string{"alder", "birch", "cedar"}
	first := []int{2, 5, 9}
	for i, key := range keys {
		patternCapture(t, filepath.Join(dir, key+".mkv"), i, 24)
		writeLog(t, filepath.Join(dir, key+".csv"), cadence(24, int64(i+1)))
	}
	const frames = 6
	turn := func(each int) func(k, n int) int { return func(k, n int) int { return k / each % n } }
	// upright is the wipe's owner for lines at those fractions of the picture.
	type owner func(k, n int, at image.Point, picture image.Rectangle) int // -1: a line is near
	lines := func(angle float64, places func(k, n int) []float64) owner {
		return func(k, n int, at image.Point, r image.Rectangle) int {
			sin, cos := math.Sincos(angle * math.Pi / 180)
			w, h := float64(r.Dx()), float64(r.Dy())
			d := cos*(float64(at.X)+0.5) + sin*(float64(at.Y)+0.5) - min(0, sin*h)
			i := 0
			for _, p := range places(k, n) {
				off := d - p*(cos*w+math.Abs(sin)*h)
				if math.Abs(off) < 5 {
					return -1
				}
				if off > 0 {
					i++
				}
			}
			return i
		}
	}
	stand := func(k, n int) []float64 {
		if n == 2 {
			return []float64{0.4}
		}
		return []float64{0.3, 0.6}
	}
	glide := func(k, n int) []float64 { // 3u²-2u³ from 0.2 to 0.8 over 0.1 s
		u := min(1, float64(k)/6)
		u = u * u * (3 - 2*u)
		if n == 2 {
			return []float64{0.2 + 0.6*u}
		}
		return []float64{0.2 + 0.3*u, 0.5 + 0.3*u}
	}
	at := func(n int, two, three string) string {
		if n == 2 {
			return two
		}
		return three
	}
	sizes := []image.Point{{480, 270}, {270, 480}, {270, 270}}
	for v, view := range []struct {
		name    string
		options func(n int) string
		owner   owner
		turn    func(k, n int) int
	}{
		{"columns", func(int) string { return "" }, nil, nil},
		{"rows", func(int) string { return "" }, nil, nil},
		{"single", func(int) string { return ", single: birch" }, nil, nil},
		{"inset", func(int) string { return "" }, nil, nil},
		{"inset", func(int) string { return ", inset: {whole: birch, place: over}" }, nil, nil},
		{"wipe", func(n int) string { return ", wipe: {at: " + at(n, "0.4", "[0.3, 0.6]") + "}" }, lines(0, stand), nil},
		{"wipe", func(n int) string { return ", wipe: {angle: 90, at: " + at(n, "0.4", "[0.3, 0.6]") + "}" }, lines(90, stand), nil},
		{"wipe", func(n int) string { return ", wipe: {angle: -30, at: " + at(n, "0.4", "[0.3, 0.6]") + "}" }, lines(-30, stand), nil},
		{"wipe", func(n int) string {
			return ", wipe: {keys: [{t: 0s, at: " + at(n, "0.2", "[0.2, 0.5]") + "}, {t: 100ms, at: " + at(n, "0.8", "[0.5, 0.8]") + "}]}"
		}, lines(0, glide), nil},
		{"alternate", func(int) string { return ", alternate: {every: 100ms}" }, nil, turn(6)},
		{"alternate", func(int) string { return ", alternate: {at: [f2, f4, f5]}" }, nil, func(k, n int) int { return []int{0, 0, 1, 1, 2, 3}[k] % n }},
		{"difference", func(int) string { return ", difference: {gain: 3/2}" }, nil, nil},
		{"difference", func(int) string { return ", difference: {show: alone, gain: 1}" }, nil, nil},
	} {
		for z, size := range sizes {
			if (v+z)%3 != 0 {
				continue // one shape a view, by turns
			}
			n := 2 + (v+z)%2
			place := []string{"below", "over", "none"}[(v+2*z)%3]
			t.Run(fmt.Sprintf("%s%s %d in %v %s", view.name, view.options(n), n, size, place), func(t *testing.T) {
				p := open(t, dir, fmt.Sprintf(`
output: {folder: out, size: %dx%d, delivery: lossless}
captures:
  alder: {name: Alder, video: alder.mkv, pacing: alder.csv}
  birch: {name: Birch, video: birch.mkv, pacing: birch.csv}
  cedar: {name: Cedar, video: cedar.mkv, pacing: cedar.csv}
scenes:
  - {id: s%d-%d, captures: [%s], start: {%s}, length: 100ms, audio: none, deck: {place: %s}, view: %s%s}
`, size.X, size.Y, v, z, strings.Join(keys[:n], ", "), at(n, "alder: f2, birch: f5", "alder: f2, birch: f5, cedar: f9"), place, view.name, view.options(n)))
				s := &p.File.Scenes[0]
				captures, err := p.captures(t.Context(), s)
				if err != nil {
					t.Fatal(err)
				}
				c, err := p.compose(s, captures, hz60, frames)
				if err != nil {
					t.Fatal(err)
				}
				plan, err := p.Plan(t.Context(), s)
				if err != nil {
					t.Fatal(err)
				}
				hidden := plan.Clip.Dividers
				for _, part := range plan.Clip.Parts {
					hidden = append(hidden, part.Area)
				}
				clip := pictures(t, render(t, p, s.ID).Out, size, "yuv420p")
				if len(clip) != frames {
					t.Fatalf("%d frames", len(clip))
				}
				seen, wrong := map[int]int{}, 0
				for k, got := range clip {
					for y := range size.Y {
					pixels:
						for x := range size.X {
							here := image.Pt(x, y)
							for _, h := range hidden {
								if here.In(h) {
									continue pixels
								}
							}
							i := -1 // of the pane on top
							for j, pane := range c.screen.Panes {
								if here.In(pane.Area) {
									i = j
								}
							}
							if i < 0 {
								continue
							}
							pane := c.screen.Panes[i]
							who := pane.Capture
							switch {
							case view.owner != nil:
								who = view.owner(k, n, here.Sub(pane.Area.Min), pane.Area)
							case view.turn != nil:
								who = view.turn(k, n)
							case pane.Role == layout.AsWhole:
								continue
							}
							if who < 0 {
								continue
							}
							cx, cy, black := shows(pane.Area, x, y)
							want := byte(16)
							if !black {
								want = pattern(who, first[who]+k, cx, cy)
							}
							if pane.Role == layout.AsMinus {
								want = 16
								if !black {
									a, b := int(pattern(who, first[who]+k, cx, cy)), int(pattern(pane.Other, first[pane.Other]+k, cx, cy))
									gain := s.Difference.Gain
									want = byte(min(235, 16+int64(max(a-b, b-a))*gain.Num/gain.Den))
								}
							}
							seen[who]++
							if v := got[y*size.X+x]; v != want {
								if wrong++; wrong < 4 {
									t.Errorf("frame %d, %v in pane %d (%v): luma %d, want %d of capture %d", k, here, i+1, pane.Area, v, want, who)
								}
							}
						}
					}
				}
				if wrong > 0 {
					t.Errorf("%d pixels are wrong", wrong)
				}
				for i := range n {
					shown := view.name != comparison.ViewSingle || i == 1
					if view.name == comparison.ViewDifference && s.Difference.Alone && n == 2 {
						shown = i == 0
					}
					if view.name == comparison.ViewAlternate && s.Alternate.Every > 0 {
						shown = i == 0 // its turn lasts as long as the scene
					}
					if shown != (seen[i] > 0) {
						t.Errorf("capture %d was seen in %d pixels", i+1, seen[i])
					}
				}
			})
		}
	}
}
