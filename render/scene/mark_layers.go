package scene

import (
	"image"

	"fairframe/render/media/graph"
)

// turns splits a mark's time into the stretches in which its pane is shown.
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
