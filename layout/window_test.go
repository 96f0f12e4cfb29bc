package layout

import (
	"fmt"
	"image"
	"math"
	"math/big"
	"testing"
)

func half() Fraction { return Fraction{1, 2} }

func at(x, y, magnify Fraction) Window { return Window{CenterX: x, CenterY: y, Magnify: magnify} }

func TestShoot(t *testing.T) {
	one := Fraction{1, 1}
	tests := []struct {
		name                  string
		w                     Window
		capture, pane, output image.Point
		want                  string // crop -> scaled, keep, at
	}{
		{"one to one, centred", at(half(), half(), one), image.Pt(1920, 1080), image.Pt(960, 760), image.Pt(1920, 1080),
			"(480,160)-(1440,920) -> (960,760), keep (0,0)-(960,760), at (0,0), 1.00"},
		{"the contract's own example", at(half(), half(), one), image.Pt(1280, 720), image.Pt(640, 720), image.Pt(1280, 720),
			"(320,0)-(960,720) -> (640,720), keep (0,0)-(640,720), at (0,0), 1.00"},
		{"a 2160-line capture shows the same area at half the size", at(half(), half(), one), image.Pt(3840, 2160), image.Pt(960, 1080), image.Pt(1920, 1080),
			"(952,0)-(2888,2160) -> (968,1080), keep (4,0)-(964,1080), at (0,0), 0.50"},
		{"three times", at(half(), half(), Fraction{3, 1}), image.Pt(1920, 1080), image.Pt(960, 1080), image.Pt(1920, 1080),
			"(792,352)-(1128,728) -> (1008,1128), keep (24,24)-(984,1104), at (0,0), 3.00"},
		{"a window at the edge is moved inside", at(Fraction{1, 1}, Fraction{0, 1}, one), image.Pt(1920, 1080), image.Pt(960, 760), image.Pt(1920, 1080),
			"(960,0)-(1920,760) -> (960,760), keep (0,0)-(960,760), at (0,0), 1.00"},
		{"whole, with bars", Window{Whole: true}, image.Pt(1920, 1080), image.Pt(960, 760), image.Pt(1920, 1080),
			"(0,0)-(1920,1080) -> (960,540), keep (0,0)-(960,540), at (0,110), 0.50"},
		{"portrait output, shorter sides match", at(half(), half(), one), image.Pt(1920, 1080), image.Pt(540, 1200), image.Pt(1080, 1920),
			"(690,0)-(1230,1080) -> (540,1080), keep (0,0)-(540,1080), at (0,60), 1.00"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s, err := tt.w.Shoot(tt.capture, tt.pane, tt.output)
			if err != nil {
				t.Fatal(err)
			}
			got := fmt.Sprintf("%v -> %v, keep %v, at %v, %s", s.Crop, s.Scaled, s.Keep, s.At, s.Scale.FloatString(2))
			if got != tt.want {
				t.Errorf("got  %s\nwant %s", got, tt.want)
			}
		})
	}
}

// TestShootProperties checks, for many windows, that everything is even and
// inside, that the pane is filled or the whole capture shown, that the scale is
// exact, and that the window's centre lies in the pane's centre unless the
// capture's edge forbids it.
func TestShootProperties(t *testing.T) {
	captures := []image.Point{{1920, 1080}, {1280, 720}, {3840, 2160}, {2560, 1440}, {1280, 800}, {640, 480}, {1366, 768}, {321, 181}}
	panes := []image.Point{{960, 760}, {640, 720}, {640, 1080}, {540, 1200}, {1280, 1440}, {2, 2}}
	output := image.Pt(1920, 1080)
	fractions := []Fraction{{0, 1}, {1, 3}, {1, 2}, {617, 1000}, {1, 1}}
	magnifications := []Fraction{{1, 1}, {2, 1}, {3, 1}, {3, 2}, {7, 10}, {1, 4}, {13, 7}, {16, 1}}
	for _, c := range captures {
		for _, pane := range panes {
			for _, x := range fractions {
				for _, m := range magnifications {
					w := at(x, half(), m)
					name := fmt.Sprintf("capture %v pane %v %+v", c, pane, w)
					s, err := w.Shoot(c, pane, output)
					if err != nil {
						t.Fatalf("%s: %v", name, err)
					}
					for _, r := range []image.Rectangle{s.Crop, s.Keep} {
						if r.Empty() || r.Min.X%2 != 0 || r.Min.Y%2 != 0 || r.Max.X%2 != 0 || r.Max.Y%2 != 0 {
							t.Fatalf("%s: rectangle %v is empty or odd", name, r)
						}
					}
					if !s.Crop.In(image.Rectangle{Max: Canvas(c).Add(image.Pt(beyond, beyond))}) || !s.Keep.In(image.Rectangle{Max: s.Scaled}) {
						t.Fatalf("%s: crop %v or keep %v reaches outside (scaled %v)", name, s.Crop, s.Keep, s.Scaled)
					}
					if s.At.X%2 != 0 || s.At.Y%2 != 0 || !s.Keep.Sub(s.Keep.Min).Add(s.At).In(image.Rectangle{Max: pane}) {
						t.Fatalf("%s: keep %v at %v leaves the pane", name, s.Keep, s.At)
					}
					whole := s.Crop.Min.X == 0 && s.Crop.Max.X >= c.X
					if s.Keep.Dx() < pane.X && !whole {
						t.Fatalf("%s: neither the pane is filled nor the capture shown whole (%v)", name, s)
					}
					scale, _ := s.Scale.Float64()
					if got := float64(s.Scaled.X) / float64(s.Crop.Dx()); got/scale > 1+2/float64(s.Scaled.X) || scale/got > 1+2/float64(s.Scaled.X) {
						t.Fatalf("%s: scaled by %v instead of %v", name, got, scale)
					}
					// Centre of the pane in capture pixels.
					centre := float64(s.Crop.Min.X) + float64(s.Keep.Min.X+s.Keep.Max.X)/2/scale
					want := float64(c.X) * float64(x.Num) / float64(x.Den)
					reach := float64(pane.X) / 2 / scale
					want = min(max(want, reach), float64(c.X)-reach)
					if 2*reach > float64(c.X) {
						want = float64(c.X) / 2
					}
					if d := centre - want; d > 2/scale+1 || d < -2/scale-1 {
						t.Fatalf("%s: centre %v, want %v (%v)", name, centre, want, s)
					}
					// Where the window begins on whole pairs of output pixels, every place
					// is where the scale puts it.
					full := 2 * math.Floor(float64(c.X)*scale/2+0.5)
					begins := 2 * math.Floor((float64(c.X)*float64(x.Num)/float64(x.Den)*scale-float64(pane.X)/2)/2+0.5)
					begins = min(max(begins, 0), full-float64(pane.X))
					if full <= float64(pane.X) {
						begins = -float64(int(float64(pane.X)-full) / 2 &^ 1)
					}
					for _, v := range []float64{0, float64(pane.X) / 2, float64(pane.X)} {
						if px, _ := s.Place((begins+v)/scale, 0); math.Abs(px-v) > 0.2 {
							t.Fatalf("%s: what belongs to %v is at %v (%v)", name, v, px, s)
						}
					}
				}
			}
		}
	}
}

