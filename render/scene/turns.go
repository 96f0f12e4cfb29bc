package scene

import (
	"fmt"
	"slices"

	"fairframe/render/comparison"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
)

// addTurns gives each pane the frames at which it is shown.
func (c *composition) addTurns(s *comparison.Scene, r pacing.Rate, frames int64) {
	n := int64(len(c.panes))
	turns := make([]graph.Turn, n)
	if every := s.Alternate.Every; every > 0 {
		// Whole frames, so that each is shown for the same time.
		each := max(1, r.FramesIn(every))
		for i := range n {
			turns[i] = graph.Turn{Cycle: n * each, Spans: []graph.Span{{From: i * each, To: (i + 1) * each}}}
		}
	} else {
		from := int64(0)
		for i, t := range append(slices.Clone(s.Alternate.At), 0) {
			to := r.FrameAt(t)
			if r.TimeOf(to) < t {
				to++
			}
			if i == len(s.Alternate.At) {
				to = frames
			}
			if to = min(to, frames); from < to {
				turn := &turns[int64(i)%n]
				turn.Spans = append(turn.Spans, graph.Span{From: from, To: to})
				from = to
			}
		}
	}
	var list []graph.Pane
	for i, p := range c.panes {
		turn := turns[i]
		if len(turn.Spans) == 0 || turn.Spans[0].From >= frames {
			c.warnings.plain(fmt.Sprintf("capture %s is never on screen", s.Captures[i]))
			continue
		}
		p.Turn = &turn
		list = append(list, p)
	}
	c.panes = list
	c.shown = func(k int) int {
		for _, p := range list {
			if p.Turn.Shown(int64(k)) {
				return p.Input
			}
		}
		return -1
	}
}
