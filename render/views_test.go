package render

import (
	"fmt"
	"image"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"fairframe/layout"
	"fairframe/render/comparison"
	"fairframe/render/media"
	"fairframe/render/media/graph"
	"fairframe/render/scene"
)

// The films of these tests say of each pixel whose it is and where. Their first
// half is for what is shown pixel by pixel, the second for what is scaled smoothly.
const (
	filmFrames  = 48
	smoothFrom  = 24
	smoothSlope = 2  // codes for each pixel
	smoothHalf  = 32 // pixels in which the luma rises, and in which it falls again
)

// pattern is the luma of pixel (x, y) of frame n of a capture: place, frame and
// capture are read from it, since no other choice of them gives the same picture.
func pattern(capture, n, x, y int) byte { return byte(40 + (3*x+7*y+11*n+53*capture)%160) }

// sloping is the luma of frame n at a place of a capture, in pixels from its corner:
// evenly rising and falling across in even frames, down in odd ones, in a band of
// each capture's own. slope is the change for each pixel, near how far it is from
// where that changes.
func sloping(capture, n int, x, y float64) (luma, slope, near float64) {
	v := x
	if n%2 == 1 {
		v = y
	}
	v = math.Mod(v, 2*smoothHalf)
	near = min(math.Mod(v, smoothHalf), smoothHalf-math.Mod(v, smoothHalf))
	slope = smoothSlope
	if v > smoothHalf {
		v, slope = 2*smoothHalf-v, -smoothSlope
	}
	return float64(23+72*capture) + smoothSlope*v, slope, near
}

// film is one capture of these tests: its coded size, and its shape in square pixels.
type film struct{ coded, shape image.Point }

// films of equal sizes, even and odd, and of differing ones, among them one with
// pixels that are wider than high.
var films = map[string][]film{
	"like":  {{image.Pt(480, 270), image.Pt(480, 270)}, {image.Pt(480, 270), image.Pt(480, 270)}, {image.Pt(480, 270), image.Pt(480, 270)}},
	"odd":   {{image.Pt(321, 181), image.Pt(321, 181)}, {image.Pt(321, 181), image.Pt(321, 181)}, {image.Pt(321, 181), image.Pt(321, 181)}},
	"mixed": {{image.Pt(480, 270), image.Pt(480, 270)}, {image.Pt(321, 181), image.Pt(321, 181)}, {image.Pt(240, 180), image.Pt(320, 180)}},
}

var filmKeys = []string{"alder", "birch", "cedar"}

