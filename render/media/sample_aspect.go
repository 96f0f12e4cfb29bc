package media

import (
	"fmt"
	"image"
	"math/big"
	"strconv"
	"strings"
)

// Captures whose pixels are not square (anamorphic ones) are made square before
// anything else is done with them: by stretching the side that is short, so that
// no pixel is lost. All geometry is in those square pixels.

// widest bounds the pixel shapes that are believed.
const widest = 4

// pixelShape reads a sample aspect ratio. The zero point stands for square pixels.
func pixelShape(text string) (image.Point, error) {
	if text == "" || text == "N/A" {
		return image.Point{}, nil
	}
	x, y, ok := strings.Cut(text, ":")
	w, err1 := strconv.Atoi(x)
	h, err2 := strconv.Atoi(y)
	switch {
	case !ok || err1 != nil || err2 != nil || w < 0 || h < 0:
		return image.Point{}, fmt.Errorf("pixels of the shape %q", text)
	case w == 0 || h == 0 || w == h:
		return image.Point{}, nil // 0:1 says that it is not known
	case w > widest*h || h > widest*w:
		return image.Point{}, fmt.Errorf("pixels %d to %d wide and high", w, h)
	}
	return image.Pt(w, h), nil
}

// DisplaySize is the size of the capture's picture in square pixels, even.
func (c Capture) DisplaySize() image.Point {
	w, h := c.Size.X, c.Size.Y
	switch {
	case c.Pixel.X > c.Pixel.Y:
		return image.Pt(evenScaled(w, c.Pixel.X, c.Pixel.Y), h)
	case c.Pixel.X < c.Pixel.Y:
		return image.Pt(w, evenScaled(h, c.Pixel.Y, c.Pixel.X))
	}
	return c.Size
}

// evenScaled is n*p/q, to the nearest even number, which 4:2:0 needs.
func evenScaled(n, p, q int) int { return (n*p + q) / (2 * q) * 2 }

// SampleAspect returns how many square pixels a pixel of the capture is wide and high;
// nil where that is 1.
func (c Capture) SampleAspect() (x, y *big.Rat) {
	shape := c.DisplaySize()
	if shape.X != c.Size.X {
		x = big.NewRat(int64(shape.X), int64(c.Size.X))
	}
	if shape.Y != c.Size.Y {
		y = big.NewRat(int64(shape.Y), int64(c.Size.Y))
	}
	return x, y
}
