// Package drawing draws plain pictures of evidence, such as those of align and raster.
package drawing

import (
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io"

	"golang.org/x/image/math/fixed"

	"fairframe/fonts"
	"fairframe/render/scratch"
)

// Line is the height of a line of text, in pixels, and Pad the margin of a sheet.
const (
	Line  = 22
	Pad   = 24
	style = 15 // size of type
)

// The colours of a sheet.
var (
	Ground = color.NRGBA{0x12, 0x16, 0x1d, 0xff}
	Field  = color.NRGBA{0x1d, 0x23, 0x2d, 0xff}
	Text   = color.NRGBA{0xe6, 0xe9, 0xee, 0xff}
	Quiet  = color.NRGBA{0x9a, 0xa4, 0xb2, 0xff}
	First  = color.NRGBA{0xe6, 0x9f, 0x00, 0xff}
	Second = color.NRGBA{0x56, 0xb4, 0xe9, 0xff}
)

// A Sheet is a picture of evidence while it is drawn.
type Sheet struct {
	*image.NRGBA
	face *fonts.Face
}

// NewSheet returns an empty sheet of a size in pixels.
func NewSheet(wide, high int) (*Sheet, error) {
	set, err := fonts.New()
	if err != nil {
		return nil, err
	}
	face, err := set.Face(fonts.Regular, style)
	if err != nil {
		return nil, err
	}
	s := &Sheet{image.NewNRGBA(image.Rect(0, 0, wide, high)), face}
	s.Fill(s.Rect, Ground)
	return s, nil
}

// Text sets one line with its top at y, and cuts it when it is wider than wide.
func (s *Sheet) Text(x, y int, c color.Color, text string, wide int) {
	fitted, _ := s.face.Fit(text, fixed.I(wide))
	mask := s.face.Mask(fixed.P(x, y+style), fitted)
	draw.DrawMask(s, mask.Rect, image.NewUniform(c), image.Point{}, mask, mask.Rect.Min, draw.Over)
}

// TextTo sets one line that ends at x.
func (s *Sheet) TextTo(x, y int, c color.Color, text string) {
	mask := s.face.Mask(fixed.P(0, style), text)
	s.Text(x-mask.Rect.Max.X, y, c, text, mask.Rect.Max.X+style)
}

// Fill covers a rectangle.
func (s *Sheet) Fill(r image.Rectangle, c color.Color) {
	draw.Draw(s, r, image.NewUniform(c), image.Point{}, draw.Over)
}

// Write writes the sheet as a PNG file, whole or not at all.
func (s *Sheet) Write(path string) error {
	return scratch.Write(path, func(w io.Writer) error { return png.Encode(w, s) })
}
