package align

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"fairframe/testdata/computed"
	"fairframe/testdata/published"
)

// named returns the rows of a table by their names.
func named(rows [][]string) map[string][]string {
	all := map[string][]string{}
	for _, row := range rows {
		all[row[0]] = row
	}
	return all
}

func numbers(t *testing.T, s string) []float64 {
	t.Helper()
	var list []float64
	for _, f := range strings.Fields(s) {
		v, err := strconv.ParseFloat(f, 64)
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, v)
	}
	return list
}

// TestNumPyVector: the example of numpy.correlate's docstring, in mode full, by
// the circular correlation with zeros for padding.
func TestNumPyVector(t *testing.T) {
	row := named(published.Records(t, "11_correlation_vectors.csv"))["numpy doc full"]
	if row == nil {
		t.Fatal("no such vector")
	}
	a, v, want := numbers(t, row[1]), numbers(t, row[2]), numbers(t, row[4])
	const size = 8
	pa, pv := make([]float64, size), make([]float64, size)
	copy(pa, a)
	copy(pv, v)
	// numpy's c_k = sum a_{n+k} v_n: a is the delayed one.
	r := generalised(pv, pa, plain)
	for i, w := range want {
		k := (i - (len(v) - 1) + size) % size
		if got := r[k]; math.Abs(got-w) > 1e-12 {
			t.Errorf("element %d: %v, want %v", i, got, w)
		}
	}
}

// TestLagVector: 400 values of a linear congruential generator at 100 and at 137
// of 1024; plain correlation and PHAT (Knapp and Carter 1976) both find 37. The
// heights in testdata/computed/11_lags.csv are those that gonum v0.17.0 gave.
func TestLagVector(t *testing.T) {
	a, b := make([]float64, 1024), make([]float64, 1024)
	r := uint64(12345)
	for i := range 400 {
		r = r*6364136223846793005 + 1442695040888963407
		v := float64(r>>11)/(1<<53) - 0.5
		a[100+i], b[137+i] = v, v
	}
	for _, c := range []struct {
		name      string
		psi       weighting
		peak      float64
		next, tol float64
	}{
		{"lag example CC", plain, 34.25227848616407, 3.4107740474867425, 1e-10},
		{"lag example PHAT", phase, 1, 0, 1e-12},
	} {
		row := named(computed.Records(t, "11_lags.csv"))[c.name]
		if row == nil || c.name == "lag example CC" && !strings.Contains(row[4], strconv.FormatFloat(c.peak, 'f', -1, 64)) {
			t.Errorf("%s: the table says %v", c.name, row)
		}
		got := generalised(a, b, c.psi)
		best, second := 0, math.Inf(-1)
		for i, v := range got {
			if v > got[best] {
				best = i
			}
		}
		for i, v := range got {
			if i != best {
				second = max(second, v)
			}
		}
		if best != 37 || math.Abs(got[best]-c.peak) > c.tol || math.Abs(second-c.next) > c.tol {
			t.Errorf("%s: lag %d, %v, next %v; want 37, %v, %v", c.name, best, got[best], second, c.peak, c.next)
		}
	}
}

// TestSlide compares with Pearson's correlation by its definition.
func TestSlide(t *testing.T) {
	a := [][]float64{{1, 5, -2, 3}, {0, 1, 0, 2}}
	b := [][]float64{{2, 1, 5, -2, 3, 9, 1, 0}, {4, 0, 1, 0, 2, 1, 7, 3}}
	r := slide(a, b, [2]int{0, 8}, meanOfChannels)
	for k := range r {
		var want float64
		for c := range a {
			want += pearson(a[c], b[c][k:k+4]) / 2
		}
		if math.Abs(r[k]-want) > 1e-9 {
			t.Errorf("lag %d: %v, want %v", k, r[k], want)
		}
	}
	if math.Abs(r[1]-1) > 1e-9 {
		t.Errorf("the copy at 1 correlates by %v", r[1])
	}
	if e := slide(a, b, [2]int{0, 8}, byEnergy); math.Abs(e[1]-1) > 1e-9 {
		t.Errorf("by energy, the copy at 1 correlates by %v", e[1])
	}
	// Only rows that are there count; the others are zero.
	clear(b[0][:2])
	clear(b[1][:2])
	if p := slide(a, b, [2]int{2, 8}, meanOfChannels); p[0] != -1 || math.Abs(p[1]-pearson(a[0][1:], b[0][2:5])/2-pearson(a[1][1:], b[1][2:5])/2) > 1e-9 {
		t.Errorf("with two rows missing: %v", p)
	}
}

func pearson(x, y []float64) float64 {
	n := float64(len(x))
	var sx, sy, xx, yy, xy float64
	for i := range x {
		sx, sy = sx+x[i], sy+y[i]
	}
	for i := range x {
		dx, dy := x[i]-sx/n, y[i]-sy/n
		xx, yy, xy = xx+dx*dx, yy+dy*dy, xy+dx*dy
	}
	return xy / math.Sqrt(xx*yy)
}

func TestVertex(t *testing.T) {
	// y = 3 - (x-0.2)² at -1, 0, 1.
	f := func(x float64) float64 { return 3 - (x-0.2)*(x-0.2) }
	at, height := vertex(f(-1), f(0), f(1))
	if math.Abs(at-0.2) > 1e-12 || math.Abs(height-3) > 1e-12 {
		t.Errorf("vertex at %v, %v; want 0.2, 3", at, height)
	}
}

func TestFastSize(t *testing.T) {
	for n := 1; n < 3000; n++ {
		if s := fastSize(n); s < n || s > 2*n {
			t.Errorf("fastSize(%d) = %d", n, s)
		}
	}
}
