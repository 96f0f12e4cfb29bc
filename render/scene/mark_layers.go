package scene

import (
	"image"

	"fairframe/render/media/graph"
)

// turns splits the time of a mark into the stretches in which its pane is on screen.
func turns(layer graph.Layer, t *graph.Turn) []graph.Layer {
	if t == nil {
		return []graph.Layer{layer}
	}
	var list []graph.Layer
	for k := layer.From; k < layer.To; k++ {
		switch n := len(list); {
		case !t.Shown(k):
		case n > 0 && list[n-1].To == k:
			list[n-1].To++
		default:
			one := layer
			one.From, one.To = k, k+1
			list = append(list, one)
		}
	}
	if len(list) <= mostStretches {
		return list
	}
	// So many layers cost more than one that is drawn frame by frame.
	return []graph.Layer{live(layer, t.Shown, nil)}
}

// mostStretches is how many layers one mark may have.
const mostStretches = 12

// live draws a layer frame by frame. It is transparent while it is not shown, and where
// keep, if given, says no.
func live(layer graph.Layer, shown func(k int64) bool, keep func(k int, at image.Point) bool) graph.Layer {
	from, to, r, draw := layer.From, layer.To, layer.Area, layer.Draw
	size := graph.LayerBytes(layer.Kind, r.Size())
	alpha := size - r.Dx()*r.Dy()
	if layer.Still {
		whole := make([]byte, size)
		draw(whole, 0)
		draw = func(dst []byte, _ int) { copy(dst, whole) }
	}
	layer.Still, layer.From, layer.To = false, 0, 0
	layer.Draw = func(dst []byte, k int) {
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
	return layer
}

// wipeSides tells where each pane of a wipe is on screen. It remembers one frame.
type wipeSides struct {
	clip  *graph.Clip
	codes []byte
	at    int
}

func sidesOf(c *graph.Clip) *wipeSides { return &wipeSides{clip: c, at: -1} }

// keep reports whether a pixel is on a pane's side of the line. The line is on no side.
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

// cut keeps a still mark on its pane's side of the line.
func (s *wipeSides) cut(layer graph.Layer, pane int) graph.Layer {
	moving := live(layer, func(int64) bool { return true }, s.keep(pane))
	if !s.clip.Matte.Still {
		return moving
	}
	from := int(layer.From)
	layer.Draw = func(dst []byte, _ int) { moving.Draw(dst, from) }
	return layer
}
