package measure

import (
	"math"
	"slices"
)

// A split is the best division of values into a low and a high group.
type split struct {
	at   float64 // values above belong to the high group
	low  float64 // means
	high float64
	gain float64 // nats a value by which two groups explain the values better than one
}

// bimodal is the least gain at which a split is believed. A single normal
// group cut in half gains -0.18, a uniform one 0; two equal normal groups
// gain this much at a distance d' of 4.5.
const bimodal = 0.2

// bestSplit divides values where two normal distributions, of unequal mean,
// spread and weight, explain them best: the classification likelihood of
// Symons (Biometrics 37, 1981), in one dimension, where all divisions can be
// tried. floor is the spread that is certain to be there. scratch is
// overwritten.
func bestSplit(values, scratch []float64, floor float64) split {
	v := append(scratch[:0], values...)
	slices.Sort(v)
	n := float64(len(v))
	var sum, sq float64
	for _, x := range v {
		sum += x
		sq += x * x
	}
	cost := func(n, s, q float64) float64 { return n / 2 * math.Log(max(0, q/n-s*s/n/n)+floor*floor) }
	one := cost(n, sum, sq)
	best := split{low: sum / n, high: sum / n, at: math.Inf(1), gain: math.Inf(-1)}
	var s, q float64
	for i := range len(v) - 1 {
		s += v[i]
		q += v[i] * v[i]
		if v[i+1] == v[i] {
			continue
		}
		k := float64(i + 1)
		two := cost(k, s, q) + cost(n-k, sum-s, sq-q) - k*math.Log(k/n) - (n-k)*math.Log((n-k)/n)
		if g := (one - two) / n; g > best.gain {
			best = split{at: (v[i] + v[i+1]) / 2, low: s / k, high: (sum - s) / (n - k), gain: g}
		}
	}
	return best
}

// labelGain returns the nats a value by which two normal groups, as labelled,
// explain values better than one; 0 when the group called high is not higher.
func labelGain(values []float64, high []bool, floor float64) float64 {
	var n, s, q [2]float64
	for i, x := range values {
		k := 0
		if high[i] {
			k = 1
		}
		n[k]++
		s[k] += x
		q[k] += x * x
	}
	if n[0] == 0 || n[1] == 0 || s[1]/n[1] <= s[0]/n[0] {
		return 0
	}
	cost := func(n, s, q float64) float64 { return n / 2 * math.Log(max(0, q/n-s*s/n/n)+floor*floor) }
	one := cost(n[0]+n[1], s[0]+s[1], q[0]+q[1])
	return max(0, (one-cost(n[0], s[0], q[0])-cost(n[1], s[1], q[1]))/(n[0]+n[1]))
}

// quantile returns the p-quantile of values, which it sorts.
func quantile[T float32 | float64](values []T, p float64) T {
	slices.Sort(values)
	return values[int(p*float64(len(values)-1)+0.5)]
}

// meanSpread returns the mean and the standard deviation of values.
func meanSpread(values []float64) (mean, spread float64) {
	for _, v := range values {
		mean += v
	}
	mean /= float64(len(values))
	for _, v := range values {
		spread += (v - mean) * (v - mean)
	}
	return mean, math.Sqrt(spread / float64(len(values)))
}
