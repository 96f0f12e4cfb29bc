package render

import (
	"fmt"
	"image"

	"fairframe/layout"
	"fairframe/render/comparison"
	"fairframe/render/deck"
	"fairframe/render/media"
)

// paneMarks are the marks that stand in one pane.
type paneMarks struct {
	pane  int
	parts []media.Part
}

// shapes are the deck's names of the shapes of marks.
var shapes = map[string]deck.Shape{comparison.MarkBox: deck.Box, comparison.MarkArrow: deck.Arrow, comparison.MarkNote: deck.Note}

// addMarks draws the scene's marks into every pane that shows their capture. They
// lie over the panes and under the deck, whose text they leave alone.
func (p *Project) addMarks(plan *Plan, screen layout.Screen) error {
	s, clip := plan.Scene, plan.Clip
	if len(s.Marks) == 0 {
		return nil
	}
	set, err := p.fonts()
	if err != nil {
		return err
	}
	avoid := append([]image.Rectangle(nil), screen.Dividers...)
	if screen.Place == layout.None {
		for _, t := range screen.Tabs {
			avoid = append(avoid, t.Box)
		}
	} else {
		avoid = append(avoid, screen.Strip)
	}
	shown := make([]bool, len(s.Marks))
	for i, pane := range clip.Panes {
		leg := clip.Legs[pane.Leg]
		settings := deck.MarkSettings{Size: clip.Size, Area: pane.Area, Avoid: avoid, Fonts: set}
		var of []int
		for j, m := range s.Marks {
			if m.Capture != "" && m.Capture != leg.Name {
				continue
			}
			if m.Capture == "" && i > 0 && pane.Area == clip.Panes[i-1].Area {
				shown[j] = true // captures that share one place share the mark
				continue
			}
			one := deck.Mark{Shape: shapes[m.Shape], Note: m.Note}
			one.X0, one.Y0 = place(pane, leg, m.A)
			one.X1, one.Y1 = place(pane, leg, m.B)
			settings.Marks = append(settings.Marks, one)
			of = append(of, j)
		}
		drawn, err := deck.NewMarks(settings)
		if err != nil {
			return err
		}
		for _, w := range drawn.Warnings() {
			plan.warn(fmt.Sprintf("capture %s: %s", leg.Name, w))
		}
		marks := paneMarks{pane: i}
		for k, j := range of {
			area := drawn.Bounds(k)
			if area.Empty() {
				continue
			}
			shown[j] = true
			m := s.Marks[j]
			part := media.Part{Kind: media.Alpha, Area: area, Still: true, From: clip.FrameAt(m.From),
				Draw: func(dst []byte, _ int) { drawn.Draw(dst, k) }}
			if m.To > 0 && m.To < s.Length {
				part.To = clip.FrameAt(m.To)
			}
			if part.To != 0 && part.To <= part.From || part.From >= clip.Frames {
				plan.warn(fmt.Sprintf("mark %d is on screen for no frame: it goes at %v and appears at %v", j+1, m.To, m.From))
				continue
			}
			marks.parts = append(marks.parts, part)
		}
		plan.marks = append(plan.marks, marks)
		clip.Parts = append(clip.Parts, marks.parts...)
	}
	for j, is := range shown {
		if !is {
			plan.warn(fmt.Sprintf("mark %d lies outside of what the panes show", j+1))
		}
	}
	return nil
}

// place returns where a place of a capture lies in the output.
func place(pane media.Pane, leg media.Leg, at comparison.Point) (x, y float64) {
	size := leg.Capture.Size
	x, y = pane.Shot.Place(at.X.Float()*float64(size.X), at.Y.Float()*float64(size.Y))
	return x + float64(pane.Area.Min.X), y + float64(pane.Area.Min.Y)
}
