package raster

import "slices"

// A trier measures how well sources explain the lines of pictures. It keeps the scalings
// that it made, since all pictures need the same ones.
type trier struct {
	to   int
	made map[[3]int]*scaling
}

// leastLeft is the energy a sample below which nothing can be told: rounding to whole
// codes leaves 1/12.
const leastLeft = 0.1

// dip is what is left of a picture's lines after scaling down to from samples and up
// again, over what rasters of nearly that size leave: the median over the lines. 1 means
// that from is no better than those, or that the lines are too plain to tell.
func (t *trier) dip(from int, lines []line) float64 {
	var ratios []float64
	for _, l := range lines {
		near := (t.left(from-apart, l) + t.left(from+apart, l)) / 2
		if near > leastLeft*float64(len(l.samples)) {
			ratios = append(ratios, t.left(from, l)/near)
		}
	}
	if len(ratios) == 0 {
		return 1
	}
	return median(ratios)
}

// left is the energy of what a source cannot explain of a line. The kernel is that of
// Catmull and Rom: the lines that it can make from a raster are nearly the lines that the
// other kernels can make from it.
func (t *trier) left(from int, l line) float64 {
	key := [3]int{from, l.first, len(l.samples)}
	s := t.made[key]
	if s == nil {
		s = newScaling(catmullRom, from, t.to, l.first, len(l.samples))
		if t.made == nil {
			t.made = map[[3]int]*scaling{}
		}
		t.made[key] = s
	}
	values := make([]float64, len(l.samples))
	for i, v := range l.samples {
		values[i] = float64(v)
	}
	s.residual(values)
	sum := 0.0
	for _, v := range values {
		sum += v * v
	}
	return sum
}

func median(values []float64) float64 {
	values = slices.Sorted(slices.Values(values))
	return values[len(values)/2]
}
