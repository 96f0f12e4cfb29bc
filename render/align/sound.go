package align

import (
	"encoding/binary"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Sound is kept at 8 kHz: what games, codecs and rooms leave alike lies below
// 4 kHz, clocks that drift blur what lies above it, and the parabola still
// places a peak to some hundredths of a millisecond.
const (
	soundRate = 8000
	hop       = 80  // samples a row of features
	frameSize = 256 // samples a spectrum, 32 ms
)

// bandEdges separate the bands whose energies are the features, in Hz.
var bandEdges = [...]float64{100, 250, 500, 900, 1500, 2400, 3600}

const bands = len(bandEdges) - 1

// sound is a track's sound: its samples, and for each 10 ms how much the energy
// in each band stands out of the last moments, in powers of e.
type sound struct {
	samples  *spool // int16
	features *series

	fft      *fourier.FFT
	window   []float64
	pending  []float64 // samples not yet a whole frame
	in       []float64
	spectrum []complex128
	slow     [bands]float64
	begun    bool
	row      []float32
	raw      [2]byte
}

func newSound() (*sound, error) {
	samples, err := newSpool(2)
	if err != nil {
		return nil, err
	}
	features, err := newSeries(soundRate/hop, bands)
	if err != nil {
		samples.close()
		return nil, err
	}
	s := &sound{samples: samples, features: features, fft: fourier.NewFFT(frameSize), window: make([]float64, frameSize),
		in: make([]float64, frameSize), row: make([]float32, bands)}
	for i := range s.window {
		s.window[i] = 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/frameSize)
	}
	return s, nil
}

func (s *sound) add(x []float32) error {
	for _, v := range x {
		v = min(1, max(-1, v))
		binary.LittleEndian.PutUint16(s.raw[:], uint16(int16(math.Round(float64(v)*32767))))
		if err := s.samples.add(s.raw[:]); err != nil {
			return err
		}
		s.pending = append(s.pending, float64(v))
	}
	done := 0
	for ; len(s.pending)-done >= frameSize; done += hop {
		if err := s.feature(s.pending[done : done+frameSize]); err != nil {
			return err
		}
	}
	s.pending = append(s.pending[:0], s.pending[done:]...)
	return nil
}

// quietest is an energy far below anything heard, which keeps the logarithm
// from telling of rounding in silence.
const quietest = 1e-6

func (s *sound) feature(x []float64) error {
	for i, v := range x {
		s.in[i] = v * s.window[i]
	}
	s.spectrum = s.fft.Coefficients(s.spectrum, s.in)
	const settle = 0.3 * soundRate / hop // rows
	for b := range bands {
		var e float64
		for k := int(math.Ceil(bandEdges[b] * frameSize / soundRate)); float64(k) < bandEdges[b+1]*frameSize/soundRate; k++ {
			e += real(s.spectrum[k])*real(s.spectrum[k]) + imag(s.spectrum[k])*imag(s.spectrum[k])
		}
		l := math.Log(e + quietest)
		if !s.begun {
			s.slow[b] = l
		}
		s.row[b] = float32(l - s.slow[b])
		s.slow[b] += (l - s.slow[b]) / settle
	}
	s.begun = true
	return s.features.push(s.row)
}

func (s *sound) seal() error {
	if err := s.samples.seal(); err != nil {
		return err
	}
	return s.features.seal()
}

func (s *sound) close() {
	s.samples.close()
	s.features.close()
}

// read returns n samples from sample number from on, zero outside the track.
func (s *sound) read(from int64, n int) (x []float64, valid [2]int, err error) {
	raw, valid, err := s.samples.read(from, n)
	if err != nil {
		return nil, valid, err
	}
	x = make([]float64, n)
	for i := range x {
		x[i] = float64(int16(binary.LittleEndian.Uint16(raw[2*i:]))) / 32767
	}
	return x, valid, nil
}

// silent is the root mean square below which there is nothing to hear.
const silent = 1e-4

func loud(x []float64) bool {
	var sum float64
	for _, v := range x {
		sum += v * v
	}
	return sum > silent*silent*float64(len(x))
}

