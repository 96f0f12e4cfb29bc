package raster

import (
	"fmt"
	"image"
	"image/color"
	"slices"

	"fairframe/render/drawing"
	"fairframe/render/finding"
	"fairframe/render/media"
)

const (
	sheetWide = 1280
	fieldHigh = 220
)

// Verdict says what was found along an axis of so many samples. way is how the axis runs.
func (x Axis) Verdict(way string, samples int) string {
	if x.Found {
		c := x.Candidates[0]
		return fmt.Sprintf("one scaling with a fixed kernel, %d → %d %s, in %d of %d samples; it may be the game's or the recorder's",
			c.From, x.To, way, c.Agree, samples)
	}
	for _, c := range x.Candidates {
		if c.Blocks && c.Peak >= peakBlocks/2 && c.Left <= 1.5*leftBlocks {
			return fmt.Sprintf("perhaps %d → %d %s: an encoder's blocks leave the same trace, so it cannot be told", c.From, x.To, way)
		}
	}
	return fmt.Sprintf("no such scaling found %s; this does not show that the picture is native", way)
}

// Draw draws the evidence into a PNG file: the spectrum of each axis with the candidates,
// and what each sample shows.
func (r Result) Draw(path string, c media.Capture) error {
	s, err := drawing.NewSheet(sheetWide, 2*(fieldHigh+3*drawing.Line)+2*28+drawing.Line+2*drawing.Pad)
	if err != nil {
		return err
	}
	if media.SameFile(c.Path, path) {
		return isCapture(path)
	}
	const wide = sheetWide - 2*drawing.Pad
	y := drawing.Pad
	for _, one := range []struct {
		x   Axis
		way string
	}{{r.Across, "across"}, {r.Down, "down"}} {
		s.Text(drawing.Pad, y, drawing.Text, one.x.Verdict(one.way, len(r.Samples)), wide)
		y += drawing.Line + drawing.Line/2
		one.x.draw(s, image.Rect(drawing.Pad, y, sheetWide-drawing.Pad, y+fieldHigh))
		y += fieldHigh + drawing.Line + drawing.Line/2
	}
	s.Text(drawing.Pad, y, drawing.Quiet, "samples in order: across above, down below; bright where the scaling shows", wide)
	y += drawing.Line
	for i, one := range r.Samples {
		left, right := drawing.Pad+wide*i/len(r.Samples), drawing.Pad+wide*(i+1)/len(r.Samples)-1
		for k, from := range []int{one.Across, one.Down} {
			fill := color.Color(drawing.Field)
			if from > 0 {
				fill = drawing.Second
			}
			s.Fill(image.Rect(left, y+k*28, max(left+1, right), y+k*28+24), fill)
		}
	}
	return s.Write(path)
}

// draw draws the spectrum over the sizes that a scaling may have come from, the places of
// an encoder's blocks in grey, what was found in front.
func (x Axis) draw(s *drawing.Sheet, r image.Rectangle) {
	s.Fill(r, drawing.Field)
	top := max(12, slices.Max(x.spectrum))
	for i := range r.Dx() {
		from := x.To/2 + x.To/2*i/r.Dx()
		next := max(from+1, x.To/2+x.To/2*(i+1)/r.Dx())
		height, blocks := 0.0, false
		for f := from; f < next; f++ {
			height = max(height, x.spectrum[min(f, x.To-f)])
			blocks = blocks || onBlocks(f, x.To)
		}
		fill := color.Color(drawing.Second)
		if blocks {
			fill = drawing.Quiet
		}
		s.Fill(image.Rect(r.Min.X+i, r.Max.Y-int(height/top*float64(r.Dy()-30)), r.Min.X+i+1, r.Max.Y), fill)
	}
	s.Text(r.Min.X, r.Max.Y+2, drawing.Quiet, fmt.Sprintf("%d pixels", x.To/2), 200)
	s.TextTo(r.Max.X, r.Max.Y+2, drawing.Quiet, fmt.Sprintf("%d pixels", x.To))
	s.TextTo(r.Max.X-8, r.Min.Y+4, drawing.Quiet, fmt.Sprintf("highest peak %.0f times the usual; grey: an encoder's blocks", slices.Max(x.spectrum)))
	if x.Found {
		f := x.Candidates[0].From
		at := r.Min.X + (max(f, x.To-f)-x.To/2)*r.Dx()/(x.To/2)
		s.Fill(image.Rect(at-1, r.Min.Y, at+1, r.Max.Y), drawing.First)
		s.Text(min(max(at-20, r.Min.X+100), r.Max.X-160), r.Max.Y+2, drawing.First, fmt.Sprint(f), 200)
	}
}

// Draw draws the edge with the levels that were counted into a PNG file.
func (s Staircase) Draw(path string, c media.Capture) error {
	if media.SameFile(c.Path, path) {
		return isCapture(path)
	}
	first, last := s.Levels[0], s.Levels[len(s.Levels)-1]
	top, bottom := min(first.At, last.At), max(first.At, last.At)
	around := image.Rect(first.From-4, int(top)-10, last.To+4, int(bottom)+10)
	zoom := max(1, min(8, sheetWide/around.Dx()))
	if s.Upright {
		around = image.Rect(around.Min.Y, around.Min.X, around.Max.Y, around.Max.X)
		zoom = max(1, min(8, 1600/around.Dy()))
	}
	around = around.Intersect(image.Rectangle{Max: c.Size})
	sheet, err := drawing.NewSheet(max(640, around.Dx()*zoom+2*drawing.Pad), around.Dy()*zoom+2*drawing.Pad+2*drawing.Line)
	if err != nil {
		return err
	}
	sheet.Text(drawing.Pad, drawing.Pad/2, drawing.Text, s.Verdict(), sheet.Rect.Dx()-2*drawing.Pad)
	at := image.Pt(drawing.Pad, drawing.Pad+drawing.Line)
	for y := range around.Dy() {
		for x := range around.Dx() {
			v := s.luma[(around.Min.Y+y)*c.Size.X+around.Min.X+x]
			p := at.Add(image.Pt(x*zoom, y*zoom))
			sheet.Fill(image.Rectangle{p, p.Add(image.Pt(zoom, zoom))}, color.NRGBA{v, v, v, 0xff})
		}
	}
	for i, l := range s.Levels {
		fill := drawing.First
		if i%2 == 1 {
			fill = drawing.Second
		}
		line := image.Rect((l.From)*zoom, int(l.At*float64(zoom))-1, l.To*zoom, int(l.At*float64(zoom))+1)
		if s.Upright {
			line = image.Rect(line.Min.Y, line.Min.X, line.Max.Y, line.Max.X)
		}
		sheet.Fill(line.Add(at).Sub(around.Min.Mul(zoom)), fill)
	}
	sheet.Text(drawing.Pad, sheet.Rect.Max.Y-drawing.Pad, drawing.Quiet, fmt.Sprintf("magnified %dx, true pixels; each line is one level", zoom), sheet.Rect.Dx())
	return sheet.Write(path)
}

func isCapture(path string) error {
	return &finding.Error{Msg: fmt.Sprintf("the picture %s is the capture itself", path), Hint: "choose another name with --picture"}
}
