package deck

import (
	"image"

	"fairframe/layout"
)

// Base is the capture whose raster the others' pixels are compared with: the same one in
// all clips of a file. It is zero for that capture itself, and where there is none.
type Base struct {
	Name   string
	Raster image.Point
}

// ratio compares a raster with the base, such as "+86 % pixels on Alder", and shorter
// "+86 % on Alder". Both are "" where one of the two is not stated.
func (b Base) ratio(raster image.Point) (long, short string) {
	percent := layout.PixelRatio(raster, b.Raster)
	if percent == "" {
		return "", ""
	}
	return percent + " pixels on " + b.Name, percent + " on " + b.Name
}
