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

// quantile returns the p-quantile of values, whose order it changes: the value at
// the nearest place had they been sorted.
func quantile[T float32 | float64](values []T, p float64) T {
	return nth(values, int(p*float64(len(values)-1)+0.5))
}

// nth returns the value at place k had values been sorted, and puts it there, with
// none greater before and none less behind. It is Hoare's FIND (Communications of
// the ACM 4(7), 1961, algorithm 65, from memory), with the middle of three as the
// bound. Sorting all took a third of the time of deciding.
func nth[T float32 | float64](values []T, k int) T {
	lo, hi := 0, len(values)-1
	for lo < hi {
		a, b, c := values[lo], values[lo+(hi-lo)/2], values[hi]
		bound := max(min(a, b), min(max(a, b), c))
		i, j := lo, hi
		for i <= j {
			for values[i] < bound {
				i++
			}
			for bound < values[j] {
				j--
			}
			if i <= j {
				values[i], values[j] = values[j], values[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return values[k]
		}
	}
	return values[k]
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

// log2 returns the logarithm, base 2, of a positive x to within 1e-6: what is
// asked of every row of every frame need not be exact to the last bit. The series
// is that of artanh: ln m = 2 (s + s³/3 + s⁵/5 + …), s = (m-1)/(m+1) (Abramowitz
// and Stegun 4.1.27).
func log2(x float32) float32 {
	const half = 0x3f3504f3 // the root of 1/2: the mantissa m lies in [half, 2 half)
	bits := math.Float32bits(x) - half
	exponent := int32(bits) >> 23
	m := math.Float32frombits(bits&(1<<23-1) + half)
	s := (m - 1) / (m + 1)
	z := s * s
	return float32(exponent) + 2*math.Log2E*s*(1+z*(1./3+z*(1./5+z*(1./7+z/9))))
}
