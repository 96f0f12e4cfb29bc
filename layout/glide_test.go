package layout

import (
	"image"
	"math"
	"math/big"
	"testing"
)

// FuzzGlide moves a window between any two places at any two scales: it stands at
// its stops at their frames, moves without a jump, and the middle of the pane never
// leaves the box between the stops.
func FuzzGlide(f *testing.F) {
	f.Add(1920, 1080, 960, 760, int64(1), int64(2), int64(1), int64(9), int64(10), int64(3), 0.0, 60.0, int64(30))
	f.Add(3, 2, 2, 2, int64(0), int64(1), int64(64), int64(1), int64(1), int64(1), -1e6, 1e6, int64(1<<40))
	f.Add(7680, 4320, 2, 2, int64(1), int64(3), int64(1), int64(1), int64(3), int64(1), 0.5, 0.5000001, int64(0))
	f.Fuzz(func(t *testing.T, cw, ch, pw, ph int, n0, d0, m0, n1, d1, m1 int64, f0, f1 float64, k int64) {
		const most = 16384
		ok := func(n, d, m int64) bool {
			return d >= 1 && n >= 0 && n <= d && d <= 1e9 && m >= 1 && m <= 64
		}
		if cw < 0 || ch < 0 || pw < 0 || ph < 0 || cw > most || ch > most || pw > most || ph > most || !ok(n0, d0, m0) || !ok(n1, d1, m1) ||
			math.Abs(f0) > 1e9 || math.Abs(f1) > 1e9 || k > 1<<50 || k < -1<<50 {
			t.Skip()
		}
		var stops []Stop
		for i, s := range []struct {
			at, scale Fraction
			frame     float64
		}{{Fraction{n0, d0}, Fraction{m0, 1}, f0}, {Fraction{n1, d1}, Fraction{m1, 1}, f1}} {
			shot, err := at(s.at, s.at, s.scale).Shoot(image.Pt(cw, ch), image.Pt(pw, ph), image.Pt(1920, 1080))
			if err != nil {
				return
			}
			stops = append(stops, Stop{s.frame, shot})
			if x, y := shot.Scales(); x.Cmp(new(big.Rat)) <= 0 || y.Cmp(new(big.Rat)) <= 0 {
				t.Fatalf("stop %d: scales %v, %v", i, x, y)
			}
		}
		g, err := NewGlide(stops)
		if err != nil {
			if f1 > f0 {
				t.Fatal(err)
			}
			return
		}
		x0, y0, s0 := g.At(f0)
		x1, y1, s1 := g.At(f1)
		x, y, scale := g.At(float64(k))
		slack := 1e-6 * (1 + float64(cw+ch))
		between := func(v, a, b float64) bool { return v >= min(a, b)-slack && v <= max(a, b)+slack }
		if math.IsNaN(x+y+scale) || !between(x, x0, x1) || !between(y, y0, y1) || scale < min(s0, s1)*(1-1e-6) || scale > max(s0, s1)*(1+1e-6) {
			t.Errorf("at %d: %v, %v times %v; stops %v, %v times %v and %v, %v times %v", k, x, y, scale, x0, y0, s0, x1, y1, s1)
		}
		for i, want := range []float64{s0, s1} {
			if got := g.Stops()[i]; math.Abs(got-want) > 1e-6*want {
				t.Errorf("scale %v at stop %d, %v in the list", want, i, got)
			}
		}
		// What ffmpeg is told of it says the same.
		for _, down := range []bool{false, true} {
			seg := g.Along(down, 1, 0, 0)[0]
			from, to := x0, x1
			if down {
				from, to = y0, y1
			}
			e0, e1 := 0.0, 1.0
			if seg.Ratio != 1 {
				e0, e1 = 1, seg.Ratio
			}
			if a, b := seg.From+seg.By*e0, seg.From+seg.By*e1; math.Abs(a-from) > 1e-3*(1+math.Abs(from)) || math.Abs(b-to) > 1e-3*(1+math.Abs(to)) {
				t.Errorf("segment from %v to %v, the glide goes from %v to %v", a, b, from, to)
			}
		}
	})
}
