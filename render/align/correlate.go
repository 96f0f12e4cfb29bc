package align

import (
	"math"
	"math/bits"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
)

// fastSize returns the least length of at least n whose transform is quick: a
// power of two, or one and a half, or five quarters of one.
func fastSize(n int) int {
	p := 1 << bits.Len(uint(max(1, n-1)))
	for _, q := range []int{p / 8 * 5, p / 4 * 3} {
		if q >= n {
			return q
		}
	}
	return p
}

// weighting is the psi of the generalised correlation: it is given a bin of the
// cross-spectrum and returns it weighted.
type weighting func(bin int, g complex128) complex128

// plain leaves the cross-spectrum as it is: the cross-correlation.
func plain(_ int, g complex128) complex128 { return g }

// phase is the phase transform, psi = 1/|G|.
func phase(_ int, g complex128) complex128 {
	if m := cmplx.Abs(g); m > tiny {
		return g / complex(m, 0)
	}
	return 0
}

// tiny is the |G| below which a bin has no phase.
const tiny = 1e-20

// generalised returns the circular generalised cross-correlation of two
// sequences of one length n, times 1/n: element k is large when b is a delayed
// by k samples, k > n/2 standing for k-n (Knapp and Carter 1976). Pad with zeros
// to keep the ends from meeting.
func generalised(a, b []float64, psi weighting) []float64 {
	n := len(a)
	fft := fourier.NewFFT(n)
	ca, cb := fft.Coefficients(nil, a), fft.Coefficients(nil, b)
	for i := range ca {
		ca[i] = psi(i, cb[i]*cmplx.Conj(ca[i]))
	}
	r := fft.Sequence(nil, ca)
	for i := range r {
		r[i] /= float64(n)
	}
	return r
}

// vertex returns the place and height of the parabola through a peak b and its
// neighbours a and c, the place within ±0.5 of b.
func vertex(a, b, c float64) (at, height float64) {
	d := a - 2*b + c
	if d >= 0 {
		return 0, b
	}
	at = min(0.5, max(-0.5, 0.5*(a-c)/d))
	return at, b - 0.25*(a-c)*at
}

// joining says how the channels of a correlation become one.
type joining int

const (
	meanOfChannels joining = iota // each channel counts the same
	byEnergy                      // channels count by their energy
)

// leastOverlap is the part of a block that must lie inside the other track.
const leastOverlap = 0.6

// slide correlates the block a with every stretch of its length in b: element k
// is Pearson's correlation of a with b[k:k+n], over the rows that are valid in
// b, with the channels joined. -1 stands where too few rows are valid or
// nothing changes.
func slide(a, b [][]float64, valid [2]int, join joining) []float64 {
	n, m := len(a[0]), len(b[0])
	count := m - n + 1
	num, energyA, energyB := make([]float64, count), make([]float64, count), make([]float64, count)
	size := fastSize(m)
	fft := fourier.NewFFT(size)
	pa, pb := make([]float64, size), make([]float64, size)
	ca, cb := make([]complex128, size/2+1), make([]complex128, size/2+1)
	r := make([]float64, size)
	joined := make([]float64, count)
	sumA, sqA := make([]float64, n+1), make([]float64, n+1)
	sumB, sqB := make([]float64, m+1), make([]float64, m+1)
	for c := range a {
		clear(pa)
		clear(pb)
		copy(pa, a[c])
		copy(pb, b[c])
		fft.Coefficients(ca, pa)
		fft.Coefficients(cb, pb)
		for i := range ca {
			ca[i] = cb[i] * cmplx.Conj(ca[i])
		}
		fft.Sequence(r, ca)
		for i, x := range a[c] {
			sumA[i+1], sqA[i+1] = sumA[i]+x, sqA[i]+x*x
		}
		for i, x := range b[c] {
			sumB[i+1], sqB[i+1] = sumB[i]+x, sqB[i]+x*x
		}
		for k := range count {
			lo, hi := max(0, valid[0]-k), min(n, valid[1]-k)
			if hi-lo < int(leastOverlap*float64(n)) || hi-lo < 2 {
				continue
			}
			l := float64(hi - lo)
			sa, sb := sumA[hi]-sumA[lo], sumB[k+hi]-sumB[k+lo]
			ea := sqA[hi] - sqA[lo] - sa*sa/l
			eb := sqB[k+hi] - sqB[k+lo] - sb*sb/l
			x := r[k]/float64(size) - sa*sb/l
			if join == byEnergy {
				num[k], energyA[k], energyB[k] = num[k]+x, energyA[k]+ea, energyB[k]+eb
			} else if ea > 1e-9*l && eb > 1e-9*l {
				joined[k] += x / math.Sqrt(ea*eb) / float64(len(a))
				energyA[k]++
			}
		}
	}
	for k := range joined {
		switch {
		case join == byEnergy && energyA[k] > 1e-9 && energyB[k] > 1e-9:
			joined[k] = num[k] / math.Sqrt(energyA[k]*energyB[k])
		case join == byEnergy || energyA[k] == 0:
			joined[k] = -1
		}
	}
	return joined
}

// peak is a local maximum of a correlation.
type peak struct {
	at     int
	height float64
}

// peaks returns up to most local maxima above floor, the highest first, no two
// nearer than apart.
func peaks(r []float64, most, apart int, floor float64) []peak {
	var list []peak
	for range most {
		best := peak{-1, floor}
		for i, x := range r {
			if x <= best.height || i > 0 && r[i-1] > x || i+1 < len(r) && r[i+1] > x {
				continue
			}
			near := false
			for _, p := range list {
				if d := p.at - i; max(d, -d) < apart {
					near = true
				}
			}
			if !near {
				best = peak{i, x}
			}
		}
		if best.at < 0 {
			break
		}
		list = append(list, best)
	}
	return list
}
