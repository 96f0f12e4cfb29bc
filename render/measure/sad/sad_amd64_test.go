package sad

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// TestSSE2AgreesWithPlainGo tries the form that machines without AVX2 take.
func TestSSE2AgreesWithPlainGo(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for columns := 1; columns < 12; columns++ {
		stride := 16 * columns
		a, b := make([]byte, 8*stride), make([]byte, 8*stride)
		for i := range a {
			a[i], b[i] = byte(rng.Uint32()), byte(rng.Uint32())
		}
		cells, sums := make([]uint32, 2*columns), make([]uint32, 2*columns)
		wantCells, wantSums := make([]uint32, 2*columns), make([]uint32, 2*columns)
		var rows, wantRows [8]uint64
		bandSSE2(&a[0], &b[0], stride, columns, &cells[0], &sums[0], &rows)
		generic(a, b, stride, columns, wantCells, wantSums, &wantRows)
		if rows != wantRows || !slices.Equal(cells, wantCells) || !slices.Equal(sums, wantSums) {
			t.Fatalf("columns %d: %v, %v, %v; want %v, %v, %v", columns, rows, cells, sums, wantRows, wantCells, wantSums)
		}
	}
}
