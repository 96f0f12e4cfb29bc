package layout

import (
	"fmt"
	"image"
)

// maxRasterSide keeps the arithmetic of PixelRatio inside 64 bits.
const maxRasterSide = 1 << 24

// PixelRatio returns how many more pixels a raster has than the reference, as
// a signed whole percentage: "+86 %" for 1920x1080 against 1408x792. Halves
// round away from zero; fewer pixels get a true minus sign (U+2212), and what
// rounds to nothing is "±0 %". A side that is not positive or absurdly large
// gives "".
func PixelRatio(raster, reference image.Point) string {
	for _, side := range []int{raster.X, raster.Y, reference.X, reference.Y} {
		if side <= 0 || side > maxRasterSide {
			return ""
		}
	}
	a := int64(raster.X) * int64(raster.Y)
	b := int64(reference.X) * int64(reference.Y)
	sign, diff := "+", a-b
	if diff < 0 {
		sign, diff = "−", -diff
	}
	// The difference is below 2^48, so 100 times twice of it fits.
	percent := (200*diff + b) / (2 * b)
	if percent == 0 {
		sign = "±"
	}
	return fmt.Sprintf("%s%d %%", sign, percent)
}
