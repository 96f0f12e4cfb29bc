package render

import (
	"fmt"
	"image"
	"slices"

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
	for _, l := range screen.Labels {
		avoid = append(avoid, l.Box)
	}
	sides := sidesOf(clip)
	shown := make([]bool, len(s.Marks))
	for i, pane := range clip.Panes {
		leg := clip.Legs[pane.Leg]
		settings := deck.MarkSettings{Size: clip.Size, Area: pane.Area, Avoid: slices.Clip(avoid), Fonts: set}
		for _, later := range clip.Panes[i+1:] {
			if later.Area != pane.Area && later.Area.Overlaps(pane.Area) {
				settings.Avoid = append(settings.Avoid, later.Area) // it lies over this one
			}
		}
		var of []int
		for j, m := range s.Marks {
			if m.Capture != "" && m.Capture != leg.Name {
				continue
			}
			if pane.Glide != nil {
				shown[j] = true
				plan.warn(fmt.Sprintf("mark %d is left out on capture %s, whose window moves: marks do not follow a glide yet", j+1, leg.Name))
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
			part := media.Part{Kind: media.Alpha, Area: area, Still: true, From: clip.FrameAt(m.From), To: clip.Frames,
				Draw: func(dst []byte, _ int) { drawn.Draw(dst, k) }}
			if m.To > 0 && m.To < s.Length {
				part.To = clip.FrameAt(m.To)
			}
			if part.To <= part.From {
				plan.warn(fmt.Sprintf("mark %d is on screen for no frame: it goes at %v and appears at %v", j+1, m.To, m.From))
				continue
			}
			if clip.Map != nil {
				part = sides.cut(part, i)
			}
			marks.parts = append(marks.parts, turns(part, pane.Turn)...)
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

// turns parts a mark's time into the stretches in which its pane is shown.
func turns(part media.Part, t *media.Turn) []media.Part {
	if t == nil {
		return []media.Part{part}
	}
	var list []media.Part
	for k := part.From; k < part.To; k++ {
		switch n := len(list); {
		case !t.Shown(k):
		case n > 0 && list[n-1].To == k:
			list[n-1].To++
		default:
			one := part
			one.From, one.To = k, k+1
			list = append(list, one)
		}
	}
	if len(list) <= mostStretches {
		return list
	}
	// So many streams would cost more than one that is drawn frame by frame.
	return []media.Part{live(part, t.Shown, nil)}
}

// mostStretches bounds the streams of one mark.
const mostStretches = 12

// live makes a part that is drawn frame by frame: nothing where it is not shown,
// and of its pixels those that keep keeps.
func live(part media.Part, shown func(k int64) bool, keep func(k int, at image.Point) bool) media.Part {
	whole := make([]byte, media.PartBytes(part.Kind, part.Area.Size()))
	part.Draw(whole, 0)
	from, to, r := part.From, part.To, part.Area
	alpha := len(whole) - r.Dx()*r.Dy()
	part.Still, part.From, part.To = false, 0, 0
	part.Draw = func(dst []byte, k int) {
		copy(dst, whole)
		if int64(k) < from || int64(k) >= to || !shown(int64(k)) {
			clear(dst[alpha:])
			return
		}
		if keep == nil {
			return
		}
		i := alpha
		for y := r.Min.Y; y < r.Max.Y; y++ {
			for x := r.Min.X; x < r.Max.X; x++ {
				if dst[i] > 0 && !keep(k, image.Pt(x, y)) {
					dst[i] = 0
				}
				i++
			}
		}
	}
	return part
}

// wipeSides are where the panes of a wipe are seen, at one frame at a time.
type wipeSides struct {
	clip  *media.Clip
	codes []byte
	at    int
}

func sidesOf(c *media.Clip) *wipeSides { return &wipeSides{clip: c, at: -1} }

// cut keeps a mark to its pane's side of the line, and off the line itself.
func (s *wipeSides) cut(part media.Part, pane int) media.Part {
	area, n := s.clip.Panes[pane].Area, len(s.clip.Panes)
	keep := func(k int, at image.Point) bool {
		if s.at != k || s.codes == nil {
			if s.codes == nil {
				s.codes = make([]byte, area.Dx()*area.Dy())
			}
			s.clip.Map.Draw(s.codes, k)
			s.at = k
		}
		at = at.Sub(area.Min)
		off := int(s.codes[at.Y*area.Dx()+at.X]) - media.MapCode(pane, n)
		return -1 <= off && off <= 1
	}
	if !s.clip.Map.Still {
		return live(part, func(int64) bool { return true }, keep)
	}
	still := live(part, func(int64) bool { return true }, keep)
	from := int(part.From)
	part.Draw = func(dst []byte, _ int) { still.Draw(dst, from) }
	return part
}
