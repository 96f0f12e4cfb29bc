package pacing

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat"

	"fairframe/testdata/published"
)

// Type 7 of Hyndman and Fan as R 4.2.2 computes it, for the sets of
// testdata/published/07_quantiles.csv.
func TestQuantileAgainstR(t *testing.T) {
	checked := 0
	for _, row := range published.Rows(t, "07_quantiles.csv") {
		if row["type"] != "7" {
			continue
		}
		checked++
		var x []float64
		for _, v := range ints(t, row["x"]) {
			x = append(x, float64(v))
		}
		p, want := number(t, row["p"]), number(t, row["value"])
		if got := Quantile(x, p); math.Abs(got-want) > 1e-12 {
			t.Errorf("%s: the %v-quantile is %v, want %v (%s)", row["dataset"], p, got, want, row["provenance"])
		}
	}
	if checked < 10 {
		t.Errorf("the table gave only %d rows", checked)
	}
}

// gonum has type 4 (LinInterp). Both types put the quantile between neighbours;
// type 7 of n values is type 4 of all but the least, from p = 1/(n-1) on.
func TestQuantileAgainstGonum(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	for range 200 {
		x := make([]float64, 3+rng.IntN(500))
		for i := range x {
			x[i] = rng.NormFloat64() * 1e7
		}
		slices.Sort(x)
		for range 20 {
			p := rng.Float64()
			if p*float64(len(x)-1) < 1 {
				continue
			}
			got, want := Quantile(x, p), stat.Quantile(p, stat.LinInterp, x[1:], nil)
			if math.Abs(got-want) > 1e-6 {
				t.Fatalf("the %v-quantile of %d values is %v, want %v", p, len(x), got, want)
			}
		}
	}
}

func TestQuantileEdges(t *testing.T) {
	x := []float64{1, 2, 4}
	for p, want := range map[float64]float64{0: 1, 0.25: 1.5, 0.5: 2, 0.75: 3, 1: 4} {
		if got := Quantile(x, p); got != want {
			t.Errorf("the %v-quantile is %v, want %v", p, got, want)
		}
	}
	for _, p := range []float64{-0.1, 1.1, math.NaN()} {
		if got := Quantile(x, p); !math.IsNaN(got) {
			t.Errorf("the %v-quantile is %v, want NaN", p, got)
		}
	}
	if got := Quantile(nil, 0.5); !math.IsNaN(got) {
		t.Errorf("the median of nothing is %v, want NaN", got)
	}
	if got := Quantile([]float64{7}, 0.99); got != 7 {
		t.Errorf("a quantile of one value is %v, want 7", got)
	}
}

// The NIST sets that can be built from their description: mean and sample
// deviation are exact by construction. NumAcc4 catches one-pass sums of squares.
func TestMeanDeviationAgainstNIST(t *testing.T) {
	sets := map[string][]float64{
		"NumAcc1": {10000001, 10000003, 10000002},
		"NumAcc2": append([]float64{1.2}, repeat(500, 1.1, 1.3)...),
		"NumAcc3": append([]float64{1000000.2}, repeat(500, 1000000.1, 1000000.3)...),
		"NumAcc4": append([]float64{10000000.2}, repeat(500, 10000000.1, 10000000.3)...),
		"x5":      {15, 20, 35, 40, 50},
	}
	checked := 0
	for _, row := range published.Rows(t, "07_nist_strd.csv") {
		x := sets[row["dataset"]]
		if x == nil {
			continue
		}
		checked++
		if float64(len(x)) != number(t, row["n"]) {
			t.Fatalf("%s has %d values, want %s", row["dataset"], len(x), row["n"])
		}
		mean, population := meanDeviation(x)
		n := float64(len(x))
		sample := population * math.Sqrt(n/(n-1))
		if want := number(t, row["mean"]); math.Abs(mean-want) > 1e-14*want {
			t.Errorf("%s: mean is %v, want %v", row["dataset"], mean, want)
		}
		// The data itself is only so exact in binary: the table allows 1e-7.
		if want := number(t, row["sample_sd"]); math.Abs(sample-want) > 1e-7*want {
			t.Errorf("%s: sample deviation is %v, want %v", row["dataset"], sample, want)
		}
		if _, after, ok := strings.Cut(row["sample_sd"], "population "); ok {
			if want := number(t, strings.TrimSuffix(after, ")")); math.Abs(population-want) > 1e-12 {
				t.Errorf("%s: population deviation is %v, want %v", row["dataset"], population, want)
			}
		}
		if m, d := stat.PopMeanStdDev(x, nil); math.Abs(m-mean) > 1e-14*math.Abs(m) || math.Abs(d-population) > 1e-9*d {
			t.Errorf("%s: gonum says %v, %v, we say %v, %v", row["dataset"], m, d, mean, population)
		}
	}
	if checked != len(sets) {
		t.Errorf("the table has %d of %d sets", checked, len(sets))
	}
}
