package deck

import "image/color"

// Luma weights of ITU-R BT.709-6 in ten-thousandths; Kr + Kg + Kb = 1.
const (
	kr, kg, kb = 2126, 7152, 722
	one        = kr + kg + kb
)

// encode returns the 8-bit limited-range BT.709 codes of a non-linear R'G'B'
// colour, computed exactly and rounded once (BT.709-6, items 3.2 to 3.5):
//
//	Y  =  16 + 219 (Kr R + Kg G + Kb B)
//	Cb = 128 + 224 (B - Y') / (2 (1 - Kb))
//	Cr = 128 + 224 (R - Y') / (2 (1 - Kr))
func encode(c color.NRGBA) ink {
	y, u, v := encodeSum(int64(c.R), int64(c.G), int64(c.B), 1)
	return ink{y, u, v}
}

// encodeSum is encode of the mean of weighted colours: r, g, b are sums of
// components times weights, n > 0 the sum of the weights.
func encodeSum(r, g, b, n int64) (y, u, v uint8) {
	luma := kr*r + kg*g + kb*b
	y = uint8(16 + div(219*luma, 255*one*n))
	u = uint8(128 + div(224*(one*b-luma), 255*2*(one-kb)*n))
	v = uint8(128 + div(224*(one*r-luma), 255*2*(one-kr)*n))
	return y, u, v
}

// div returns a/b rounded to the nearest whole number, halves upwards.
func div(a, b int64) int64 {
	q := 2*a + b
	if q < 0 {
		return -((-q + 2*b - 1) / (2 * b))
	}
	return q / (2 * b)
}

// decode is the inverse of encode, rounded and clipped.
func decode(y, u, v uint8) (r, g, b uint8) {
	// In units of 1/one of a code of 255.
	luma := int64(int(y)-16) * 255 * one
	cb, cr := int64(int(u)-128)*255, int64(int(v)-128)*255
	const l, c = 219, 224
	red := luma*c + cr*2*(one-kr)*l
	blue := luma*c + cb*2*(one-kb)*l
	green := luma*c*kg - cb*2*(one-kb)*l*kb - cr*2*(one-kr)*l*kr
	clip := func(num, den int64) uint8 { return uint8(min(max(div(num, den), 0), 255)) }
	return clip(red, l*c*one), clip(green, l*c*one*kg), clip(blue, l*c*one)
}
