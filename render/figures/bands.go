package figures

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

// The power of sound is added up in octave bands, so that what two recordings sound
// like can be compared in numbers.
//
// The bands are those of IEC 61260-1:2014 with base-ten ratios: the midband
// frequencies are 1000 Hz times G^x with G = 10^(3/10) and whole x, the edges lie
// half a band to either side. They are cut out of power spectra and not by the
// standard's filters, whose skirts let some of the neighbouring bands pass.

// Band is one octave.
type Band struct {
	Nominal   float64 // the standard's name for it, in Hz
	Low, High float64 // edges, in Hz
}

// Bands returns the ten octaves from 31.5 Hz to 16 kHz.
func Bands() []Band {
	nominal := []float64{31.5, 63, 125, 250, 500, 1000, 2000, 4000, 8000, 16000}
	list := make([]Band, len(nominal))
	for i, n := range nominal {
		x := float64(i - 5)
		list[i] = Band{Nominal: n, Low: edge(x - 0.5), High: edge(x + 0.5)}
	}
	return list
}

func edge(x float64) float64 { return 1000 * math.Pow(10, 0.3*x) }

// segment is how many instants are transformed at a time, hop how far one
// transform lies from the next: a quarter, at which the squares of Hann windows
// add up to the same everywhere, so that every sample counts alike.
const (
	segment = 1 << 15
	hop     = segment / 4
)

// Meter listens to stereo sound in constant memory. The zero value is of no use.
type Meter struct {
	rate   float64
	fft    *fourier.FFT
	window []float64
	recent [2][]float64 // the last segment of left and right
	fresh  int          // instants since the last transform
	heard  int64
	power  []float64 // sums over bands, of both sides
	buf    []float64
	bins   []complex128
	bands  []Band
}

// NewMeter returns a Meter for so many samples a second.
func NewMeter(rate int) *Meter {
	m := &Meter{rate: float64(rate), fft: fourier.NewFFT(segment), window: make([]float64, segment),
		buf: make([]float64, segment), bands: Bands()}
	m.power = make([]float64, len(m.bands))
	for i := range m.window {
		m.window[i] = 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/segment)
	}
	for side := range m.recent {
		// Silence before the first sample lets it be in as many windows as any other.
		m.recent[side] = make([]float64, segment)
	}
	return m
}

// Hear takes whole instants of interleaved left and right, full scale ±1.
func (m *Meter) Hear(samples []float32) {
	for i := 0; i+1 < len(samples); i += 2 {
		m.add(float64(samples[i]), float64(samples[i+1]))
		m.heard++
	}
}

func (m *Meter) add(left, right float64) {
	at := segment - hop + m.fresh
	m.recent[0][at], m.recent[1][at] = left, right
	if m.fresh++; m.fresh == hop {
		m.transform()
	}
}

// transform adds the spectrum of the last segment, and moves on by a hop.
func (m *Meter) transform() {
	for _, side := range m.recent {
		for i, v := range side {
			m.buf[i] = v * m.window[i]
		}
		m.bins = m.fft.Coefficients(m.bins, m.buf)
		width := m.rate / segment
		for b, band := range m.bands {
			first, last := int(band.Low/width), min(int(math.Ceil(band.High/width)), len(m.bins)-1)
			for k := max(1, first); k <= last; k++ {
				// A bin counts by its part that lies in the band.
				low, high := (float64(k)-0.5)*width, (float64(k)+0.5)*width
				part := (min(high, band.High) - max(low, band.Low)) / width
				if part <= 0 {
					continue
				}
				re, im := real(m.bins[k]), imag(m.bins[k])
				m.power[b] += part * (re*re + im*im)
			}
		}
		copy(side, side[hop:])
		clear(side[segment-hop:])
	}
	m.fresh = 0
}

// Levels ends the listening and returns the level of each of Bands, in dB: 0 is
// the power of a sine at full scale on both sides (AES17's dBFS, from memory), -Inf
// is silence. The power is the mean over all that was heard and over both sides.
func (m *Meter) Levels() []float64 {
	// Silence after the last sample, as before the first.
	for range 4 {
		m.transform()
	}
	levels := make([]float64, len(m.power))
	for b, p := range m.power {
		// Parseval: one side of the spectrum holds half the power; the windows'
		// squares add up to 3/8 of a segment for every hop.
		const overlap = 3.0 / 8 * segment / hop
		mean := 2 * p / segment / overlap / float64(max(1, m.heard)) / 2
		levels[b] = 10 * math.Log10(2*mean)
	}
	return levels
}

// Heard returns how many instants were heard.
func (m *Meter) Heard() int64 { return m.heard }

// Chance returns by how many dB the levels of a band of two recordings of so many
// seconds differ by chance alone, in 19 of 20 cases, when both are takes of one
// steady noise: the relative standard deviation of the mean power of noise of
// bandwidth B over time T is 1/√(BT) (Bendat and Piersol, Random Data, from
// memory), two takes differ by √2 of that, and 95 % lie within 1.96 of it.
func Chance(b Band, seconds float64) float64 {
	if seconds <= 0 {
		return math.Inf(1)
	}
	return 10 / math.Ln10 * 1.96 * math.Sqrt(2/((b.High-b.Low)*seconds))
}
