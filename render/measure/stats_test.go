package measure

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// TestNthAgreesWithSorting takes every place of values with many ties, of values
// in order and of none alike.
func TestNthAgreesWithSorting(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 6))
	for n := 1; n < 60; n++ {
		for _, kinds := range []int{1, 3, 1000} {
			values := make([]float32, n)
			for i := range values {
				values[i] = float32(rng.IntN(kinds))
			}
			sorted := slices.Sorted(slices.Values(values))
			for k := range n {
				for _, from := range [][]float32{values, sorted} {
					v := slices.Clone(from)
					if got := nth(v, k); got != sorted[k] {
						t.Fatalf("place %d of %v: %v, want %v", k, from, got, sorted[k])
					}
					if v[k] != sorted[k] || k > 0 && slices.Max(v[:k]) > v[k] || slices.Min(v[k:]) < v[k] {
						t.Fatalf("place %d of %v: left %v", k, from, v)
					}
				}
			}
		}
	}
}

// TestLog2AgreesWithLibrary holds log2 against Go's own over the numbers that
// ratios of rows can be, and at the seams of its pieces.
func TestLog2AgreesWithLibrary(t *testing.T) {
	check := func(x float32) {
		if got, want := float64(log2(x)), math.Log2(float64(x)); math.Abs(got-want) > 1e-6*max(1, math.Abs(want)) {
			t.Errorf("log2(%v) = %v, want %v", x, got, want)
		}
	}
	for x := float32(1e-4); x < 1e4; x *= 1.0007 {
		check(x)
	}
	for _, x := range []float32{0.5, math.Sqrt2 / 2, 1, math.Sqrt2, 2, 1024} {
		check(x)
		check(math.Nextafter32(x, 0))
		check(math.Nextafter32(x, 1e9))
	}
}