func makeFilm(t testing.TB, path string, capture int, f film) {
	t.Helper()
	args := []string{"-c:v", "ffv1", "-level", "3", "-g", "1", "-f", "matroska",
		"-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709", "-color_range", "tv"}
	size := f.coded
	spec := media.EncodeSpec{Out: path, Size: size, PixFmt: "yuv420p", Rate: hz60, Args: args}
	if f.shape != f.coded {
		spec.Filter = fmt.Sprintf("setsar=%d/%d", f.shape.X, f.coded.X)
	}
	err := tools(t).Encode(t.Context(), spec, func(w io.Writer) error {
		buf := make([]byte, size.X*size.Y+2*((size.X+1)/2)*((size.Y+1)/2))
		for i := range buf {
			buf[i] = 128
		}
		for n := range filmFrames {
			for y := range size.Y {
				for x := range size.X {
					v := pattern(capture, n, x, y)
					if n >= smoothFrom {
						across := float64(f.shape.X) / float64(size.X)
						luma, _, _ := sloping(capture, n, (float64(x)+0.5)*across, float64(y)+0.5)
						v = byte(math.Round(luma))
					}
					buf[y*size.X+x] = v
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

// sight is what a pane shows of a capture, by the words of the manual and not by the
// code under test: at magnify 1 the capture's shorter side is scaled to the output's;
// the window lies around its centre, inside the capture while that is large enough,
// and begins on whole pairs of output pixels, as 4:2:0 colour does. What leaves bars
// stands in the middle of the rows that no deck lies over.
type sight struct {
	rows                int
	shape, pane, output image.Point
	whole               bool
	x, y, magnify       float64
}

func (s sight) scale() float64 {
	if s.whole {
		return math.Min(float64(s.pane.X)/float64(s.shape.X), float64(s.pane.Y)/float64(s.shape.Y))
	}
	return s.magnify * float64(min(s.output.X, s.output.Y)) / float64(min(s.shape.X, s.shape.Y))
}

// pairs rounds to whole pairs of pixels.
func pairs(v float64) int { return 2 * int(math.Floor(v/2+0.5)) }

// at returns the place of the capture in the middle of the pane's pixel (x, y).
func (s sight) at(x, y int) (cx, cy float64, black bool) {
	scale := s.scale()
	along := func(capture, pane, seen int, centre float64, v int) (float64, bool) {
		full := pairs(float64(capture) * scale)
		if full <= pane {
			v -= max(0, (seen-full)/2&^1)
			return (float64(v) + 0.5) / scale, v < 0 || v >= full
		}
		begins := min(max(pairs(float64(capture)*centre*scale-float64(pane)/2), 0), full-pane)
		return (float64(begins+v) + 0.5) / scale, false
	}
	cx, offX := along(s.shape.X, s.pane.X, s.pane.X, s.x, x)
	cy, offY := along(s.shape.Y, s.pane.Y, s.rows, s.y, y)
	return cx, cy, offX || offY
}

// pixel is the capture's pixel there; an odd side's last one may stand twice.
func (s sight) pixel(x, y int) (px, py int, black bool) {
	cx, cy, black := s.at(x, y)
	return min(int(cx), s.shape.X-1), min(int(cy), s.shape.Y-1), black
}

// looks are the windows that are tried, for an output whose shorter side is so long.
type look struct {
	name    string
	set     string // of films
	exact   bool   // pixel by pixel
	x, y    float64
	whole   bool
	kernel  string
	magnify func(shorter int) (num, den int)
}

var looks = []look{
	{name: "one to one", set: "like", exact: true, x: 0.5, y: 0.5, kernel: "lanczos", magnify: func(n int) (int, int) { return 270, n }},
	{name: "nearest, a few times", set: "like", exact: true, x: 0.4, y: 0.6, kernel: "nearest", magnify: func(n int) (int, int) { return 270 * max(2, n/360), n }},
	{name: "nearest, more, at an edge", set: "like", exact: true, x: 1, y: 0, kernel: "nearest", magnify: func(n int) (int, int) { return 270 * max(3, (n+135)/270), n }},
	{name: "one to one, to the last odd pixel", set: "odd", exact: true, x: 1, y: 1, kernel: "lanczos", magnify: func(n int) (int, int) { return 181, n }},
	{name: "lanczos", set: "like", x: 0.45, y: 0.5, kernel: "lanczos", magnify: func(int) (int, int) { return 3, 2 }},
	{name: "bicubic, an odd scale", set: "like", x: 0.6, y: 0.35, kernel: "bicubic", magnify: func(int) (int, int) { return 137, 100 }},
	{name: "whole", set: "like", whole: true, kernel: "lanczos"},
	{name: "mixed", set: "mixed", x: 0.5, y: 0.55, kernel: "lanczos", magnify: func(int) (int, int) { return 1, 1 }},
	{name: "mixed, whole", set: "mixed", whole: true, kernel: "bicubic"},
}

// owner tells whose place a pixel of a picture is in frame k; -1: a line is near.
type owner func(k, n int, at image.Point, picture image.Rectangle) int

// parted is the owner of places between lines of an angle at fractions of the way
// across the picture, which the lines' middles are kept from its corners for.
func parted(angle float64, places func(k, n int) []float64) owner {
	return func(k, n int, at image.Point, r image.Rectangle) int {
		sin, cos := math.Sincos(angle * math.Pi / 180)
		w, h := float64(r.Dx()), float64(r.Dy())
		d := cos*(float64(at.X)+0.5) + sin*(float64(at.Y)+0.5) - min(0, sin*h)
		i := 0
		for _, p := range places(k, n) {
			off := d - p*(cos*w+math.Abs(sin)*h)
			if math.Abs(off) < 8 {
				return -1
			}
			if off > 0 {
				i++
			}
		}
		return i
	}
}

func ofCaptures(n int, two, three string) string {
	if n == 2 {
		return two
	}
	return three
}

// viewCase is a view with its options.
type viewCase struct {
	name    string
	options func(n int) string
	owner   owner
	turn    func(k, n int) int
}

func viewCases() []viewCase {
	none := func(int) string { return "" }
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
	swing := func(k, n int) []float64 { // a sine over 0.6 s, as far as 0.1 or 0.9
		by := math.Sin(2 * math.Pi * float64(k) / 36)
		if n == 2 {
			return []float64{0.4 + 0.3*by}
		}
		return []float64{0.3 + 0.2*by, 0.6 + 0.2*by}
	}
	wipe := func(options string) func(n int) string {
		return func(n int) string {
			return ", wipe: {" + options + "at: " + ofCaptures(n, "0.4", "[0.3, 0.6]") + "}"
		}
	}
	return []viewCase{
		{"columns", none, nil, nil},
		{"rows", none, nil, nil},
		{"single", func(int) string { return ", single: birch" }, nil, nil},
		{"inset", none, nil, nil},
		{"inset", func(int) string { return ", inset: {whole: birch, place: over}" }, nil, nil},
		{"wipe", wipe(""), parted(0, stand), nil},
		{"wipe", wipe("angle: 90, "), parted(90, stand), nil},
		{"wipe", wipe("angle: -30, "), parted(-30, stand), nil},
		{"wipe", wipe("angle: 20, swing: 600ms, "), parted(20, swing), nil},
		{"wipe", func(n int) string {
			return ", wipe: {keys: [{t: 0s, at: " + ofCaptures(n, "0.2", "[0.2, 0.5]") + "}, {t: 100ms, at: " + ofCaptures(n, "0.8", "[0.5, 0.8]") + "}]}"
		}, parted(0, glide), nil},
		{"alternate", func(int) string { return ", alternate: {every: 100ms}" }, nil, func(k, n int) int { return k / 6 % n }},
		{"alternate", func(int) string { return ", alternate: {at: [f2, f4, f5]}" }, nil, func(k, n int) int { return []int{0, 0, 1, 1, 2, 3, 3}[k] % n }},
		{"difference", func(int) string { return ", difference: {gain: 3/2}" }, nil, nil},
		{"difference", func(int) string { return ", difference: {show: alone, gain: 1}" }, nil, nil},
	}
}

// TestEveryViewShowsItsPlaces renders views in the outputs' sizes, with two and three captures,
// and through different windows, and compares every pixel that shows a capture with
// what the capture has there: which capture, which frame, which place. One to one
// and by whole factors the pixels are equal; what is scaled smoothly lies within
// 0.25 output pixel of its place.
//
// Each run takes each view through a few; FAIRFRAME_VIEWS=1 takes all views through all
// sizes.
func TestEveryViewShowsItsPlaces(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	for set, list := range films {
		for i, f := range list {
			makeFilm(t, filepath.Join(dir, set+"-"+filmKeys[i]+".mkv"), i, f)
		}
	}
	for i, key := range filmKeys {
		writeLog(t, filepath.Join(dir, key+".csv"), cadence(filmFrames, int64(i+1)))
	}
	places := []string{"below", "over", "none"}
	views, known := viewCases(), &scene.Cache{}
	if os.Getenv("FAIRFRAME_VIEWS") != "" {
		sizes := []image.Point{{1280, 720}, {1920, 1080}, {3840, 2160}, {1080, 1920}, {1080, 1080}}
		for v, view := range views {
			for z, size := range sizes {
				for n := 2; n <= 3; n++ {
					i := v + z + 5*n
					showsItsPlaces(t, dir, known, view, size, n, places[i%3], looks[i%4])
					showsItsPlaces(t, dir, known, view, size, n, places[(i+1)%3], looks[4+i%5])
				}
			}
		}
		return
	}
	// Pixel by pixel in small outputs of the three shapes, smoothly in true ones.
	small := []image.Point{{480, 270}, {270, 480}, {270, 270}}
	sizes := []image.Point{{1280, 720}, {1080, 1080}, {1080, 1920}, {1920, 1080}}
	for v, view := range views {
		showsItsPlaces(t, dir, known, view, small[v%3], 2+(v+v/3)%2, places[v%3], looks[v%4])
		if v%4 == 0 {
			showsItsPlaces(t, dir, known, view, sizes[v/4%4], 2+v/4%2, places[(v+1)%3], looks[4+v%5])
		}
	}
}

// showsItsPlaces renders one clip and compares it.
func showsItsPlaces(t *testing.T, dir string, known *scene.Cache, view viewCase, size image.Point, n int, place string, look look) {
	t.Run(fmt.Sprintf("%s%s %d in %v %s, %s", view.name, view.options(n), n, size, place, look.name), func(t *testing.T) {
		first, frames := []int{2, 5, 9}, 3
		if !look.exact {
			first, frames = []int{smoothFrom, smoothFrom + 4, smoothFrom + 8}, 2
		}
		if view.turn != nil {
			frames = 7
		}
		magnify, window := 0.0, "whole"
		if !look.whole {
			num, den := look.magnify(min(size.X, size.Y))
			magnify = float64(num) / float64(den)
			window = fmt.Sprintf("{center: [%g, %g], magnify: %d/%d, kernel: %s}", look.x, look.y, num, den, look.kernel)
		}
		starts := fmt.Sprintf("alder: f%d, birch: f%d, cedar: f%d", first[0], first[1], first[2])
		if n == 2 {
			starts = fmt.Sprintf("alder: f%d, birch: f%d", first[0], first[1])
		}
		text := fmt.Sprintf(`
output: {folder: out, size: %dx%d, delivery: lossless}
captures:
  alder: {name: Alder, video: %[3]s-alder.mkv, pacing: alder.csv}
  birch: {name: Birch, video: %[3]s-birch.mkv, pacing: birch.csv}
  cedar: {name: Cedar, video: %[3]s-cedar.mkv, pacing: cedar.csv}
scenes:
  - {id: one, captures: [%[4]s], start: {%[5]s}, length: f%[6]d, audio: none, window: %[7]s, deck: {place: %[8]s}, view: %[9]s%[10]s}
`, size.X, size.Y, look.set, strings.Join(filmKeys[:n], ", "), starts, frames, window, place, view.name, view.options(n))
		p := reopen(t, dir, text, known)
		s := &p.File.Scenes[0]
		plan, err := scene.PlanScene(t.Context(), p, s)
		if err != nil {
			t.Fatal(err)
		}
		clip := pictures(t, render(t, p, s.ID).Out, size, "yuv420p")
		if len(clip) != frames {
			t.Fatalf("%d frames", len(clip))
		}
		judge := &judge{t: t, exact: look.exact}
		shown := visible(plan.Screen.Panes, plan.Clip, size)
		for k, got := range clip {
			for i, pane := range plan.Screen.Panes {
				who := pane.Capture
				if view.turn != nil {
					who = view.turn(k, n)
				}
				whole := look.whole || pane.Role == layout.AsWhole
				if whole && look.exact {
					continue
				}
				sightOf := func(capture int) sight {
					rows := pane.Area.Dy()
					if plan.Screen.Place == layout.Over {
						rows = min(rows, plan.Screen.Strip.Min.Y-pane.Area.Min.Y)
					}
					return sight{rows, films[look.set][capture].shape, pane.Area.Size(), size, whole, look.x, look.y, magnify}
				}
				sights := []sight{sightOf(0), sightOf(1), sightOf(min(2, n-1))}
				judge.begin(fmt.Sprintf("frame %d, pane %d at %v", k, i+1, pane.Area))
				for y := pane.Area.Min.Y; y < pane.Area.Max.Y; y++ {
					for x := pane.Area.Min.X; x < pane.Area.Max.X; x++ {
						if shown[y*size.X+x] != int8(i) {
							continue
						}
						at := image.Pt(x, y).Sub(pane.Area.Min)
						if view.owner != nil {
							if who = view.owner(k, n, at, pane.Area); who < 0 {
								continue
							}
						}
						luma := got[y*size.X+x]
						if pane.Role == layout.AsMinus {
							judge.minus(luma, at, sights[who], sights[pane.Other], who, pane.Other, first[who]+k, first[pane.Other]+k, s.Difference.Gain)
							continue
						}
						judge.pixel(luma, at, sights[who], who, first[who]+k)
					}
				}
				judge.end()
			}
		}
		if judge.wrong > 0 {
			t.Errorf("%d pixels or places are wrong", judge.wrong)
		}
		for i := range n {
			shown := view.name != comparison.ViewSingle || i == 1
			if view.name == comparison.ViewDifference && s.Difference.Alone && n == 2 {
				shown = i == 0
			}
			if view.turn != nil {
				shown = false
				for k := range frames {
					shown = shown || view.turn(k, n) == i
				}
			}
			if view.owner != nil && place == "over" && judge.seen[i] == 0 {
				continue // its part is under the deck
			}
			if shown != (judge.seen[i] > 0) && !(look.exact && view.name == comparison.ViewInset) {
				t.Errorf("capture %d was seen in %d pixels", i+1, judge.seen[i])
			}
		}
		if least := size.X * size.Y / 12; judge.all < least {
			t.Errorf("only %d pixels were compared", judge.all)
		}
		t.Logf("%d pixels compared, the worst of %d places is off by %.3f px", judge.all, judge.places, judge.worst)
	})
}

// visible says for each pixel of the output which pane it belongs to, -1 for what
// is drawn over them.
func visible(panes []layout.Pane, clip *graph.Clip, size image.Point) []int8 {
	list := make([]int8, size.X*size.Y)
	fill := func(r image.Rectangle, v int8) {
		for y := r.Min.Y; y < r.Max.Y; y++ {
			for x := r.Min.X; x < r.Max.X; x++ {
				list[y*size.X+x] = v
			}
		}
	}
	fill(image.Rectangle{Max: size}, -1)
	for i, p := range panes {
		// Of panes that share one place, one stands for all.
		if i == 0 || p.Area != panes[0].Area {
			fill(p.Area, int8(i))
		}
	}
	for _, r := range clip.Dividers {
		fill(r, -1)
	}
	for _, p := range clip.Layers {
		fill(p.Area, -1)
	}
	return list
}

// judge compares pixels with what they should be.
type judge struct {
	t      *testing.T
	exact  bool
	what   string
	wrong  int
	all    int
	places int
	worst  float64
	seen   [3]int
	blocks map[image.Point]*block
}

// block measures how far off a part of a pane is: the mean of where its pixels'
// luma says they are, apart where it rises and where it falls, so that a luma that
// is too high everywhere makes no difference.
type block struct {
	sum   [2]float64
	count [2]int
}

// blockSide is how wide a block is: a whole period of the luma, for less of it says
// little of where it is, in codes of 8 bits.
func blockSide(scale float64) int { return max(96, int(2*smoothHalf*scale+0.5)) }

func (j *judge) begin(what string) { j.what, j.blocks = what, map[image.Point]*block{} }

func (j *judge) fail(format string, args ...any) {
	if j.wrong++; j.wrong < 5 {
		j.t.Errorf("%s: %s", j.what, fmt.Sprintf(format, args...))
	}
}

func (j *judge) pixel(luma byte, at image.Point, s sight, who, n int) {
	x, y, black := s.at(at.X, at.Y)
	if j.exact || black {
		j.all++
		want := byte(16)
		if !black {
			px, py, _ := s.pixel(at.X, at.Y)
			want = pattern(who, n, px, py)
		}
		j.seen[who]++
		if luma != want {
			j.fail("luma at %v is %d, want %d of capture %d", at, luma, want, who)
		}
		return
	}
	scale := s.scale()
	reach := 4.5 / min(1, scale) // of the kernel
	want, slope, near := sloping(who, n, x, y)
	if v := []float64{x, float64(s.shape.X) - x, y, float64(s.shape.Y) - y}; min(near, v[0], v[1], v[2], v[3]) < reach {
		return
	}
	j.all++
	j.seen[who]++
	off := float64(luma) - want
	if math.Abs(off) > 3+smoothSlope/scale {
		j.fail("luma at %v is %d, want %.1f of capture %d", at, luma, want, who)
	}
	side := blockSide(scale)
	corner := at.Div(side).Mul(side)
	b := j.blocks[corner]
	if b == nil {
		b = &block{}
		j.blocks[corner] = b
	}
	way := 0
	if slope < 0 {
		way = 1
	}
	b.sum[way] += off / slope * scale
	b.count[way]++
}

// minus compares a pixel of a difference.
func (j *judge) minus(luma byte, at image.Point, a, b sight, one, other, n, m int, gain comparison.Ratio) {
	x, y, black := a.at(at.X, at.Y)
	u, v, black2 := b.at(at.X, at.Y)
	if black != black2 {
		return
	}
	want, allowed := 16.0, 0.0
	switch {
	case black:
	case j.exact:
		ax, ay, _ := a.pixel(at.X, at.Y)
		bx, by, _ := b.pixel(at.X, at.Y)
		d := int(pattern(one, n, ax, ay)) - int(pattern(other, m, bx, by))
		want = float64(min(235, 16+int64(max(d, -d))*gain.Num/gain.Den))
		j.seen[one]++
	default:
		p, _, near := sloping(one, n, x, y)
		q, _, near2 := sloping(other, m, u, v)
		if reach := 4.5 / min(1, a.scale(), b.scale()); min(near, near2, x, float64(a.shape.X)-x, y, float64(a.shape.Y)-y, u, float64(b.shape.X)-u, v, float64(b.shape.Y)-v) < reach {
			return
		}
		want = math.Min(235, 16+math.Abs(p-q)*gain.Float())
		allowed = (2 + 0.25*smoothSlope*(1/a.scale()+1/b.scale())) * gain.Float()
		j.seen[one]++
	}
	j.all++
	if math.Abs(float64(luma)-want) > allowed {
		j.fail("the difference at %v is %d, want %.1f of captures %d and %d", at, luma, want, one, other)
	}
}

func (j *judge) end() {
	for at, b := range j.blocks {
		if min(b.count[0], b.count[1]) < 200 {
			continue
		}
		off := (b.sum[0]/float64(b.count[0]) + b.sum[1]/float64(b.count[1])) / 2
		j.places++
		j.worst = max(j.worst, math.Abs(off))
		if math.Abs(off) > 0.25 {
			j.fail("what is shown from %v on is %.2f output pixels off", at, off)
		}
	}
	j.blocks = nil
}

// TestOneAndFourShowTheirFrames: a capture alone fills the picture, and each of four has
// its own quarter, with its own frames.
func TestOneAndFourShowTheirFrames(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	size := image.Pt(640, 360)
	var captures strings.Builder
	keys := append(filmKeys[:3:3], "delta")
	for i, key := range keys {
		barCapture(t, filepath.Join(dir, key+".mkv"), image.Pt(320, 180), hz60, 30)
		writeLog(t, filepath.Join(dir, key+".csv"), cadence(30, int64(i+1)))
		fmt.Fprintf(&captures, "  %s: {video: %[1]s.mkv, pacing: %[1]s.csv}\n", key)
	}
	p := open(t, dir, `
output: {folder: out, size: 640x360, delivery: lossless}
captures:
`+captures.String()+`
defaults: {length: f3, audio: none, start: f2, window: {magnify: 1/2}}
scenes:
  - {id: four, captures: [alder, birch, cedar, delta], start: {alder: f2, birch: f5, cedar: f9, delta: f14}}
  - {id: bare, captures: [alder, birch, cedar, delta], start: {alder: f2, birch: f5, cedar: f9, delta: f14}, deck: {place: none}}
  - {id: one, captures: [delta], deck: {place: none}}
`)
	for id, first := range map[string][]int{"four": {2, 5, 9, 14}, "bare": {2, 5, 9, 14}, "one": {2}} {
		s, err := p.File.Scene(id)
		if err != nil {
			t.Fatal(err)
		}
		plan, err := scene.PlanScene(t.Context(), p, s)
		if err != nil || len(plan.Screen.Panes) != len(first) {
			t.Fatalf("%s: %d panes, %v", id, len(plan.Screen.Panes), err)
		}
		for k, picture := range pictures(t, render(t, p, id).Out, size, "yuv420p") {
			for i, pane := range plan.Screen.Panes {
				if got := bar(t, picture, size, pane.Area, 320); got != first[i]+k {
					t.Errorf("%s: pane %d of frame %d shows frame %d, want %d", id, i+1, k, got, first[i]+k)
				}
			}
		}
	}
}
