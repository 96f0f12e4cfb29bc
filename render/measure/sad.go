package measure

// cellSize is the side of the square cells that pictures are compared by, in
// pixels: small enough that a small thing fills one, and a tear's first guess
// is right to within a cell.
const cellSize = 8

// bandSADGeneric is bandSAD in plain Go.
func bandSADGeneric(a, b []byte, stride, columns int, cells, sums []uint32, rows *[8]uint64) {
	clear(cells[:2*columns])
	clear(sums[:2*columns])
	for y := range rows {
		rows[y] = 0
		for c := range 2 * columns {
			i := y*stride + c*cellSize
			sad, sum := pieceSAD(a[i:i+cellSize], b[i:i+cellSize])
			cells[c] += sad
			sums[c] += sum
			rows[y] += uint64(sad)
		}
	}
}

// pieceSAD returns the sum of absolute differences of two equally long pieces
// of a row, and the sum of a.
func pieceSAD(a, b []byte) (sad, sum uint32) {
	b = b[:len(a)]
	for i, v := range a {
		d := int32(v) - int32(b[i])
		sad += uint32(max(d, -d))
		sum += uint32(v)
	}
	return sad, sum
}
