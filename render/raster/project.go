package raster

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// A scaling is one kernel that makes to samples from from samples, seen through a stretch
// of the result. Row i of it makes sample first+i: its weights lie on the source samples
// from start[i] on.
type scaling struct {
	first, length int
	start         []int
	weights       [][]float64
	low, sources  int // the source samples that the stretch needs: low, low+1, …
	normal        mat.BandCholesky
	ok            bool
}

// newScaling describes samples first to first+length of a line of to samples that k makes
// from a line of from samples, from < to. Centres of samples lie at half numbers, as all
// scalers of the trade place them (common practice); past the ends the last sample goes on.
func newScaling(k kernel, from, to, first, length int) *scaling {
	s := &scaling{first: first, length: length}
	ratio := float64(from) / float64(to)
	high := 0
	for i := range length {
		c := (float64(first+i)+0.5)*ratio - 0.5
		lo := int(math.Floor(c-k.radius)) + 1
		hi := int(math.Ceil(c+k.radius)) - 1
		a, b := max(lo, 0), min(hi, from-1)
		w := make([]float64, b-a+1)
		sum := 0.0
		for j := lo; j <= hi; j++ {
			v := k.at(float64(j) - c)
			w[min(max(j, a), b)-a] += v
			sum += v
		}
		for j := range w {
			w[j] /= sum
		}
		s.start, s.weights = append(s.start, a), append(s.weights, w)
		if i == 0 {
			s.low = a
		}
		high = max(high, b)
	}
	s.sources = high - s.low + 1
	width := int(2*k.radius) - 1
	normal := mat.NewSymBandDense(s.sources, min(width, s.sources-1), nil)
	for i, w := range s.weights {
		at := s.start[i] - s.low
		for a := range w {
			for b := a; b < len(w); b++ {
				normal.SetSymBand(at+a, at+b, normal.At(at+a, at+b)+w[a]*w[b])
			}
		}
	}
	for i := range s.sources { // a source sample that no weight falls on is free
		normal.SetSymBand(i, i, normal.At(i, i)+1e-6)
	}
	s.ok = s.normal.Factorize(normal)
	return s
}

// residual is what is left of a stretch when the nearest one that the scaling can make
// is taken from it. It goes into the stretch.
func (s *scaling) residual(line []float64) {
	right := make([]float64, s.sources)
	for i, w := range s.weights {
		to := right[s.start[i]-s.low:]
		for j, v := range w {
			to[j] += v * line[i]
		}
	}
	var source mat.VecDense
	if s.normal.SolveVecTo(&source, mat.NewVecDense(s.sources, right)) != nil {
		return
	}
	samples := source.RawVector().Data
	for i, w := range s.weights {
		from := samples[s.start[i]-s.low:]
		for j, v := range w {
			line[i] -= v * from[j]
		}
	}
}
