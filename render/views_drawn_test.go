package render

import (
	"bytes"
	"fmt"
	"image"
	"io"
	"math"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"

	"fairframe/render/media"
	"fairframe/render/scene"
)

// TestInsetMarksItsPlace: the frame in the whole picture lies around what the
// windows show, which is worked out from the words of the manual, in still windows,
// at the capture's corners, and in every frame of one that moves; and it keeps off
// the windows that lie over the picture.
func TestInsetMarksItsPlace(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	shape := image.Pt(480, 270)
	blockOn(t, "0x303030", filepath.Join(dir, "alder.mkv"), shape, image.Rect(0, 0, 2, 2), 12)
	const frames = 12
	known := &scene.Cache{}
	type stop struct{ x, y, magnify float64 }
	for i, c := range []struct {
		size  image.Point
		place string
		stops []stop // at the first and the last frame
	}{
		{image.Pt(640, 360), "beside", []stop{{0.5, 0.5, 3}}},
		{image.Pt(640, 360), "over", []stop{{0, 0, 4}}},
		{image.Pt(360, 640), "beside", []stop{{1, 0, 3}}},
		{image.Pt(640, 360), "over", []stop{{0.2, 0.3, 3}, {0.4, 0.5, 6}}},
		{image.Pt(360, 640), "over", []stop{{0.6, 0.2, 3}, {0.3, 0.3, 3}}},
		{image.Pt(360, 360), "beside", []stop{{0.5, 0.5, 2}, {0.7, 0.4, 5}}},
	} {
		window := fmt.Sprintf("{center: [%g, %g], magnify: %g}", c.stops[0].x, c.stops[0].y, c.stops[0].magnify)
		if len(c.stops) > 1 {
			window = fmt.Sprintf("{moves: [{at: 0s, center: [%g, %g], magnify: %g}, {at: f11, center: [%g, %g], magnify: %g}]}",
				c.stops[0].x, c.stops[0].y, c.stops[0].magnify, c.stops[1].x, c.stops[1].y, c.stops[1].magnify)
		}
		p := reopen(t, dir, fmt.Sprintf(`
output: {folder: out, size: %dx%d, delivery: lossless}
captures:
  alder: {video: alder.mkv}
  birch: {video: alder.mkv}
scenes:
  - {id: s%d, captures: [alder, birch], start: 0s, length: f%d, view: inset, inset: {place: %s}, deck: {place: none, tabs: false}, window: %s}
`, c.size.X, c.size.Y, i, frames, c.place, window), known)
		s := &p.File.Scenes[0]
		plan, err := scene.PlanScene(t.Context(), p, s)
		if err != nil {
			t.Fatal(err)
		}
		whole, pane := plan.Screen.Panes[0].Area, plan.Screen.Panes[1].Area
		hidden := plan.Screen.OnTop()
		for _, l := range plan.Screen.Labels {
			hidden = append(hidden, l.Box)
		}
		// Where the capture is in the whole picture.
		fit := math.Min(float64(whole.Dx())/float64(shape.X), float64(whole.Dy())/float64(shape.Y))
		full := image.Pt(pairs(float64(shape.X)*fit), pairs(float64(shape.Y)*fit))
		corner := whole.Min.Add(image.Pt((whole.Dx()-full.X)/2&^1, (whole.Dy()-full.Y)/2&^1))
		for k, got := range pictures(t, render(t, p, s.ID).Out, c.size, "yuv420p") {
			// The window's middle and how many capture pixels an output pixel has.
			x, y, magnify := c.stops[0].x, c.stops[0].y, c.stops[0].magnify
			q := float64(min(shape.X, shape.Y)) / float64(min(c.size.X, c.size.Y))
			if len(c.stops) > 1 {
				u := float64(k) / 11
				u = u * u * (3 - 2*u)
				q0, q1 := q/c.stops[0].magnify, q/c.stops[1].magnify
				at := u
				q = q0 * math.Pow(q1/q0, u) // its scale changes by equal ratios
				if q0 != q1 {
					at = (q0 - q) / (q0 - q1) // about one fixed point
				}
				x, y = x+(c.stops[1].x-x)*at, y+(c.stops[1].y-y)*at
			} else {
				q /= magnify
			}
			along := func(capture, pane int, centre float64, corner, full int) (from, to float64) {
				half := q * float64(pane) / 2
				middle := min(max(centre*float64(capture), half), float64(capture)-half)
				put := func(v float64) float64 { return float64(corner) + v*float64(full)/float64(capture) }
				return put(middle - half), put(middle + half)
			}
			x0, x1 := along(shape.X, pane.Dx(), x, corner.X, full.X)
			y0, y1 := along(shape.Y, pane.Dy(), y, corner.Y, full.Y)
			seen := image.Rectangle{}
			for y := whole.Min.Y; y < whole.Max.Y; y++ {
			next:
				for x := whole.Min.X; x < whole.Max.X; x++ {
					at := image.Pt(x, y)
					for _, h := range hidden {
						if at.In(h) {
							continue next
						}
					}
					if at.In(image.Rectangle{corner, corner.Add(image.Pt(3, 3))}) {
						continue // the block
					}
					if got[y*c.size.X+x] > 140 {
						seen = seen.Union(image.Rectangle{at, at.Add(image.Pt(1, 1))})
					}
				}
			}
			const reach = 6 // of the line, and of what a place is rounded by
			for _, e := range []struct{ got, want, edge, out float64 }{
				{float64(seen.Min.X), x0, float64(whole.Min.X), -1}, {float64(seen.Max.X), x1, float64(whole.Max.X), 1},
				{float64(seen.Min.Y), y0, float64(whole.Min.Y), -1}, {float64(seen.Max.Y), y1, float64(whole.Max.Y), 1},
			} {
				off := (e.got - e.want) * e.out // outwards
				inside := math.Abs(e.want-e.edge) < reach && math.Abs(e.got-e.edge) < reach
				if !inside && (off < -0.5 || off > reach) {
					t.Fatalf("%v, %s, frame %d: the frame is at %v, the place at (%.1f,%.1f)-(%.1f,%.1f) of %v", c.size, c.place, k, seen, x0, y0, x1, y1, whole)
				}
			}
		}
	}
}

