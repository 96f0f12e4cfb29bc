package align

import (
	"context"
	"fmt"
	"image"
	"image/color"
	"math"
	"path/filepath"
	"time"

	"fairframe/render/drawing"
	"fairframe/render/finding"
	"fairframe/render/media"
)

// Sizes of the picture of the evidence, in pixels.
const (
	sheetWide = 1280
	curveHigh = 120
	thumbs    = 6
	thumbWide = (sheetWide - 2*drawing.Pad - (thumbs-1)*8) / thumbs
	thumbHigh = thumbWide * 9 / 16
	pairHigh  = 4*drawing.Line + 2*(curveHigh+drawing.Line) + 2*(thumbHigh+drawing.Line) + 2*drawing.Pad

	closeBy = 0.5 // seconds around the offset that are drawn larger
)

// Draw draws the evidence into a PNG file, to be judged by eye: for each pair the
// correlation of sound and of pictures over all offsets searched, and frames of
// both captures that should show the same instants, one above the other.
func (a *Aligned) Draw(ctx context.Context, tools *media.Tools, path string) error {
	high := len(a.Pairs) * pairHigh
	if a.Loop != nil {
		high += 2 * drawing.Line
	}
	blank, err := drawing.NewSheet(sheetWide, high)
	if err != nil {
		return err
	}
	s := &sheet{blank}
	for i := range a.Pairs {
		if media.SameFile(a.Pairs[i].CaptureA.Path, path) || media.SameFile(a.Pairs[i].CaptureB.Path, path) {
			return &finding.Error{Msg: fmt.Sprintf("the picture %s is a capture itself", path),
				Hint: "choose another name with --picture"}
		}
		if err := s.pair(ctx, tools, &a.Pairs[i], i*pairHigh+drawing.Pad); err != nil {
			return err
		}
	}
	if a.Loop != nil {
		s.Text(drawing.Pad, len(a.Pairs)*pairHigh, drawing.Text, "check: "+a.Loop.Verdict(), sheetWide-2*drawing.Pad)
	}
	return s.Write(path)
}

// sheet is a picture of the evidence while it is drawn.
type sheet struct{ *drawing.Sheet }

func (s *sheet) pair(ctx context.Context, tools *media.Tools, p *Pair, y int) error {
	const wide = sheetWide - 2*drawing.Pad
	s.Text(drawing.Pad, y, drawing.Text, fmt.Sprintf("%s → %s", p.A, p.B), wide)
	y += drawing.Line
	verdict := fmt.Sprintf("offset %+.4f s, confidence %.2f", p.Offset, p.Confidence)
	if !p.Matched() {
		verdict = fmt.Sprintf("nothing matches (confidence %.2f)", p.Confidence)
	}
	s.Text(drawing.Pad, y, drawing.Text, verdict, wide)
	y += drawing.Line + drawing.Line/2
	for _, one := range []struct {
		name  string
		curve Curve
	}{{"sound", p.SoundCurve()}, {"pictures", p.PictureCurve()}} {
		all := image.Rect(drawing.Pad, y, drawing.Pad+2*wide/3-4, y+curveHigh)
		near := image.Rect(all.Max.X+8, y, sheetWide-drawing.Pad, y+curveHigh)
		s.curve(all, one.name+", all offsets searched", one.curve, p)
		s.curve(near, "close by", one.curve.Part(p.Offset-closeBy, p.Offset+closeBy), p)
		y += curveHigh + drawing.Line
	}
	if p.Best < 0 {
		s.Text(drawing.Pad, y, drawing.Quiet, "no frames to show", wide)
		return nil
	}
	b := p.Stretches[p.Best]
	if p.Matched() {
		s.Text(drawing.Pad, y, drawing.Quiet, "frames that should show the same instants", wide)
	} else {
		s.Text(drawing.Pad, y, drawing.Quiet, "frames at the likeliest offset, which is not reliable", wide)
	}
	y += drawing.Line
	for k := range thumbs {
		at := b.From + (b.To-b.From)*(float64(k)+0.5)/thumbs
		x := drawing.Pad + k*(thumbWide+8)
		for row, one := range []struct {
			c  media.Capture
			at float64
			in color.Color
			of string
		}{{p.CaptureA, at, drawing.First, p.A}, {p.CaptureB, at + b.OffsetAt(at), drawing.Second, p.B}} {
			top := y + row*(thumbHigh+drawing.Line)
			if err := s.thumb(ctx, tools, one.c, one.at,
				image.Rect(x, top, x+thumbWide, top+thumbHigh)); err != nil {
				return err
			}
			s.Fill(image.Rect(x, top+thumbHigh, x+thumbWide, top+thumbHigh+2), one.in)
			s.Text(x, top+thumbHigh+2, drawing.Quiet,
				fmt.Sprintf("%.3f s  %s", one.at, filepath.Base(one.of)), thumbWide)
		}
	}
	return nil
}

// thumb shows the frame on screen at a capture time, in grey.
func (s *sheet) thumb(ctx context.Context, tools *media.Tools, c media.Capture, at float64,
	r image.Rectangle) error {
	s.Fill(r, drawing.Field)
	if at < 0 {
		return nil
	}
	n := c.Rate.FrameAt(time.Duration(at * float64(time.Second)))
	one := media.Request{From: n, Count: 1, Size: r.Size()}
	_, err := tools.DecodeVideo(ctx, c, one, func(_ int64, luma *[]byte) error {
		for y := range r.Dy() {
			for x := range r.Dx() {
				v := (*luma)[y*r.Dx()+x]
				s.SetNRGBA(r.Min.X+x, r.Min.Y+y, color.NRGBA{v, v, v, 0xff})
			}
		}
		return nil
	})
	return err
}

// curve draws a correlation over the offsets at which the captures overlap.
func (s *sheet) curve(r image.Rectangle, name string, c Curve, p *Pair) {
	s.Fill(r, drawing.Field)
	s.Text(r.Min.X+8, r.Min.Y+4, drawing.Quiet, name, r.Dx()/2)
	if len(c.R) < 2 {
		s.Text(r.Min.X+8, r.Min.Y+4+drawing.Line, drawing.Quiet, "not compared", r.Dx()/2)
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
		s.Fill(image.Rect(x-1, r.Min.Y, x+1, r.Max.Y), drawing.First)
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
		s.Fill(image.Rect(r.Min.X+x, min(y, before), r.Min.X+x+1, max(y, before)+1), drawing.Second)
		before = y
	}
	s.Text(r.Min.X, r.Max.Y+2, drawing.Quiet, fmt.Sprintf("%+.1f s", c.First), 200)
	s.TextTo(r.Max.X, r.Max.Y+2, drawing.Quiet, fmt.Sprintf("%+.1f s", last))
	s.TextTo(r.Max.X-8, r.Min.Y+4, drawing.Quiet, fmt.Sprintf("highest correlation %.2f", highest))
	if x := place(p.Offset); p.Matched() && x > r.Min.X+120 && x < r.Max.X-120 {
		s.Text(x-30, r.Max.Y+2, drawing.First, fmt.Sprintf("%+.3f s", p.Offset), 200)
	}
}
