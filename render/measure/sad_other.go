//go:build !amd64

package measure

import "unsafe"

// bandSAD is the portable form; see sad_amd64.go.
func bandSAD(a, b *byte, stride, columns int, cells, sums *uint32, rows *[8]uint64) {
	n := 16 * columns
	*rows = [8]uint64{}
	if n == 0 {
		return
	}
	bandSADGeneric(unsafe.Slice(a, 7*stride+n), unsafe.Slice(b, 7*stride+n), stride, columns,
		unsafe.Slice(cells, 2*columns), unsafe.Slice(sums, 2*columns), rows)
}

// rowSAD is the portable form; see sad_amd64.go.
func rowSAD(a, b *byte, columns int) uint64 {
	sad, _ := pieceSAD(unsafe.Slice(a, 16*columns), unsafe.Slice(b, 16*columns))
	return uint64(sad)
}
