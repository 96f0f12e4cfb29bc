package graph

import (
	"image"
	"regexp"
	"strconv"
	"strings"

	ffmpeg "github.com/u2takey/ffmpeg-go"

	"fairframe/layout"
	"fairframe/render/media"
)

// square gives a capture square pixels and even sides, in its own coding and range.
func (g *graph) square(s *ffmpeg.Stream, c media.Capture, kernel string) *ffmpeg.Stream {
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
