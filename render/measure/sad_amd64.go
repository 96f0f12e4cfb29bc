package measure

// bandSAD compares 8 rows of two pictures, stride bytes a row, over columns
// pieces of 16 pixels. It writes each 8x8 cell's sum of absolute differences
// to cells and of a's levels to sums, two a piece, and each row's sum of
// absolute differences to rows.
//
// PSADBW does eight differences an instruction. Plain Go, eight at a time in
// a uint64, took 5 times as long, which the budget of a decoder's quarter
// does not have.
//
//go:noescape
func bandSAD(a, b *byte, stride, columns int, cells, sums *uint32, rows *[8]uint64)

// rowSAD returns the sum of absolute differences of two rows of columns pieces
// of 16 pixels.
//
//go:noescape
func rowSAD(a, b *byte, columns int) uint64
