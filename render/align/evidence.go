package align

import (
	"context"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io"
	"math"
	"path/filepath"
	"time"

	"golang.org/x/image/math/fixed"

	"fairframe/fonts"
	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/scratch"
)

// Sizes of the picture of the evidence, in pixels.
const (
	sheetWide  = 1280
	sheetPad   = 24
	sheetLine  = 22 // of text
	curveHigh  = 120
	thumbs     = 6
	thumbWide  = (sheetWide - 2*sheetPad - (thumbs-1)*8) / thumbs
	thumbHigh  = thumbWide * 9 / 16
	pairHigh   = 4*sheetLine + 2*(curveHigh+sheetLine) + 2*(thumbHigh+sheetLine) + 2*sheetPad
	sheetStyle = 15 // size of type

	closeBy = 0.5 // seconds around the offset that are drawn larger
)

var (
	sheetGround = color.NRGBA{0x12, 0x16, 0x1d, 0xff}
	sheetField  = color.NRGBA{0x1d, 0x23, 0x2d, 0xff}
	sheetText   = color.NRGBA{0xe6, 0xe9, 0xee, 0xff}
	sheetQuiet  = color.NRGBA{0x9a, 0xa4, 0xb2, 0xff}
	sheetFirst  = color.NRGBA{0xe6, 0x9f, 0x00, 0xff}
	sheetSecond = color.NRGBA{0x56, 0xb4, 0xe9, 0xff}
)

// Draw draws the evidence into a PNG file, to be judged by eye: for each pair the
// correlation of sound and of pictures over all offsets searched, and frames of
// both captures that should show the same instants, one above the other.
func (a *Aligned) Draw(ctx context.Context, tools *media.Tools, path string) error {
	set, err := fonts.New()
	if err != nil {
		return err
	}
	face, err := set.Face(fonts.Regular, sheetStyle)
	if err != nil {
		return err
	}
	high := len(a.Pairs) * pairHigh
	if a.Loop != nil {
		high += 2 * sheetLine
	}
	s := &sheet{img: image.NewNRGBA(image.Rect(0, 0, sheetWide, high)), face: face}
	draw.Draw(s.img, s.img.Rect, image.NewUniform(sheetGround), image.Point{}, draw.Src)
	for i := range a.Pairs {
		if media.SameFile(a.Pairs[i].CaptureA.Path, path) || media.SameFile(a.Pairs[i].CaptureB.Path, path) {
			return &finding.Error{Msg: fmt.Sprintf("the picture %s is a capture itself", path),
				Hint: "choose another name with --picture"}
		}
		if err := s.pair(ctx, tools, &a.Pairs[i], i*pairHigh+sheetPad); err != nil {
			return err
		}
	}
	if a.Loop != nil {
		s.text(sheetPad, len(a.Pairs)*pairHigh, sheetText, "check: "+a.Loop.Verdict(), sheetWide-2*sheetPad)
	}
	return scratch.Write(path, func(w io.Writer) error { return png.Encode(w, s.img) })
}

// sheet is a picture of the evidence while it is drawn.
type sheet struct {
	img  *image.NRGBA
	face *fonts.Face
}

// text sets one line with its top at y, and cuts it when it is too long.
func (s *sheet) text(x, y int, c color.Color, text string, wide int) {
	fitted, _ := s.face.Fit(text, fixed.I(wide))
	mask := s.face.Mask(fixed.P(x, y+sheetStyle), fitted)
	draw.DrawMask(s.img, mask.Rect, image.NewUniform(c), image.Point{}, mask, mask.Rect.Min, draw.Over)
}

// textTo sets one line that ends at x.
func (s *sheet) textTo(x, y int, c color.Color, text string) {
	mask := s.face.Mask(fixed.P(0, sheetStyle), text)
	s.text(x-mask.Rect.Max.X, y, c, text, mask.Rect.Max.X+sheetStyle)
}

func (s *sheet) fill(r image.Rectangle, c color.Color) {
	draw.Draw(s.img, r, image.NewUniform(c), image.Point{}, draw.Over)
}

