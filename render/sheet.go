package render

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"

	"golang.org/x/image/draw"
	"golang.org/x/image/math/fixed"

	"fairframe/fonts"
	"fairframe/render/finding"
)

// maxMoments bounds a contact sheet.
const maxMoments = 100

// Sheet makes a contact sheet: n moments of the scene, evenly spaced and each in
// the middle of its share, with the scene time below. It is about as wide as one
// picture. tell, if set, is told of pictures done.
func (s *Stills) Sheet(ctx context.Context, n int, tell Progress) ([]byte, error) {
	if n < 1 || n > maxMoments {
		return nil, &finding.Error{Msg: fmt.Sprintf("a contact sheet of %d moments", n),
			Hint: fmt.Sprintf("1 to %d moments fit a sheet", maxMoments)}
	}
	columns := int(math.Ceil(math.Sqrt(float64(n))))
	rows := (n + columns - 1) / columns
	var sheet *image.NRGBA
	var cell image.Point
	var face *fonts.Face
	var gap, label int
	for i := range n {
		k := (2*int64(i) + 1) * s.clip.Frames / (2 * int64(n))
		b, err := s.Picture(ctx, k)
		if err != nil {
			return nil, err
		}
		img, err := png.Decode(bytes.NewReader(b))
		if err != nil {
			return nil, fmt.Errorf("render: %w", err)
		}
		size := img.Bounds().Size()
		if sheet == nil {
			gap = max(4, size.X/160)
			cell.X = max(16, (size.X-gap*(columns+1))/columns)
			cell.Y = max(9, cell.X*size.Y/size.X)
			px := max(14, size.Y/45)
			label = px * 8 / 5
			if face, err = s.footage.Fonts.Face(fonts.Regular, float64(px)); err != nil {
				return nil, err
			}
			sheet = image.NewNRGBA(image.Rect(0, 0, gap+columns*(cell.X+gap), gap+rows*(cell.Y+label+gap)))
			draw.Draw(sheet, sheet.Rect, image.NewUniform(color.NRGBA{0x12, 0x16, 0x1D, 0xFF}),
				image.Point{}, draw.Src)
		}
		at := image.Pt(gap+i%columns*(cell.X+gap), gap+i/columns*(cell.Y+label+gap))
		draw.CatmullRom.Scale(sheet, image.Rectangle{at, at.Add(cell)}, img, img.Bounds(), draw.Src, nil)
		text := fmt.Sprintf("%.2f s · f%d", s.clip.Rate.TimeOf(k).Seconds(), k)
		dot := fixed.Point26_6{X: fixed.I(at.X),
			Y: fixed.I(at.Y+cell.Y) + (fixed.I(label)+face.CapHeight())/2}
		mask := face.Mask(dot, text)
		draw.DrawMask(sheet, mask.Bounds(), image.NewUniform(color.NRGBA{0xF2, 0xF5, 0xF8, 0xFF}),
			image.Point{}, mask, mask.Bounds().Min, draw.Over)
		if tell != nil {
			tell(int64(i+1), int64(n))
		}
	}
	var out bytes.Buffer
	if err := png.Encode(&out, sheet); err != nil {
		return nil, fmt.Errorf("render: %w", err)
	}
	return out.Bytes(), nil
}