// TestRaised: what leaves bars stands in the middle of the rows that are seen.
func TestRaised(t *testing.T) {
	for _, c := range []struct {
		w    Window
		pane image.Point
		rows int
		want int
	}{
		{Window{Whole: true}, image.Pt(1080, 1920), 1920, 656}, // 1080x608 of 1920
		{Window{Whole: true}, image.Pt(1080, 1920), 754, 72},
		{Window{Whole: true}, image.Pt(1080, 1920), 300, 0},
		{Window{Whole: true}, image.Pt(1080, 1920), 2400, 656},
		{at(half(), half(), Fraction{1, 1}), image.Pt(960, 1080), 700, 0}, // no bars
	} {
		s, err := c.w.Shoot(image.Pt(1920, 1080), c.pane, image.Pt(1080, 1920))
		if err != nil {
			t.Fatal(err)
		}
		if got := s.Raised(c.rows); got.At.Y != c.want || got.Keep != s.Keep || got.At.X != s.At.X {
			t.Errorf("%v of %v: at %v, want %d", c.rows, c.pane, got.At, c.want)
		}
	}
}

func TestShootRefuses(t *testing.T) {
	good := at(half(), half(), Fraction{1, 1})
	for _, tt := range []struct {
		w             Window
		capture, pane image.Point
	}{
		{good, image.Pt(0, 0), image.Pt(960, 760)},
		{good, image.Pt(1920, 1080), image.Pt(961, 760)},
		{Window{}, image.Pt(1920, 1080), image.Pt(960, 760)},
	} {
		if _, err := tt.w.Shoot(tt.capture, tt.pane, image.Pt(1920, 1080)); err == nil {
			t.Errorf("%+v of %v in %v: no error", tt.w, tt.capture, tt.pane)
		}
	}
}

func FuzzShoot(f *testing.F) {
	f.Add(1920, 1080, 960, 760, int64(1), int64(2), int64(3), int64(2))
	f.Add(3, 2, 2, 2, int64(999999999), int64(1000000000), int64(64), int64(999999937))
	f.Fuzz(func(t *testing.T, cw, ch, pw, ph int, num, den, mnum, mden int64) {
		const most = 16384
		if cw < 0 || ch < 0 || pw < 0 || ph < 0 || cw > most || ch > most || pw > most || ph > most ||
			den < 1 || num < 0 || num > den || den > 1e9 || mnum < 1 || mden < 1 || mnum > 1e9 || mden > 1e9 {
			t.Skip()
		}
		m := Fraction{mnum, mden}
		if m.Rat().Cmp(big.NewRat(64, 1)) > 0 {
			t.Skip()
		}
		s, err := at(Fraction{num, den}, Fraction{num, den}, m).Shoot(image.Pt(cw, ch), image.Pt(pw, ph), image.Pt(1920, 1080))
		if err != nil {
			return
		}
		if !s.Crop.In(image.Rectangle{Max: Canvas(image.Pt(cw, ch)).Add(image.Pt(beyond, beyond))}) || !s.Keep.In(image.Rectangle{Max: s.Scaled}) || s.Crop.Empty() || s.Keep.Empty() {
			t.Fatalf("shot %+v", s)
		}
	})
}