// TestAlternateLightsTheTabOnScreen: in each frame the tab of the capture that is on
// screen looks as it does then, lighter, and the others as they do otherwise.
func TestAlternateLightsTheTabOnScreen(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	size := image.Pt(640, 360)
	blockOn(t, "0x202020", filepath.Join(dir, "alder.mkv"), size, image.Rect(0, 0, 2, 2), 20)
	writeLog(t, filepath.Join(dir, "alder.csv"), cadence(20, 1))
	known := &scene.Cache{}
	for i, place := range []string{"below", "over", "none"} {
		keys := filmKeys[:2+i%2]
		p := reopen(t, dir, fmt.Sprintf(`
output: {folder: out, size: 640x360, delivery: lossless}
captures:
  alder: {name: Alder, video: alder.mkv, pacing: alder.csv}
  birch: {name: Birch, video: alder.mkv, pacing: alder.csv}
  cedar: {name: Cedar, video: alder.mkv, pacing: alder.csv}
scenes:
  - {id: turns-%[2]s, captures: [%[1]s], start: 0s, length: f14, view: alternate, alternate: {at: [f3, f4, f9, f10]}, deck: {place: %[2]s, tabs: true}}
`, strings.Join(keys, ", "), place), known)
		s := &p.File.Scenes[0]
		plan, err := scene.PlanScene(t.Context(), p, s)
		if err != nil {
			t.Fatal(err)
		}
		who := func(k int) int { // a turn ends at each of the times
			turn := 0
			for _, at := range []int{3, 4, 9, 10} {
				if k >= at {
					turn++
				}
			}
			return turn % len(keys)
		}
		clip := pictures(t, render(t, p, s.ID).Out, size, "yuv420p")
		for i, tab := range plan.Screen.Tabs {
			var on, off []byte
			light := func(b []byte) (sum int) {
				for _, v := range b[:tab.Box.Dx()*tab.Box.Dy()] {
					sum += int(v)
				}
				return sum
			}
			for k, got := range clip {
				part := cut(got, size, tab.Box)
				same := &off
				if who(k) == i {
					same = &on
				}
				if *same == nil {
					*same = part
				}
				if !bytes.Equal(part, *same) {
					t.Errorf("%s, frame %d: the tab of capture %d is not as it was, on screen is %d", place, k, i+1, who(k)+1)
				}
			}
			if bytes.Equal(on, off) || light(on) <= light(off) {
				t.Errorf("%s: the tab of capture %d has light %d on screen and %d off it", place, i+1, light(on), light(off))
			}
		}
	}
}

