package pacing

import "math"

// Quantile returns the p-quantile of x, which must be sorted upwards, for p in
// [0, 1]; NaN for no values or any other p. It is type 7 of Hyndman and Fan,
// "Sample quantiles in statistical packages", The American Statistician 50(4),
// 1996, pp. 361-365: between the values of rank floor(h) and floor(h)+1,
// h = (n-1)p + 1, in proportion to the fraction of h.
func Quantile(x []float64, p float64) float64 {
	if len(x) == 0 || !(p >= 0 && p <= 1) {
		return math.NaN()
	}
	h := float64(len(x)-1) * p
	j := int(h)
	if j+1 >= len(x) {
		return x[len(x)-1]
	}
	return x[j] + (h-float64(j))*(x[j+1]-x[j])
}

// meanDeviation returns the mean of x and its population standard deviation, the
// root of the mean squared distance from the mean (divided by n, not n-1: the
// frames of a scene are all there are, not a sample). It goes through x twice and
// corrects for the rounding of the mean (Chan, Golub and LeVeque, "Algorithms
// for computing the sample variance", The American Statistician 37(3), 1983),
// because the difference of two sums of squares loses all digits when the
// deviation is small.
func meanDeviation(x []float64) (mean, deviation float64) {
	if len(x) == 0 {
		return math.NaN(), math.NaN()
	}
	n := float64(len(x))
	for _, v := range x {
		mean += v
	}
	mean /= n
	var squares, rest float64
	for _, v := range x {
		d := v - mean
		squares += d * d
		rest += d
	}
	return mean + rest/n, math.Sqrt((squares - rest*rest/n) / n)
}
