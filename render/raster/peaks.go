package raster

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
)

const (
	// smoothing is over how many places the slow part of a profile is averaged.
	smoothing = 31
	// smallest and largest are the shares of the result's pixels between which a source is
	// sought. Close to the result's own size little is lost by scaling down and up.
	smallest, largest = 0.3, 0.955
	// apart is how many pixels fewer and more the rasters have that a candidate is compared
	// with.
	apart = 5
	// asked is how many candidates of all samples are tried, and askedEach how many more of
	// each part of them.
	asked, askedEach = 10, 2
)

// flatten is what the values are over their mean nearby, less 1, with outliers cut.
func flatten(values []float64) []float64 {
	n := len(values)
	sums := make([]float64, n+1)
	for i, v := range values {
		sums[i+1] = sums[i] + v
	}
	out := make([]float64, n)
	power := 0.0
	for i, v := range values {
		a, b := max(0, i-smoothing/2), min(n, i+smoothing/2+1)
		if mean := (sums[b] - sums[a]) / float64(b-a); mean > 0 {
			out[i] = v/mean - 1
		}
		power += out[i] * out[i]
	}
	limit := 3 * math.Sqrt(power/float64(n))
	for i := range out {
		out[i] = min(max(out[i], -limit), limit)
	}
	return out
}

// magnitudes are the sizes of the discrete Fourier transform, up to half of the rate.
func magnitudes(values []float64) []float64 {
	c := fourier.NewFFT(len(values)).Coefficients(nil, values)
	out := make([]float64, len(c))
	for i, v := range c {
		out[i] = cmplx.Abs(v)
	}
	return out
}

// onBlocks reports whether frequency i/n is near a multiple of 1/16, where the blocks of
// encoders leave peaks.
func onBlocks(i, n int) bool {
	r := i * 16 % n
	return min(r, n-r) <= 2*16
}

// peaks are the frequencies of the highest peaks of a spectrum that no block explains.
func peaks(spectrum []float64, n int) []int {
	var list []int
	for i := n / 40; i < len(spectrum); i++ {
		top := spectrum[max(0, i-2):min(len(spectrum), i+3)]
		if !onBlocks(i, n) && spectrum[i] == slices.Max(top) {
			list = append(list, i)
		}
	}
	slices.SortFunc(list, func(a, b int) int { return cmp.Compare(spectrum[b], spectrum[a]) })
	return list
}

// sources are the numbers of samples that a scaling to n may have come from, if frequency
// i/n or its double has a peak, the likelier first.
func sources(i, n int) (list []int) {
	for _, f := range []int{n - i, i, (n - i) / 2, (n + i) / 2} {
		twice := 2*f == n-i || 2*f == n+i
		if (f == n-i || f == i || twice) && possible(f, n) && !slices.Contains(list, f) {
			list = append(list, f)
		}
	}
	return list
}

func possible(from, to int) bool {
	return float64(from) >= smallest*float64(to) && float64(from) <= largest*float64(to)
}

// candidates are the sources that are worth trying: those of the highest peaks of each
// spectrum, and those whose peaks would lie on an encoder's blocks.
func candidates(spectra [][]float64, n int) (list []int) {
	add := func(from int) {
		if possible(from, n) && !slices.Contains(list, from) {
			list = append(list, from)
		}
	}
	for k, spectrum := range spectra {
		limit := asked
		if k > 0 {
			limit = len(list) + askedEach
		}
		for _, i := range peaks(spectrum, n) {
			for _, from := range sources(i, n) {
				if len(list) < limit {
					add(from)
				}
			}
		}
	}
	for k := 5; k < 16; k++ {
		if n*k%16 == 0 {
			add(n * k / 16)
		}
	}
	return list
}
