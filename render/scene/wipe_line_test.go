package scene

import (
	"image"
	"math"
	"testing"
	"time"
)

// TestWipePlaces: where lines stand at some times, worked out by hand from the words of
// the manual.
func TestWipePlaces(t *testing.T) {
	const ms = time.Millisecond
	still := wipePath{At: []float64{0.3, 0.6}}
	keyed := wipePath{At: []float64{0.5}, Keys: []wipeKey{{500 * ms, []float64{0.2}}, {1500 * ms, []float64{0.8}}, {2 * time.Second, []float64{0.6}}}}
	swung := wipePath{At: []float64{0.4}, Swing: 2 * time.Second}
	two := wipePath{At: []float64{0.3, 0.6}, Swing: time.Second}
	for _, c := range []struct {
		name string
		path wipePath
		at   time.Duration
		want []float64
	}{
		{"still", still, 0, []float64{0.3, 0.6}},
		{"still", still, time.Hour, []float64{0.3, 0.6}},
		{"before the first key", keyed, 0, []float64{0.2}},
		{"at the first key", keyed, 500 * ms, []float64{0.2}},
		{"a quarter of the way", keyed, 750 * ms, []float64{0.2 + 0.6*0.15625}}, // 3/16 - 2/64
		{"halfway", keyed, time.Second, []float64{0.5}},
		{"at a key", keyed, 1500 * ms, []float64{0.8}},
		{"back", keyed, 1750 * ms, []float64{0.7}},
		{"after the last key", keyed, time.Minute, []float64{0.6}},
		{"a swing begins about its place", swung, 0, []float64{0.4}},
		{"as far as it goes", swung, 500 * ms, []float64{0.7}},
		{"back at its place", swung, time.Second, []float64{0.4}},
		{"as near to the wipeEdge as 0.1", swung, 1500 * ms, []float64{0.1}},
		{"a twelfth of the way", swung, 2000 * ms / 12, []float64{0.55}}, // sin 30°
		{"all over again", swung, 2500 * ms, []float64{0.7}},
		{"two lines swing as one", two, 250 * ms, []float64{0.5, 0.8}},
		{"and as far as the nearer wipeEdge lets them", two, 750 * ms, []float64{0.1, 0.4}},
	} {
		got := c.path.Places(c.at)
		if len(got) != len(c.want) {
			t.Fatalf("%s: %v", c.name, got)
		}
		for i := range got {
			if math.Abs(got[i]-c.want[i]) > 1e-9 {
				t.Errorf("%s, at %v: %v, want %v", c.name, c.at, got, c.want)
			}
		}
	}
	if !still.Still() || keyed.Still() || swung.Still() {
		t.Error("what moves stands still, or the reverse")
	}
	if at := still.Places(0); &at[0] == &still.At[0] {
		t.Error("the places are the path's own")
	}
}

// TestSwingKeepsItsEdge: wherever it swings about, a line keeps its distance from
// the edges, and passes its place in the middle of each half swing.
func TestSwingKeepsItsEdge(t *testing.T) {
	for _, at := range [][]float64{{0.11}, {0.5}, {0.89}, {0.2, 0.3}, {0.15, 0.85}} {
		p := wipePath{At: at, Swing: 3 * time.Second}
		least, most := 1.0, 0.0
		for k := range 360 {
			list := p.Places(time.Duration(k) * p.Swing / 360)
			least, most = min(least, list[0]), max(most, list[len(list)-1])
			for i := 1; i < len(list); i++ {
				if math.Abs(list[i]-list[i-1]-at[i]+at[i-1]) > 1e-9 {
					t.Fatalf("%v: the lines part: %v", at, list)
				}
			}
		}
		if least < wipeEdge-1e-9 || most > 1-wipeEdge+1e-9 || least > wipeEdge+1e-3 && most < 1-wipeEdge-1e-3 {
			t.Errorf("%v swings from %.3f to %.3f", at, least, most)
		}
	}
}

// TestDraw compares the map with its definition, pixel by pixel: the distance of a
// pixel's middle from a line that leans by the angle, in pixels.
func TestDraw(t *testing.T) {
	for _, size := range []image.Point{{64, 36}, {36, 64}, {2, 2}} {
		for angle := -90; angle <= 90; angle += 15 {
			for _, places := range [][]float64{{0.4}, {0}, {1}, {0.2, 0.7}, {0.5, 0.5}} {
				f := wipeField{Size: size, Angle: angle, Reach: 3, Codes: 254}
				got := make([]byte, size.X*size.Y)
				for i := range got {
					got[i] = 77 // all of it is written
				}
				f.Draw(got, places)
				// The line's normal leans by the angle; places run from the corner that
				// lies first along it to the one that lies last.
				rad := float64(angle) * math.Pi / 180
				nx, ny := math.Cos(rad), math.Sin(rad)
				first, last := math.Inf(1), math.Inf(-1)
				for _, c := range [][2]float64{{0, 0}, {float64(size.X), 0}, {0, float64(size.Y)}, {float64(size.X), float64(size.Y)}} {
					d := nx*c[0] + ny*c[1]
					first, last = min(first, d), max(last, d)
				}
				for y := range size.Y {
					for x := range size.X {
						want := 0.0
						for _, p := range places {
							d := nx*(float64(x)+0.5) + ny*(float64(y)+0.5) - first - p*(last-first)
							want += 254 / float64(len(places)) * min(1, max(0, (d+3)/6))
						}
						if d := float64(got[y*size.X+x]) - want; d < -0.51 || d > 0.51 {
							t.Fatalf("%v, %d degrees, %v: the code at %d,%d is %d, want %.2f", size, angle, places, x, y, got[y*size.X+x], want)
						}
					}
				}
			}
		}
	}
}