func (s *sheet) pair(ctx context.Context, tools *media.Tools, p *Pair, y int) error {
	const wide = sheetWide - 2*sheetPad
	s.text(sheetPad, y, sheetText, fmt.Sprintf("%s → %s", p.A, p.B), wide)
	y += sheetLine
	verdict := fmt.Sprintf("offset %+.4f s, confidence %.2f", p.Offset, p.Confidence)
	if !p.Matched() {
		verdict = fmt.Sprintf("nothing matches (confidence %.2f)", p.Confidence)
	}
	s.text(sheetPad, y, sheetText, verdict, wide)
	y += sheetLine + sheetLine/2
	for _, one := range []struct {
		name  string
		curve Curve
	}{{"sound", p.SoundCurve()}, {"pictures", p.PictureCurve()}} {
		all := image.Rect(sheetPad, y, sheetPad+2*wide/3-4, y+curveHigh)
		near := image.Rect(all.Max.X+8, y, sheetWide-sheetPad, y+curveHigh)
		s.curve(all, one.name+", all offsets searched", one.curve, p)
		s.curve(near, "close by", one.curve.Part(p.Offset-closeBy, p.Offset+closeBy), p)
		y += curveHigh + sheetLine
	}
	if p.Best < 0 {
		s.text(sheetPad, y, sheetQuiet, "no frames to show", wide)
		return nil
	}
	b := p.Stretches[p.Best]
	if p.Matched() {
		s.text(sheetPad, y, sheetQuiet, "frames that should show the same instants", wide)
	} else {
		s.text(sheetPad, y, sheetQuiet, "frames at the likeliest offset, which is not reliable", wide)
	}
	y += sheetLine
	for k := range thumbs {
		at := b.From + (b.To-b.From)*(float64(k)+0.5)/thumbs
		x := sheetPad + k*(thumbWide+8)
		for row, one := range []struct {
			c  media.Capture
			at float64
			in color.Color
			of string
		}{{p.CaptureA, at, sheetFirst, p.A}, {p.CaptureB, at + b.OffsetAt(at), sheetSecond, p.B}} {
			top := y + row*(thumbHigh+sheetLine)
			if err := s.thumb(ctx, tools, one.c, one.at,
				image.Rect(x, top, x+thumbWide, top+thumbHigh)); err != nil {
				return err
			}
			s.fill(image.Rect(x, top+thumbHigh, x+thumbWide, top+thumbHigh+2), one.in)
			s.text(x, top+thumbHigh+2, sheetQuiet,
				fmt.Sprintf("%.3f s  %s", one.at, filepath.Base(one.of)), thumbWide)
		}
	}
	return nil
}

// thumb shows the frame on screen at a capture time, in grey.
func (s *sheet) thumb(ctx context.Context, tools *media.Tools, c media.Capture, at float64,
	r image.Rectangle) error {
	s.fill(r, sheetField)
	if at < 0 {
		return nil
	}
	n := c.Rate.FrameAt(time.Duration(at * float64(time.Second)))
	one := media.Request{From: n, Count: 1, Size: r.Size()}
	_, err := tools.DecodeVideo(ctx, c, one, func(_ int64, luma *[]byte) error {
		for y := range r.Dy() {
			for x := range r.Dx() {
				v := (*luma)[y*r.Dx()+x]
				s.img.SetNRGBA(r.Min.X+x, r.Min.Y+y, color.NRGBA{v, v, v, 0xff})
			}
		}
		return nil
	})
	return err
}

// curve draws a correlation over the offsets at which the captures overlap.
func (s *sheet) curve(r image.Rectangle, name string, c Curve, p *Pair) {
	s.fill(r, sheetField)
	s.text(r.Min.X+8, r.Min.Y+4, sheetQuiet, name, r.Dx()/2)
	if len(c.R) < 2 {
		s.text(r.Min.X+8, r.Min.Y+4+sheetLine, sheetQuiet, "not compared", r.Dx()/2)
		return
	}
	highest := -1.0
	for _, v := range c.R {
		highest = max(highest, v)
	}
	top := max(0.2, highest) // of the scale
	last := c.First + c.Step*float64(len(c.R)-1)
	place := func(offset float64) int {
		return r.Min.X + int(math.Round((offset-c.First)/(last-c.First)*float64(r.Dx()-1)))
	}
	height := func(v float64) int { return r.Max.Y - 1 - int(math.Round(max(0, v)/top*float64(r.Dy()-30))) }
	if x := place(p.Offset); p.Matched() && x >= r.Min.X && x < r.Max.X {
		s.fill(image.Rect(x-1, r.Min.Y, x+1, r.Max.Y), sheetFirst)
	}
	// Each column is as high as the highest value in it.
	columns := make([]float64, r.Dx())
	for i := range columns {
		columns[i] = math.Inf(-1)
	}
	for i, v := range c.R {
		x := place(c.First+float64(i)*c.Step) - r.Min.X
		columns[x] = max(columns[x], v)
	}
	// Where there are fewer values than columns, a line joins them.
	joined := -1
	for x, v := range columns {
		if math.IsInf(v, -1) {
			continue
		}
		for k := joined + 1; joined >= 0 && k < x; k++ {
			columns[k] = columns[joined] + (v-columns[joined])*float64(k-joined)/float64(x-joined)
		}
		joined = x
	}
	before := height(c.R[0])
	for x, v := range columns {
		if math.IsInf(v, -1) {
			continue
		}
		y := height(v)
		s.fill(image.Rect(r.Min.X+x, min(y, before), r.Min.X+x+1, max(y, before)+1), sheetSecond)
		before = y
	}
	s.text(r.Min.X, r.Max.Y+2, sheetQuiet, fmt.Sprintf("%+.1f s", c.First), 200)
	s.textTo(r.Max.X, r.Max.Y+2, sheetQuiet, fmt.Sprintf("%+.1f s", last))
	s.textTo(r.Max.X-8, r.Min.Y+4, sheetQuiet, fmt.Sprintf("highest correlation %.2f", highest))
	if x := place(p.Offset); p.Matched() && x > r.Min.X+120 && x < r.Max.X-120 {
		s.text(x-30, r.Max.Y+2, sheetFirst, fmt.Sprintf("%+.3f s", p.Offset), 200)
	}
}
