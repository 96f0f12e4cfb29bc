package measure

import (
	"image"
	"math/rand/v2"
	"testing"

	"fairframe/render/pacing"
)

func TestBandSADAgreesWithPlainGo(t *testing.T) {
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
		bandSAD(&a[0], &b[0], stride, columns, &cells[0], &sums[0], &rows)
		bandSADGeneric(a, b, stride, columns, wantCells, wantSums, &wantRows)
		if columns > 0 {
			here, before := rowSAD(&a[stride], &b[stride], &a[0], columns)
			wantHere, _ := pieceSAD(a[stride:stride+16*columns], a[:16*columns])
			wantBefore, _ := pieceSAD(b[stride:stride+16*columns], a[:16*columns])
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

func BenchmarkCompare1080p(b *testing.B) {
	size := image.Pt(1920, 1080)
	c := newComparer(size, Settings{Region: image.Rectangle{Max: size}})
	d := c.newDifference()
	pics := [2][]byte{make([]byte, size.X*size.Y), make([]byte, size.X*size.Y)}
	for i := range pics[0] {
		pics[0][i], pics[1][i] = byte(i*7), byte(i*11)
	}
	b.SetBytes(int64(size.X * size.Y))
	for i := 0; b.Loop(); i++ {
		c.compare(&pics[i%2], d)
	}
}

func BenchmarkAdd1080p(b *testing.B) {
	size := image.Pt(1920, 1080)
	src := newSource("pan", 240, 1)
	var pics [8][]byte
	for i := range pics {
		pics[i] = make([]byte, size.X*size.Y)
		src.draw(pics[i], size.X, size.Y, float64(i)/30)
	}
	for _, c := range []struct {
		name string
		hold int // captured frames that show one picture
	}{{"60in60", 1}, {"30in60", 2}} {
		b.Run(c.name, func(b *testing.B) {
			m, err := New(Source{Size: size, Rate: captureRate}, Settings{}, func(pacing.Frame) error { return nil })
			if err != nil {
				b.Fatal(err)
			}
			b.SetBytes(int64(size.X * size.Y))
			for i := 0; b.Loop(); i++ {
				if err := m.Add(pics[i/c.hold%len(pics)]); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
