package graph

import (
	"fmt"
	"image"
	"slices"
	"strings"

	ffmpeg "github.com/u2takey/ffmpeg-go"
)

// Turn says in which output frames a pane is shown. The panes of a clip that
// have turns share one place, and at any time it is one pane's turn.
type Turn struct {
	Spans []Span
	Cycle int64 // frames after which it all begins anew; 0: never
}

// Span is the output frames from From up to, but not including, To.
type Span struct{ From, To int64 }

// Shown reports whether the pane is shown at frame k.
func (t *Turn) Shown(k int64) bool {
	if t == nil {
		return true
	}
	if t.Cycle > 0 {
		k %= t.Cycle
	}
	return slices.ContainsFunc(t.Spans, func(s Span) bool { return s.From <= k && k < s.To })
}

// expression is the same for ffmpeg, in whole numbers.
func (t *Turn) expression() string {
	n := "n"
	if t.Cycle > 0 {
		n = fmt.Sprintf("mod(n,%d)", t.Cycle)
	}
	var list []string
	for _, s := range t.Spans {
		list = append(list, fmt.Sprintf("between(%s,%d,%d)", n, s.From, s.To-1))
	}
	return strings.Join(list, "+")
}

// checkTurns makes sure that of the panes with turns one is shown at any time,
// and that each has a turn within the clip.
func (c *Clip) checkTurns() error {
	var list []Pane
	for _, p := range c.Panes {
		if p.Turn != nil {
			list = append(list, p)
		}
	}
	if len(list) == 0 {
		return nil
	}
	end := c.Frames
	for _, p := range list {
		if p.Area != list[0].Area {
			return fmt.Errorf("media: panes at %v and %v take turns", p.Area, list[0].Area)
		}
		if p.Turn.Cycle > 0 {
			end = min(end, p.Turn.Cycle)
		}
	}
	for k := range end {
		n := 0
		for _, p := range list {
			if p.Turn.Shown(k) {
				n++
			}
		}
		if n != 1 {
			return fmt.Errorf("media: it is the turn of %d panes at frame %d", n, k)
		}
	}
	return nil
}

// turns joins the panes that take turns to one, in the place of the first of
// them. Each has only the frames of its turns, so that the windows of the others
// cost nothing; an overlay that is switched on and off would scale them all and
// copy the picture.
func (g *graph) turns(panes []*ffmpeg.Stream, areas []image.Rectangle) ([]*ffmpeg.Stream, []image.Rectangle) {
	var taking []*ffmpeg.Stream
	var list []*ffmpeg.Stream
	var where []image.Rectangle
	at := -1
	for i := range panes {
		if len(panes) == len(g.clip.Panes) && g.clip.Panes[i].Turn != nil {
			if at < 0 {
				at = len(list)
				list, where = append(list, nil), append(where, areas[i])
			}
			taking = append(taking, panes[i])
			continue
		}
		list, where = append(list, panes[i]), append(where, areas[i])
	}
	if at < 0 {
		return panes, areas
	}
	s := taking[0]
	if len(taking) > 1 {
		s = g.join(taking, "interleave", fmt.Sprintf("nb_inputs=%d", len(taking)))
		// It counts in microseconds; frames are counted again.
		s = g.filter(s, "settb", fmt.Sprintf("%d/%d", g.clip.Rate.Den, g.clip.Rate.Num))
		s = g.filter(s, "setpts", "N")
		// It has also lost the rate, without which the last frame has no length.
		s = g.filter(s, "fps", g.clip.Rate.String(), "start_time=0")
	}
	list[at] = s
	return list, where
}
