package demo

import (
	"math/rand/v2"
	"testing"
)

// pad sets columns apart as the scaler wants them.
func columns(w, h int, at func(x, y int) uint8) (plane []uint8, stride int) {
	stride = (h + 7) &^ 7
	plane = make([]uint8, w*stride)
	for x := range w {
		for y := range h {
			plane[x*stride+y] = at(x, y)
		}
	}
	return plane, stride
}

// scaleSlowly is the same filter without lanes.
func scaleSlowly(w, h, dw, dh int, at func(x, y int) uint8) []int {
	apply := func(list []tap, i int, value func(k int) int) int {
		if list == nil {
			return value(i)
		}
		t := &list[i]
		sum := int(t.p1)*value(t.at[1]) + int(t.p2)*value(t.at[2]) - int(t.n0)*value(t.at[0]) - int(t.n3)*value(t.at[3])
		return (sum + 32) >> 6
	}
	across, down := taps(w, dw), taps(h, dh)
	out := make([]int, dw*dh)
	for y := range dh {
		for x := range dw {
			out[y*dw+x] = apply(down, y, func(r int) int {
				return apply(across, x, func(c int) int { return int(at(c, r)) })
			})
		}
	}
	return out
}

func TestScaleEqualsSlowScale(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct{ w, h, dw, dh int }{
		{1408 / 8, 792 / 8, 1920 / 8, 1080 / 8}, {1664 / 8, 936 / 8, 1920 / 8, 1080 / 8}, {234, 132, 320, 180},
		{64, 40, 64, 40}, {61, 37, 61, 37}, {61, 37, 83, 37}, {61, 37, 61, 55}, {2, 2, 9, 11},
	} {
		for _, kind := range []string{"extremes", "flat low", "flat high"} {
			noise := make([]uint8, c.w*c.h)
			for i := range noise {
				switch {
				case kind == "flat low", kind == "extremes" && rnd.IntN(2) == 0:
					noise[i] = lumaMin
				default:
					noise[i] = lumaMax
				}
			}
			at := func(x, y int) uint8 { return noise[y*c.w+x] }
			plane, stride := columns(c.w, c.h, at)
			got := make([]uint8, c.dw*c.dh)
			newScaler(c.w, c.h, stride, c.dw, c.dh).scale(got, plane)
			want := scaleSlowly(c.w, c.h, c.dw, c.dh, at)
			for i, v := range want {
				if v < 0 || v > 255 || int(got[i]) != v {
					t.Fatalf("%v %s: pixel %d,%d is %d, want %d", c, kind, i%c.dw, i/c.dw, got[i], v)
				}
				if kind != "extremes" && v != int(noise[0]) {
					t.Fatalf("%v %s: a flat plane becomes %d", c, kind, v)
				}
			}
		}
	}
}

// The filter's values at whole and half distances follow from its polynomial
// for B = C = 1/3 (Mitchell and Netravali 1988, equation 8): 8/9 and 1/18 at 0
// and 1, (9·… - …)/… at the halves sum to one with their neighbours.
func TestMitchell(t *testing.T) {
	near := func(got, want float64) {
		t.Helper()
		if d := got - want; d > 1e-12 || d < -1e-12 {
			t.Errorf("got %v, want %v", got, want)
		}
	}
	near(mitchell(0), 8.0/9)
	near(mitchell(1), 1.0/18)
	near(mitchell(-1), 1.0/18)
	near(mitchell(2), 0)
	for x := 0.0; x < 1; x += 0.125 {
		near(mitchell(x-2)+mitchell(x-1)+mitchell(x)+mitchell(x+1), 1)
	}
}

// Weights add up to one whole and the lobes stay small enough for the lanes.
func TestTapsStayInLanes(t *testing.T) {
	for m := 2; m < 400; m += 7 {
		for n := m; n < 3*m; n += 5 {
			for i, p := range taps(m, n) {
				if p.p1+p.p2-p.n0-p.n3 != 64 || p.n0+p.n3 > 4 {
					t.Fatalf("%d to %d, line %d: %+v", m, n, i, p)
				}
			}
		}
	}
}
