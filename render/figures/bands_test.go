package figures

import (
	"math"
	"math/rand/v2"
	"testing"
)

const rate = 48000

func hear(seconds float64, each func(k int) (left, right float64)) []float64 {
	m := NewMeter(rate)
	buf := make([]float32, 0, 2000)
	n := int(seconds * rate)
	for k := range n {
		l, r := each(k)
		if buf = append(buf, float32(l), float32(r)); len(buf) == cap(buf) || k == n-1 {
			m.Hear(buf)
			buf = buf[:0]
		}
	}
	return m.Levels()
}

// TestBands: midband frequencies and edges as IEC 61260-1:2014 has them (base ten:
// octaves at 31.623, 63.096, 125.89 Hz; nominal frequencies of ISO 266).
func TestBands(t *testing.T) {
	bands := Bands()
	for i, exact := range []float64{31.6228, 63.0957, 125.8925, 251.1886, 501.1872, 1000, 1995.2623, 3981.0717, 7943.2823, 15848.9319} {
		b := bands[i]
		if mid := math.Sqrt(b.Low * b.High); math.Abs(mid/exact-1) > 1e-6 {
			t.Errorf("band %g has its middle at %g, want %g", b.Nominal, mid, exact)
		}
		if i > 0 && math.Abs(bands[i-1].High/b.Low-1) > 1e-12 {
			t.Errorf("bands %g and %g do not meet", bands[i-1].Nominal, b.Nominal)
		}
	}
}

// TestSines: a sine is at its own level in its own band, whatever the length of
// the sound, and far down in those two octaves away.
func TestSines(t *testing.T) {
	for i, b := range Bands() {
		hz := math.Sqrt(b.Low * b.High)
		for _, seconds := range []float64{0.5, 3.21} {
			levels := hear(seconds, func(k int) (float64, float64) {
				v := 0.1 * math.Sin(2*math.Pi*hz*float64(k)/rate)
				return v, v
			})
			// Half a second of a sine is cut at both ends, which spreads it a little.
			within, apart := 0.02, -60.0
			if seconds < 1 {
				within, apart = 0.1, -45
			}
			if math.Abs(levels[i]+20) > within {
				t.Errorf("%.1f Hz for %g s: %.3f dB in its band, want -20", hz, seconds, levels[i])
			}
			for j, l := range levels {
				if d := j - i; (d >= 2 || d <= -2) && l > apart {
					t.Errorf("%.1f Hz for %g s: %.1f dB in the band at %g Hz", hz, seconds, l, Bands()[j].Nominal)
				}
			}
		}
	}
	// One side alone has half the power.
	if l := hear(1, func(k int) (float64, float64) { return math.Sin(2 * math.Pi * 1000 * float64(k) / rate), 0 })[5]; math.Abs(l+3.0103) > 0.02 {
		t.Errorf("a sine on the left alone: %.3f dB, want -3.01", l)
	}
	for _, l := range hear(1, func(int) (float64, float64) { return 0, 0 }) {
		if !math.IsInf(l, -1) {
			t.Errorf("silence is at %v dB", l)
		}
	}
}

// TestNoise: white noise of variance 1/3 spreads over the bands by their widths,
// within what Chance says, and two takes differ by no more in 19 of 20 cases.
func TestNoise(t *testing.T) {
	const seconds, takes = 2.0, 12
	r := rand.New(rand.NewPCG(1, 2))
	var all [][]float64
	for range takes {
		all = append(all, hear(seconds, func(int) (float64, float64) { v := 2*r.Float64() - 1; return v, v }))
	}
	beyond, pairs := 0, 0
	for i, b := range Bands() {
		want := 10 * math.Log10(2.0/3*(b.High-b.Low)/(rate/2))
		for k, levels := range all {
			if math.Abs(levels[i]-want) > 2*Chance(b, seconds) {
				t.Errorf("band %g: %.2f dB, want %.2f", b.Nominal, levels[i], want)
			}
			if k > 0 {
				pairs++
				if math.Abs(levels[i]-all[k-1][i]) > Chance(b, seconds) {
					beyond++
				}
			}
		}
	}
	if share := float64(beyond) / float64(pairs); share > 0.15 {
		t.Errorf("%.0f %% of the differences lie beyond chance, want about 5 %%", 100*share)
	}
}
