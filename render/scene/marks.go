package scene

import (
	"fmt"
	"image"
	"slices"
	"time"

	"fairframe/fonts"
	"fairframe/layout"
	"fairframe/render/comparison"
	"fairframe/render/deck"
	"fairframe/render/media/graph"
)

// PaneMarks are the marks that stand in one pane.
type PaneMarks struct {
	Pane   int
	Layers []graph.Layer
}

// shapes are the deck's names of the shapes of marks.
var shapes = map[string]deck.Shape{comparison.MarkBox: deck.Box, comparison.MarkArrow: deck.Arrow,
	comparison.MarkNote: deck.Note}

// avoidedBy is where the screen shows text and lines, which marks leave alone.
func avoidedBy(view composition, sign *deck.Sign) []image.Rectangle {
	avoid := slices.Clone(view.screen.Dividers)
	if view.screen.Place == layout.None {
		for _, t := range view.screen.Tabs {
			avoid = append(avoid, t.Box)
		}
	} else {
		avoid = append(avoid, view.screen.Strip)
	}
	for _, l := range view.screen.Labels {
		avoid = append(avoid, l.Box)
	}
	if sign != nil {
		avoid = append(avoid, sign.Area)
	}
	return avoid
}

// marker draws the marks of a scene.
type marker struct {
	marks  []comparison.Mark
	length time.Duration // of the scene
	clip   *graph.Clip
	fonts  *fonts.Set
	sides  *wipeSides
	seen   []bool // which marks some pane shows
	*warnings
}

// marksOf draws the scene's marks into every pane that shows their capture. They lie
// over the panes and under the deck.
func marksOf(f *Footage, clip *graph.Clip, avoid []image.Rectangle, w *warnings) ([]PaneMarks, error) {
	s := f.Scene
	if len(s.Marks) == 0 {
		return nil, nil
	}
	m := &marker{s.Marks, s.Length, clip, f.Fonts, sidesOf(clip), make([]bool, len(s.Marks)), w}
	var list []PaneMarks
	for i := range clip.Panes {
		layers, err := m.pane(i, slices.Clip(avoid))
		if err != nil {
			return nil, err
		}
		list = append(list, PaneMarks{i, layers})
	}
	for j, is := range m.seen {
		if !is {
			w.plain(fmt.Sprintf("mark %d is outside of what the panes show", j+1))
		}
	}
	return list, nil
}

// pane draws the marks of one pane.
func (m *marker) pane(i int, avoid []image.Rectangle) ([]graph.Layer, error) {
	pane := m.clip.Panes[i]
	input := m.clip.Inputs[pane.Input]
	settings := deck.MarkSettings{Size: m.clip.Size, Area: pane.Area, Avoid: avoid, Fonts: m.fonts}
	for _, later := range m.clip.Panes[i+1:] {
		if later.Area != pane.Area && later.Area.Overlaps(pane.Area) {
			settings.Avoid = append(settings.Avoid, later.Area) // it lies over this one
		}
	}
	var of []int // the marks that settings hold
	for j, one := range m.marks {
		if one.Capture != "" && one.Capture != input.Name {
			continue
		}
		drawn := markAt(pane, input, one, 0)
		drawn.From, drawn.To = m.span(j)
		settings.Marks = append(settings.Marks, drawn)
		of = append(of, j)
	}
	if pane.Glide != nil {
		return m.moving(i, settings, of)
	}
	return m.standing(i, settings, of)
}

// moving draws marks into a pane whose window moves.
func (m *marker) moving(i int, settings deck.MarkSettings, of []int) (layers []graph.Layer, err error) {
	pane := m.clip.Panes[i]
	for _, j := range of {
		drawn, seen, err := m.movingMark(settings, i, j)
		if err != nil {
			return nil, err
		}
		m.seen[j] = m.seen[j] || seen
		if drawn == nil {
			continue
		}
		settings.Others = append(settings.Others, drawn)
		layer := graph.Layer{Kind: graph.Alpha, Area: drawn.Bounds(), Draw: drawn.Draw}
		layer.From, layer.To = m.span(j)
		var keep func(int, image.Point) bool
		if m.clip.Matte != nil {
			keep = m.sides.keep(i)
		}
		layers = append(layers, live(layer, pane.Turn.Shown, keep))
	}
	return layers, nil
}

// standing draws marks into a pane whose window stands still.
func (m *marker) standing(i int, settings deck.MarkSettings, of []int) (layers []graph.Layer, err error) {
	pane := m.clip.Panes[i]
	drawn, err := deck.NewMarks(settings)
	if err != nil {
		return nil, err
	}
	m.cutIn(m.clip.Inputs[pane.Input].Name, drawn.Warnings())
	for k, j := range of {
		area := drawn.Bounds(k)
		if area.Empty() {
			continue
		}
		m.seen[j] = true
		layer := graph.Layer{Kind: graph.Alpha, Area: area, Still: true,
			Draw: func(dst []byte, _ int) { drawn.Draw(dst, k) }}
		if layer.From, layer.To = m.time(j); layer.To <= layer.From {
			continue
		}
		if m.clip.Matte != nil {
			layer = m.sides.cut(layer, i)
		}
		layers = append(layers, turns(layer, pane.Turn)...)
	}
	return layers, nil
}

// cutIn adds what was shortened or left out in the panes of a capture.
func (w *warnings) cutIn(capture string, words []string) {
	for _, one := range words {
		n := len(*w)
		w.cut(one)
		(*w)[n].Capture, (*w)[n].Words = capture, fmt.Sprintf("capture %s: %s", capture, one)
	}
}

// span returns the output frames in which mark j stands, [from, to).
func (m *marker) span(j int) (from, to int64) {
	one := m.marks[j]
	from, to = m.clip.FrameAt(one.From), m.clip.Frames
	if one.To > 0 && one.To < m.length {
		to = m.clip.FrameAt(one.To)
	}
	return from, to
}

// time is span, and warns when there is no such frame.
func (m *marker) time(j int) (from, to int64) {
	if from, to = m.span(j); to <= from {
		m.plain(fmt.Sprintf("mark %d is on screen for no frame: it goes at %v and appears at %v",
			j+1, m.marks[j].To, m.marks[j].From))
	}
	return from, to
}

// movingMark draws mark j into a pane whose window moves, frame by frame; nil when
// it has none. seen says that it is not one that the pane never shows.
func (m *marker) movingMark(settings deck.MarkSettings,
	pane, j int) (drawn *deck.Moving, seen bool, err error) {
	from, to := m.time(j)
	if to <= from {
		return nil, true, nil
	}
	at, one := m.clip.Panes[pane], m.marks[j]
	input := m.clip.Inputs[at.Input]
	drawn, err = deck.NewMoving(settings, from, to, at.Turn.Shown,
		func(k int64) deck.Mark { return markAt(at, input, one, k) })
	if err != nil {
		return nil, false, err
	}
	m.cutIn(input.Name, drawn.Warnings())
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
