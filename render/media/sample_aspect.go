package media

import (
	"fmt"
	"image"
	"math/big"
	"regexp"
	"strconv"
	"strings"

	ffmpeg "github.com/u2takey/ffmpeg-go"

	"fairframe/layout"
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

// square gives a capture square pixels and even sides, in its own coding and range.
func (g *graph) square(s *ffmpeg.Stream, c Capture, kernel string) *ffmpeg.Stream {
	shape := c.DisplaySize()
	if shape != c.Size {
		s = g.filter(s, "scale", strconv.Itoa(shape.X), strconv.Itoa(shape.Y), "flags="+kernels[kernel]+"+accurate_rnd+full_chroma_int+full_chroma_inp")
		s = g.filter(s, "setsar", "1")
	}
	canvas := layout.Canvas(shape)
	if canvas == shape {
		return s
	}
	// The filters that cut along the grid of the colours would leave out the last
	// column or row, so it is repeated while there is no such grid.
	whole := wholeColour(c.PixFmt)
	if whole != c.PixFmt {
		// Colours count from the same corner both ways, so that they come back as they were.
		s = g.filter(s, "scale", "flags=neighbor", "in_h_chr_pos=0", "in_v_chr_pos=0")
		s = g.filter(s, "format", whole)
	}
	s = g.lengthened(s, shape, canvas)
	if whole != c.PixFmt {
		s = g.filter(s, "scale", "flags=neighbor", "out_h_chr_pos=0", "out_v_chr_pos=0")
		s = g.filter(s, "format", c.PixFmt)
	}
	return s
}

// lengthened makes a picture longer by repeating its last column and row.
func (g *graph) lengthened(s *ffmpeg.Stream, from, to image.Point) *ffmpeg.Stream {
	s = g.filter(s, "pad", strconv.Itoa(to.X), strconv.Itoa(to.Y), "0", "0")
	return g.filter(s, "fillborders", "0", strconv.Itoa(to.X-from.X), "0", strconv.Itoa(to.Y-from.Y), "smear")
}

// subsampled finds what a pixel format says of its colours' resolution.
var subsampled = regexp.MustCompile(`4(20|22|11|10|40)p`)

// wholeColour is the planar pixel format with as many samples of the colours as of
// the luma that holds what the given one does.
func wholeColour(format string) string {
	switch {
	case format == "nv12" || format == "nv21" || format == "nv16" || format == "yuyv422" || format == "uyvy422":
		return "yuv444p"
	case strings.HasPrefix(format, "p010"), strings.HasPrefix(format, "p210"):
		return "yuv444p10le"
	case strings.HasPrefix(format, "p016"), strings.HasPrefix(format, "p012"):
		return "yuv444p16le"
	}
	return subsampled.ReplaceAllString(format, "444p")
}
