package check

import (
	"context"
	"fmt"
	"image"
	"time"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/media/graph"
	"fairframe/render/scene"
)

// plan works the scene out as for rendering, keeps what that says, and returns the
// clip that would be made; nil when there would be none.
func (c *checker) plan(ctx context.Context, s *comparison.Scene) *graph.Clip {
	// The very log that rendering will use: it keeps for that.
	plan, err := scene.PlanScene(ctx, c.p, s)
	if err != nil {
		if ctx.Err() == nil {
			c.add("", s.ID, finding.OfError("the scene cannot be rendered", err))
		}
		return nil
	}
	for _, t := range plan.Takes {
		if t.Trace == nil {
			continue
		}
		c.add(t.Key, s.ID, Doubt(t.Doubt(s), t.Start)...)
		if t.Pacing.Measure {
			g := t.Trace.Figures(t.Start, t.Start+s.Length, t.Probed.Rate)
			c.add(t.Key, s.ID, Measured(g.Count, g.Still, t.Start)...)
		}
	}
	// What the captures themselves are like has findings of its own.
	c.add("", s.ID, plan.Footage.Warnings...)
	c.add("", s.ID, plan.Warnings...)
	c.add("", s.ID, plan.Gaps()...)
	c.windows(s, plan)
	return plan.Clip
}

// windows judges what the panes show of the captures, of windows that move at each
// of their stops.
func (c *checker) windows(s *comparison.Scene, plan *scene.Planned) {
	instants := []time.Duration{0}
	for _, pane := range plan.Windows {
		if pane.Input < 0 {
			continue
		}
		leg := plan.Clip.Inputs[pane.Input]
		w := s.Window[leg.Name]
		size := leg.Capture.DisplaySize()
		view := View{Capture: size, Pane: pane.Shot.Pane, Kernel: pane.Kernel, Whole: w.Whole}
		var stops []View
		for _, m := range w.Moves {
			view.CenterX, view.CenterY = m.Center.X.Float(), m.Center.Y.Float()
			view.Scale = m.Magnify.Float() * enlarging(plan.Clip.Size, size)
			view.Stop = fmt.Sprintf("at its stop at %v: ", m.At)
			stops = append(stops, view)
			instants = append(instants, m.At)
		}
		if len(stops) == 0 {
			view.Scale, _ = pane.Shot.Scale.Float64()
			view.CenterX, view.CenterY = w.Center.X.Float(), w.Center.Y.Float()
			stops = append(stops, view)
		}
		c.add(leg.Name, s.ID, Views(stops...)...)
	}
	var magnify [][]Named[float64]
	for _, at := range instants {
		var list []Named[float64]
		for _, pane := range plan.Windows {
			if pane.Input < 0 {
				continue
			}
			leg := plan.Clip.Inputs[pane.Input]
			scale, _ := pane.Shot.Scale.Float64()
			if pane.Glide != nil {
				_, _, scale = pane.Glide.At(float64(plan.Clip.FrameAt(at)))
			}
			list = append(list, Named[float64]{Key: leg.Name,
				Value: scale / enlarging(plan.Clip.Size, leg.Capture.DisplaySize())})
		}
		magnify = append(magnify, list)
	}
	c.add("", s.ID, Scales(instants, magnify)...)
	c.add("", s.ID, Empty(plan.Windows, plan.Clip.Size)...)
}

// enlarging is the scale at which a capture's shorter side is the output's.
func enlarging(output, capture image.Point) float64 {
	return float64(min(output.X, output.Y)) / float64(min(capture.X, capture.Y))
}
