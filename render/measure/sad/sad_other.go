//go:build !amd64

package sad

import "unsafe"

// Band is the portable form; see sad_amd64.go.
func Band(a, b *byte, stride, columns int, cells, sums *uint32, rows *[8]uint64) {
	n := 16 * columns
	*rows = [8]uint64{}
	if n == 0 {
		return
	}
	generic(unsafe.Slice(a, 7*stride+n), unsafe.Slice(b, 7*stride+n), stride, columns,
		unsafe.Slice(cells, 2*columns), unsafe.Slice(sums, 2*columns), rows)
}

// Row is the portable form; see sad_amd64.go.
func Row(a, b, to *byte, columns int) (fromA, fromB uint64) {
	n := 16 * columns
	row := unsafe.Slice(to, n)
	sadA, _ := Piece(unsafe.Slice(a, n), row)
	sadB, _ := Piece(unsafe.Slice(b, n), row)
	return uint64(sadA), uint64(sadB)
}
