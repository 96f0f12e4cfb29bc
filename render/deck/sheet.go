package deck

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"

	"golang.org/x/image/draw"
	"golang.org/x/image/math/fixed"

	"fairframe/fonts"
)

// Sheet is a contact sheet: pictures in rows, each with a line of text below. It is
// about as wide as one picture.
type Sheet struct {
	fonts         *fonts.Set
	columns, rows int
	cell          image.Point
	gap, label    int // between pictures; how high a line of text is
	face          *fonts.Face
	img           *image.NRGBA
	n             int // pictures so far
}

// NewSheet returns a sheet for n pictures of one size.
func NewSheet(n int, set *fonts.Set) *Sheet {
	columns := int(math.Ceil(math.Sqrt(float64(n))))
	return &Sheet{fonts: set, columns: columns, rows: (n + columns - 1) / columns}
}

// Add adds a picture, which is a PNG, and its text.
func (s *Sheet) Add(picture []byte, text string) (err error) {
	img, err := png.Decode(bytes.NewReader(picture))
	if err != nil {
		return fmt.Errorf("deck: %w", err)
	}
	if s.img == nil {
		if err := s.begin(img.Bounds().Size()); err != nil {
			return err
		}
	}
	at := image.Pt(s.gap+s.n%s.columns*(s.cell.X+s.gap), s.gap+s.n/s.columns*(s.cell.Y+s.label+s.gap))
	s.n++
	draw.CatmullRom.Scale(s.img, image.Rectangle{at, at.Add(s.cell)}, img, img.Bounds(), draw.Src, nil)
	dot := fixed.Point26_6{X: fixed.I(at.X), Y: fixed.I(at.Y+s.cell.Y) + (fixed.I(s.label)+s.face.CapHeight())/2}
	mask := s.face.Mask(dot, text)
	draw.DrawMask(s.img, mask.Bounds(), image.NewUniform(color.NRGBA{0xF2, 0xF5, 0xF8, 0xFF}),
		image.Point{}, mask, mask.Bounds().Min, draw.Over)
	return nil
}

// begin makes room for pictures of that size.
func (s *Sheet) begin(size image.Point) (err error) {
	s.gap = max(4, size.X/160)
	s.cell.X = max(16, (size.X-s.gap*(s.columns+1))/s.columns)
	s.cell.Y = max(9, s.cell.X*size.Y/size.X)
	px := max(14, size.Y/45)
	s.label = px * 8 / 5
	s.img = image.NewNRGBA(image.Rect(0, 0, s.gap+s.columns*(s.cell.X+s.gap),
		s.gap+s.rows*(s.cell.Y+s.label+s.gap)))
	draw.Draw(s.img, s.img.Rect, image.NewUniform(color.NRGBA{0x12, 0x16, 0x1D, 0xFF}), image.Point{}, draw.Src)
	s.face, err = s.fonts.Face(fonts.Regular, float64(px))
	return err
}

// PNG returns the sheet.
func (s *Sheet) PNG() ([]byte, error) {
	var out bytes.Buffer
	if err := png.Encode(&out, s.img); err != nil {
		return nil, fmt.Errorf("deck: %w", err)
	}
	return out.Bytes(), nil
}