// TestColourDifference compares the difference of two films of coloured fields with
// the one worked out from the matrix of Rec. ITU-R BT.709-6, item 3, in limited range:
// of R', G' and B' each, times the gain, cut at white.
func TestColourDifference(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	size, field := image.Pt(256, 144), 16
	rng := rand.New(rand.NewPCG(7, 9))
	type code struct{ y, u, v float64 }
	toRGB := func(c code) [3]float64 {
		y, b, r := (c.y-16)/219, (c.u-128)/224, (c.v-128)/224
		rgb := [3]float64{y + 1.5748*r, 0, y + 1.8556*b}
		rgb[1] = (y - 0.2126*rgb[0] - 0.0722*rgb[2]) / 0.7152
		return rgb
	}
	toCode := func(rgb [3]float64) code {
		y := 0.2126*rgb[0] + 0.7152*rgb[1] + 0.0722*rgb[2]
		return code{16 + 219*y, 128 + 224*(rgb[2]-y)/1.8556, 128 + 224*(rgb[0]-y)/1.5748}
	}
	fields := map[string][]code{}
	across := size.X / field
	for _, key := range []string{"alder", "birch"} {
		for range across * (size.Y / field) {
			c := toCode([3]float64{rng.Float64(), rng.Float64(), rng.Float64()})
			fields[key] = append(fields[key], code{math.Round(c.y), math.Round(c.u), math.Round(c.v)})
		}
		err := tools(t).Encode(t.Context(), media.EncodeSpec{Out: filepath.Join(dir, key+".mkv"), Size: size, PixFmt: "yuv420p", Rate: hz60,
			Args: []string{"-c:v", "ffv1", "-f", "matroska", "-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709", "-color_range", "tv"}},
			func(w io.Writer) error {
				buf := make([]byte, size.X*size.Y*3/2)
				for y := range size.Y {
					for x := range size.X {
						c, at := fields[key][y/field*across+x/field], y/2*(size.X/2)+x/2
						buf[y*size.X+x] = byte(c.y)
						buf[size.X*size.Y+at], buf[size.X*size.Y*5/4+at] = byte(c.u), byte(c.v)
					}
				}
				for range 4 {
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
	text := `
output: {folder: out, size: 256x144, delivery: lossless}
captures:
  alder: {video: alder.mkv}
  birch: {video: birch.mkv}
defaults: {captures: [alder, birch], start: 0s, length: f2, view: difference, deck: {place: none, tabs: false}}
scenes:
`
	gains := map[string]float64{"1": 1, "5/2": 2.5, "4": 4}
	for g := range gains {
		text += fmt.Sprintf("  - {id: gain%.1s, difference: {of: colour, gain: %s, show: alone}}\n", g, g)
	}
	p := open(t, dir, text)
	for g, gain := range gains {
		s, err := p.File.Scene("gain" + g[:1])
		if err != nil {
			t.Fatal(err)
		}
		plan, err := scene.PlanScene(t.Context(), p, s)
		if err != nil {
			t.Fatal(err)
		}
		got := pictures(t, render(t, p, s.ID).Out, size, "yuv420p")[1]
		compared := 0
		for i := range fields["alder"] {
			// The middle of a field, away from where colours blend.
			at := image.Pt(i%across*field+field/2, i/across*field+field/2)
			under := false
			for _, part := range plan.Clip.Layers {
				under = under || at.In(part.Area.Inset(-2))
			}
			if under {
				continue
			}
			compared++
			a, b := toRGB(fields["alder"][i]), toRGB(fields["birch"][i])
			var d [3]float64
			for c := range d {
				// Codes beyond black and white are none of R'G'B'.
				one, other := min(max(a[c], 0), 1), min(max(b[c], 0), 1)
				d[c] = min(1, gain*math.Abs(one-other))
			}
			want := toCode(d)
			off := at.Y/2*(size.X/2) + at.X/2
			is := code{float64(got[at.Y*size.X+at.X]), float64(got[size.X*size.Y+off]), float64(got[size.X*size.Y*5/4+off])}
			// Half a code of each of R'G'B' is rounded, and enlarged.
			if allowed := 1.5 + gain; math.Abs(is.y-want.y) > allowed || math.Abs(is.u-want.u) > allowed || math.Abs(is.v-want.v) > allowed {
				t.Errorf("gain %s, field %d: the difference is %.0f, want %.1f", g, i, is, want)
			}
		}
		if compared < 50 {
			t.Errorf("gain %s: %d fields were compared", g, compared)
		}
	}
}
