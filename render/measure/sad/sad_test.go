package sad

import (
	"math/rand/v2"
	"testing"
)

func TestBandAgreesWithPlainGo(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 50 {
		columns := rng.IntN(12)
		stride := 16*columns + rng.IntN(9)
		a, b := make([]byte, 8*stride+16), make([]byte, 8*stride+16)
		for i := range a {
			a[i], b[i] = byte(rng.Uint32()), byte(rng.Uint32())
		}
		cells, sums := make([]uint32, 2*columns+1), make([]uint32, 2*columns+1)
		wantCells, wantSums := make([]uint32, 2*columns+1), make([]uint32, 2*columns+1)
		var rows, wantRows [8]uint64
		Band(&a[0], &b[0], stride, columns, &cells[0], &sums[0], &rows)
		generic(a, b, stride, columns, wantCells, wantSums, &wantRows)
		if columns > 0 {
			here, before := Row(&a[stride], &b[stride], &a[0], columns)
			wantHere, _ := Piece(a[stride:stride+16*columns], a[:16*columns])
			wantBefore, _ := Piece(b[stride:stride+16*columns], a[:16*columns])
			if here != uint64(wantHere) || before != uint64(wantBefore) {
				t.Fatalf("columns %d: rows differ by %d and %d, want %d and %d", columns, here, before, wantHere, wantBefore)
			}
		}
		if rows != wantRows {
			t.Fatalf("columns %d: rows %v, want %v", columns, rows, wantRows)
		}
		for i := range cells {
			if cells[i] != wantCells[i] || sums[i] != wantSums[i] {
				t.Fatalf("columns %d: cell %d is %d, %d; want %d, %d", columns, i, cells[i], sums[i], wantCells[i], wantSums[i])
			}
		}
	}
}
