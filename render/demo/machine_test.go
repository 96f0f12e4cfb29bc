package demo

import (
	"fmt"
	"image"
	"testing"
	"time"

	"fairframe/render/pacing"
)

// refreshes is a frame time in sixtieths of a second, or -1.
func refreshes(f pacing.Frame) int {
	for n := range 10 {
		d := f.Time - captureRate().TimeOf(int64(n))
		if d >= -1 && d <= 1 {
			return n
		}
	}
	return -1
}

// eachSchedule calls f for lengths and seeds of a machine's captures.
func eachSchedule(t *testing.T, key string, f func(t *testing.T, d director, list []pacing.Frame)) {
	for _, length := range []time.Duration{MinLength, 3 * time.Second, DefaultLength, 45 * time.Second} {
		for seed := range uint64(3) {
			t.Run(fmt.Sprintf("%v/%d", length, seed), func(t *testing.T) {
				d, list := schedule(key, length, 1080, seed)
				end := captureRate().TimeOf(d.frames)
				if list[0].Begin != 0 || list[len(list)-1].End() != end {
					t.Errorf("log covers %v to %v, want 0 to %v", list[0].Begin, list[len(list)-1].End(), end)
				}
				if _, err := pacing.NewTrace(list); err != nil {
					t.Error(err)
				}
				for i, fr := range list[1:] {
					if fr.Begin != list[i].End() {
						t.Fatalf("frame %d begins at %v, the one before ends at %v", i+1, fr.Begin, list[i].End())
					}
				}
				// The last frame is cut off where the capture ends.
				f(t, d, list[:len(list)-1])
			})
		}
	}
}

// Double-buffered v-sync shows each frame for a whole number of refreshes:
// 16.7 or 33.3 ms at 60 Hz (common practice).
func TestAlderLocksTo30(t *testing.T) {
	eachSchedule(t, "alder", func(t *testing.T, d director, list []pacing.Frame) {
		var heavy, light [4]int
		run, longest := 0, 0
		for _, f := range list {
			n := refreshes(f)
			if n != 1 && n != 2 || f.Tear != 0 {
				t.Fatalf("frame at %v lasts %v with a tear at %d", f.Begin, f.Time, f.Tear)
			}
			run++
			if n == 1 {
				run = 0
			}
			longest = max(longest, run)
			switch c := d.country(f.Begin); {
			case c.Forest > 0.99 || c.Rock > 0.99:
				heavy[n]++
			case c.Forest < 0.01 && c.Rock < 0.01:
				light[n]++
			}
		}
		if heavy[1] > 0 || heavy[2] == 0 || light[2] > 0 || light[1] == 0 {
			t.Errorf("frames of one and two refreshes: %v where the land is heavy, %v where it is light", heavy[1:3], light[1:3])
		}
		// The forest alone takes a quarter of a leg.
		if want := int(0.24 * d.leg.Seconds() * 30); longest < want {
			t.Errorf("longest lock is %d frames, want %d or more", longest, want)
		}
	})
}

func TestBirchWaversAndHitches(t *testing.T) {
	eachSchedule(t, "birch", func(t *testing.T, d director, list []pacing.Frame) {
		var forest [3]int
		hitches := 0
		for _, f := range list {
			n := refreshes(f)
			switch {
			case f.Tear != 0 || n < 1 || n > 7 || n == 3 || n == 4:
				t.Fatalf("frame at %v lasts %v with a tear at %d", f.Begin, f.Time, f.Tear)
			case n >= 5:
				hitches++
			case d.country(f.Begin).Forest > 0.99:
				forest[n]++
			case n == 2 && d.country(f.Begin).Forest < 0.01 && d.country(f.Begin+f.Time).Forest < 0.01:
				t.Errorf("frame at %v lasts %v over light land", f.Begin, f.Time)
			}
		}
		total := forest[1] + forest[2]
		if forest[1]*5 < total || forest[2]*5 < total {
			t.Errorf("in the forest, %d frames of one refresh and %d of two", forest[1], forest[2])
		}
		if want := len(d.hitches(0)); hitches < want-1 || hitches > want || hitches == 0 {
			t.Errorf("%d hitches, want %d", hitches, want)
		}
	})
}

func TestCedarTears(t *testing.T) {
	eachSchedule(t, "cedar", func(t *testing.T, d director, list []pacing.Frame) {
		tears := map[int64]int{}
		torn := 0
		for i, f := range list {
			if ms := f.Time.Seconds() * 1e3; i > 0 && (ms < 12 || ms > 26) {
				t.Errorf("frame at %v lasts %v", f.Begin, f.Time)
			}
			n := captureRate().FrameAt(f.Begin)
			row := float64(f.Begin-captureRate().TimeOf(n)) * 60 / 1e9 * float64(d.rows)
			if diff := row - float64(f.Tear); diff < -0.01 || diff > 0.01 || f.Tear%2 != 0 {
				t.Errorf("frame at %v is torn at row %d, but its row is %.2f", f.Begin, f.Tear, row)
			}
			if f.Tear > 0 {
				torn++
				tears[n]++
			}
		}
		twice := 0
		for _, n := range tears {
			if n > 1 {
				twice++
			}
		}
		if torn*10 < len(list)*8 || twice == 0 {
			t.Errorf("%d of %d frames torn, %d captured frames with two tears", torn, len(list), twice)
		}
	})
}

// Each machine is best somewhere: Alder and Birch are even over the lake, where
// Cedar is slowest; Cedar has the most frames in the forest.
func TestEachIsBestSomewhere(t *testing.T) {
	rate := func(key string, in func(c country) bool) float64 {
		d, list := schedule(key, DefaultLength, 1080, 0)
		var n, sum float64
		for _, f := range list {
			if in(d.country(f.Begin)) && in(d.country(f.End())) {
				n++
				sum += f.Time.Seconds()
			}
		}
		return n / sum
	}
	forest := func(c country) bool { return c.Forest > 0.99 }
	rock := func(c country) bool { return c.Rock > 0.99 }
	lake := func(c country) bool { return c.Lake > 0.99 }
	if a, b, c := rate("alder", forest), rate("birch", forest), rate("cedar", forest); !(a < 31 && b > a+5 && c > b+5) {
		t.Errorf("forest: %.1f, %.1f, %.1f fps", a, b, c)
	}
	if a, b, c := rate("alder", rock), rate("birch", rock), rate("cedar", rock); !(a < 31 && b > 59 && c < b) {
		t.Errorf("rock: %.1f, %.1f, %.1f fps", a, b, c)
	}
	if a, c := rate("alder", lake), rate("cedar", lake); !(a > 59 && c < 50 && c > 40) {
		t.Errorf("lake: %.1f, %.1f fps", a, c)
	}
}

func TestRasters(t *testing.T) {
	want := map[string]map[image.Point]image.Point{
		"alder": {{X: 1920, Y: 1080}: {X: 1408, Y: 792}, {X: 960, Y: 540}: {X: 704, Y: 396}},
		"birch": {{X: 1920, Y: 1080}: {X: 1920, Y: 1080}, {X: 322, Y: 182}: {X: 322, Y: 182}},
		"cedar": {{X: 1920, Y: 1080}: {X: 1664, Y: 936}, {X: 320, Y: 180}: {X: 278, Y: 156}},
	}
	for _, m := range machines() {
		for size, raster := range want[m.key] {
			if got := m.rasterFor(size); got != raster {
				t.Errorf("%s at %v renders at %v, want %v", m.key, size, got, raster)
			}
		}
	}
}