// band is the weight of PHAT's bins: none below 80 Hz, one up to 1.5 kHz, and
// from there a cosine down to nothing at 3.8 kHz. It makes the peak smooth, which
// the parabola needs; bare PHAT's is one sample wide.
func band(size int) []float64 {
	const lo, flat, hi = 80, 1500, 3800
	w := make([]float64, size/2+1)
	for i := range w {
		switch f := float64(i) * soundRate / float64(size); {
		case f < lo || f >= hi:
		case f <= flat:
			w[i] = 1
		default:
			w[i] = 0.5 + 0.5*math.Cos(math.Pi*(f-flat)/(hi-flat))
		}
	}
	return w
}

// heard is what GCC-PHAT says about one proposed offset.
type heard struct {
	shift float64 // seconds to add to the proposal
	peak  float64 // 1: the same sound and nothing else
	next  float64 // the highest peak beside it within reach, as tones have them
	noise float64 // root mean square of the rest
}

// ear compares a block of one track with stretches of another.
type ear struct {
	n       int // samples a block
	fft     *fourier.FFT
	weight  []float64 // of the bins
	sum     float64   // of the weights
	fade    []float64
	padded  []float64
	block   []complex128 // its spectrum
	other   []complex128
	answers []float64
}

// newEar makes one for blocks of n samples. The zeros that pad them keep the ends
// apart for all lags that are looked at.
func newEar(n int) *ear {
	size := fastSize(n + 2*skewReach*soundRate)
	e := &ear{n: n, fft: fourier.NewFFT(size), weight: band(size), padded: make([]float64, size), fade: make([]float64, n),
		block: make([]complex128, size/2+1), other: make([]complex128, size/2+1), answers: make([]float64, size)}
	for _, w := range e.weight {
		e.sum += 2 * w
	}
	edge := n / 16 // of the fades at the ends, which would be clicks
	for i := range e.fade {
		e.fade[i] = 1
		if d := min(i, n-1-i); d < edge {
			e.fade[i] = 0.5 - 0.5*math.Cos(math.Pi*(float64(d)+0.5)/float64(edge))
		}
	}
	return e
}

func (e *ear) spectrum(dst []complex128, x []float64) {
	clear(e.padded)
	for i, v := range x {
		e.padded[i] = v * e.fade[i]
	}
	e.fft.Coefficients(dst, e.padded)
}

// attend sets the block.
func (e *ear) attend(block []float64) { e.spectrum(e.block, block) }

// listen compares the block with a stretch at a proposed offset and looks for the
// peak of GCC-PHAT within ±reach seconds.
func (e *ear) listen(x []float64, reach float64) heard {
	e.spectrum(e.other, x)
	for i, w := range e.weight {
		if w > 0 {
			e.other[i] = complex(w, 0) * phase(i, e.other[i]*cmplx.Conj(e.block[i]))
		} else {
			e.other[i] = 0
		}
	}
	r := e.fft.Sequence(e.answers, e.other)
	at := func(k int) float64 { return r[(k+len(r))%len(r)] / e.sum }
	far := int(reach * soundRate)
	best := 0
	for k := -far; k <= far; k++ {
		if at(k) > at(best) {
			best = k
		}
	}
	shift, height := vertex(at(best-1), at(best), at(best+1))
	var rest float64
	count := 0
	for k := -len(r) / 2; k < len(r)/2; k++ {
		if d := k - best; d < -40 || d > 40 {
			rest += at(k) * at(k)
			count++
		}
	}
	h := heard{shift: (float64(best) + shift) / soundRate, peak: height, noise: 1}
	const lobe = soundRate / 1000 // half the width of a peak, about
	for k := -far; k <= far; k++ {
		if d := k - best; d < -lobe || d > lobe {
			h.next = max(h.next, at(k))
		}
	}
	if count > 0 {
		h.noise = math.Sqrt(rest / float64(count))
	}
	return h
}

// evidence turns a peak into a number from 0 to 1. The greatest of thousands
// of values of noise stands about four times its root mean square high. A peak
// with others as high beside it tells of a tone, not of an instant.
func (h heard) evidence() float64 {
	if h.peak <= 0 {
		return 0
	}
	alone := min(1, (1-h.next/h.peak)/0.4)
	return alone * min(1, max(0, (h.peak/max(h.noise, 1e-6)-6)/14))
}
