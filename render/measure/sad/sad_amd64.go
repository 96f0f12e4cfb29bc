package sad

import (
	"unsafe"

	"golang.org/x/sys/cpu"
)

// Band compares 8 rows of two pictures, stride bytes a row, over columns
// pieces of 16 pixels. It writes each 8x8 cell's sum of absolute differences
// to cells and of a's levels to sums, two a piece, and each row's sum of
// absolute differences to rows.
//
// PSADBW does eight differences an instruction, and four times as many at once
// with AVX2. Plain Go, eight at a time in a uint64, took 5 times as long as the
// first, which the budget of a decoder's quarter does not have.
func Band(a, b *byte, stride, columns int, cells, sums *uint32, rows *[8]uint64) {
	if columns < 2 || !cpu.X86.HasAVX2 {
		bandSSE2(a, b, stride, columns, cells, sums, rows)
		return
	}
	bandAVX2(a, b, stride, columns, cells, sums, rows)
	if columns%2 == 1 {
		var last [8]uint64
		n := columns - 1
		bandSSE2((*byte)(unsafe.Add(unsafe.Pointer(a), 16*n)), (*byte)(unsafe.Add(unsafe.Pointer(b), 16*n)), stride, 1,
			(*uint32)(unsafe.Add(unsafe.Pointer(cells), 8*n)), (*uint32)(unsafe.Add(unsafe.Pointer(sums), 8*n)), &last)
		for y, v := range last {
			rows[y] += v
		}
	}
}

//go:noescape
func bandSSE2(a, b *byte, stride, columns int, cells, sums *uint32, rows *[8]uint64)

// bandAVX2 leaves out the last of an odd number of columns.
//
//go:noescape
func bandAVX2(a, b *byte, stride, columns int, cells, sums *uint32, rows *[8]uint64)

// Row returns the sums of absolute differences of two rows, a and b, of
// columns pieces of 16 pixels, to a third.
//
//go:noescape
func Row(a, b, to *byte, columns int) (fromA, fromB uint64)
