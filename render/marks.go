package render

import (
	"fmt"
	"image"
	"slices"

	"fairframe/layout"
	"fairframe/render/comparison"
	"fairframe/render/deck"
	"fairframe/render/media/graph"
)

// paneMarks are the marks that stand in one pane.
type paneMarks struct {
	pane  int
	parts []graph.Layer
}

// shapes are the deck's names of the shapes of marks.
var shapes = map[string]deck.Shape{comparison.MarkBox: deck.Box, comparison.MarkArrow: deck.Arrow,
	comparison.MarkNote: deck.Note}

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
	if plan.sign != nil {
		avoid = append(avoid, plan.sign.Area)
	}
	sides := sidesOf(clip)
	shown := make([]bool, len(s.Marks))
	for i, pane := range clip.Panes {
		leg := clip.Inputs[pane.Input]
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
			one := markAt(pane, leg, m, 0)
			one.From, one.To = plan.span(j)
			settings.Marks = append(settings.Marks, one)
			of = append(of, j)
		}
		marks := paneMarks{pane: i}
		if pane.Glide != nil {
			for _, j := range of {
				drawn, seen, err := p.movingMark(plan, settings, i, j)
				if err != nil {
					return err
				}
				shown[j] = shown[j] || seen
				if drawn == nil {
					continue
				}
				settings.Others = append(settings.Others, drawn)
				part := graph.Layer{Kind: graph.Alpha, Area: drawn.Bounds(), Draw: drawn.Draw}
				part.From, part.To = plan.span(j)
				keep := sides.keep(i)
				if clip.Matte == nil {
					keep = nil
				}
				marks.parts = append(marks.parts, live(part, pane.Turn.Shown, keep))
			}
			plan.marks = append(plan.marks, marks)
			clip.Layers = append(clip.Layers, marks.parts...)
			continue
		}
		drawn, err := deck.NewMarks(settings)
		if err != nil {
			return err
		}
		for _, w := range drawn.Warnings() {
			plan.warn(fmt.Sprintf("capture %s: %s", leg.Name, w))
		}
		for k, j := range of {
			area := drawn.Bounds(k)
			if area.Empty() {
				continue
			}
			shown[j] = true
			part := graph.Layer{Kind: graph.Alpha, Area: area, Still: true,
				Draw: func(dst []byte, _ int) { drawn.Draw(dst, k) }}
			if part.From, part.To = plan.markTime(j); part.To <= part.From {
				continue
			}
			if clip.Matte != nil {
				part = sides.cut(part, i)
			}
			marks.parts = append(marks.parts, turns(part, pane.Turn)...)
		}
		plan.marks = append(plan.marks, marks)
		clip.Layers = append(clip.Layers, marks.parts...)
	}
	for j, is := range shown {
		if !is {
			plan.warn(fmt.Sprintf("mark %d is outside of what the panes show", j+1))
		}
	}
	return nil
}

// span returns the output frames in which mark j stands, [from, to).
func (plan *Plan) span(j int) (from, to int64) {
	m, clip := plan.Scene.Marks[j], plan.Clip
	from, to = clip.FrameAt(m.From), clip.Frames
	if m.To > 0 && m.To < plan.Scene.Length {
		to = clip.FrameAt(m.To)
	}
	return from, to
}

// markTime is span, and warns when there is no such frame.
func (plan *Plan) markTime(j int) (from, to int64) {
	if from, to = plan.span(j); to <= from {
		m := plan.Scene.Marks[j]
		plan.warn(fmt.Sprintf("mark %d is on screen for no frame: it goes at %v and appears at %v",
			j+1, m.To, m.From))
	}
	return from, to
}

// movingMark draws mark j into a pane whose window moves, frame by frame; nil when
// it has none. seen says that it is not one that the pane never shows.
func (p *Project) movingMark(plan *Plan, settings deck.MarkSettings,
	pane, j int) (drawn *deck.Moving, seen bool, err error) {
	from, to := plan.markTime(j)
	if to <= from {
		return nil, true, nil
	}
	at, m := plan.Clip.Panes[pane], plan.Scene.Marks[j]
	leg := plan.Clip.Inputs[at.Input]
	drawn, err = deck.NewMoving(settings, from, to, at.Turn.Shown,
		func(k int64) deck.Mark { return markAt(at, leg, m, k) })
	if err != nil {
		return nil, false, err
	}
	for _, w := range drawn.Warnings() {
		plan.warn(fmt.Sprintf("capture %s: %s", leg.Name, w))
	}
	if drawn.Bounds().Empty() {
		return nil, false, nil
	}
	return drawn, true, nil
}

// markAt returns a mark as it lies in a pane at output frame k.
func markAt(pane graph.Pane, leg graph.Input, m comparison.Mark, k int64) deck.Mark {
	one := deck.Mark{Shape: shapes[m.Shape], Note: m.Note}
	place := func(at comparison.Point) (x, y float64) {
		size := leg.Capture.DisplaySize()
		return pane.Place(k, at.X.Float()*float64(size.X), at.Y.Float()*float64(size.Y))
	}
	one.X0, one.Y0 = place(m.A)
	one.X1, one.Y1 = place(m.B)
	return one
}

// turns parts a mark's time into the stretches in which its pane is shown.
func turns(part graph.Layer, t *graph.Turn) []graph.Layer {
	if t == nil {
		return []graph.Layer{part}
	}
	var list []graph.Layer
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
	return []graph.Layer{live(part, t.Shown, nil)}
}

// mostStretches bounds the streams of one mark.
const mostStretches = 12

// live makes a part that is drawn frame by frame: nothing where it is not shown,
// and of its pixels those that keep keeps.
func live(part graph.Layer, shown func(k int64) bool, keep func(k int, at image.Point) bool) graph.Layer {
	from, to, r, draw := part.From, part.To, part.Area, part.Draw
	size := graph.LayerBytes(part.Kind, r.Size())
	alpha := size - r.Dx()*r.Dy()
	if part.Still {
		whole := make([]byte, size)
		draw(whole, 0)
		draw = func(dst []byte, _ int) { copy(dst, whole) }
	}
	part.Still, part.From, part.To = false, 0, 0
	part.Draw = func(dst []byte, k int) {
		draw(dst, k)
		if int64(k) < from || int64(k) >= to || !shown(int64(k)) {
			clear(dst[alpha:size])
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
	clip  *graph.Clip
	codes []byte
	at    int
}

func sidesOf(c *graph.Clip) *wipeSides { return &wipeSides{clip: c, at: -1} }

// keep tells the pixels of a pane's side of the line, without the line itself.
func (s *wipeSides) keep(pane int) func(k int, at image.Point) bool {
	area, n := s.clip.Panes[pane].Area, len(s.clip.Panes)
	return func(k int, at image.Point) bool {
		if s.at != k || s.codes == nil {
			if s.codes == nil {
				s.codes = make([]byte, area.Dx()*area.Dy())
			}
			s.clip.Matte.Draw(s.codes, k)
			s.at = k
		}
		at = at.Sub(area.Min)
		off := int(s.codes[at.Y*area.Dx()+at.X]) - graph.MatteCode(pane, n)
		return -1 <= off && off <= 1
	}
}

// cut keeps a mark that stands still to its pane's side of the line.
func (s *wipeSides) cut(part graph.Layer, pane int) graph.Layer {
	moving := live(part, func(int64) bool { return true }, s.keep(pane))
	if !s.clip.Matte.Still {
		return moving
	}
	from := int(part.From)
	part.Draw = func(dst []byte, _ int) { moving.Draw(dst, from) }
	return part
}
