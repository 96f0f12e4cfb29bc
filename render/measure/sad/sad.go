// Package sad sums up absolute differences of pictures, by cells and by rows.
package sad

// Cell is the side of the square cells that pictures are compared by, in
// pixels: small enough that a small thing fills one, and a tear's first guess
// is right to within a cell.
const Cell = 8

// generic is Band in plain Go.
func generic(a, b []byte, stride, columns int, cells, sums []uint32, rows *[8]uint64) {
	clear(cells[:2*columns])
	clear(sums[:2*columns])
	for y := range rows {
		rows[y] = 0
		for c := range 2 * columns {
			i := y*stride + c*Cell
			sad, sum := Piece(a[i:i+Cell], b[i:i+Cell])
			cells[c] += sad
			sums[c] += sum
			rows[y] += uint64(sad)
		}
	}
}

// Piece returns the sum of absolute differences of two equally long pieces
// of a row, and the sum of a.
func Piece(a, b []byte) (sad, sum uint32) {
	b = b[:len(a)]
	for i, v := range a {
		d := int32(v) - int32(b[i])
		sad += uint32(max(d, -d))
		sum += uint32(v)
	}
	return sad, sum
}
