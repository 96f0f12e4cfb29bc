package scene

import (
	"context"
	"fmt"
	"slices"

	"fairframe/layout"
	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
)

// Planned is a scene that is ready to be rendered.
type Planned struct {
	*Footage
	Screen   layout.Screen
	Clip     *graph.Clip
	Windows  []graph.Pane      // of each capture, see composition
	Marks    []PaneMarks       // in the panes that have some
	Warnings []finding.Finding // of the plan alone; see AllWarnings
}

// AllWarnings are what the user should know of the clip.
func (p *Planned) AllWarnings() []finding.Finding {
	return slices.Concat(p.CaptureWarnings(), p.Footage.Warnings, p.Warnings)
}

// Plan makes a clip of footage: it solves the screen, cuts the windows, and sets up all
// that is drawn. It reads and writes nothing.
func Plan(f *Footage) (*Planned, error) {
	s, d := f.Scene, f.Delivery
	failed := func(err error) error { return fmt.Errorf("scene %s: %w", s.ID, err) }
	var w warnings
	rate, slower := d.Rate(f.File.Output.Rate)
	if slower != "" {
		w.plain(slower)
	}
	w.add(d.Warnings...)
	passing, err := s.Time(rate)
	if err != nil {
		return nil, failed(err)
	}
	view, err := compose(f, rate, passing.Frames())
	if err != nil {
		return nil, err
	}
	w.add(view.warnings...)
	if f, flashes := ofFlashes(s, view.panes, rate, passing.Frames()); flashes {
		w.add(f)
	}
	clip := &graph.Clip{
		Size: f.File.Output.Size, Rate: rate, Frames: passing.Frames(), Time: passing,
		Panes: view.panes, Dividers: view.dividers, Matte: view.wipe, Delivery: d, Tolerated: f.damage,
	}
	for _, t := range f.Takes {
		clip.Inputs = append(clip.Inputs, graph.Input{Name: t.Key, Capture: t.Probed, Start: t.Start})
	}
	w.add(clip.Conversions()...)
	if !d.Silent() {
		clip.Sound = soundOf(f, passing, &w)
	}
	if err := clip.Check(); err != nil {
		return nil, err
	}
	if clip.Opening, err = titlePage(f, rate, &w); err != nil {
		return nil, failed(err)
	}
	if clip.Timecode, err = timecodeText(f, rate, passing, &w); err != nil {
		return nil, err
	}
	for _, t := range f.Takes {
		if n, all := NeverShown(t, s, rate); n > 0 {
			w.add(UnseenFinding(t, rate, n, all))
		}
	}
	if clip.Closing, err = closingPage(f, rate, Remarks(f.File, f.Tolerated()), &w); err != nil {
		return nil, failed(err)
	}
	sign, err := signOf(f, clip, view)
	if err != nil {
		return nil, err
	}
	marks, err := marksOf(f, clip, avoidedBy(view, sign), &w)
	if err != nil {
		return nil, failed(err)
	}
	for _, one := range marks {
		clip.Layers = append(clip.Layers, one.Layers...)
	}
	drawn, err := drawDeck(f, clip, view, sign, &w)
	if err != nil {
		return nil, failed(err)
	}
	clip.Layers = append(clip.Layers, drawn...)
	if d.OverlayOnly && len(clip.Layers) == 0 {
		return nil, &finding.Error{Msg: fmt.Sprintf("scene %s draws nothing, and an overlay shows only what "+
			"is drawn", s.ID), Hint: "set deck: {place: below} or deck: {tabs: true}, or another delivery"}
	}
	return &Planned{Footage: f, Screen: view.screen, Clip: clip, Windows: view.windows, Marks: marks,
		Warnings: w}, nil
}

// PlanScene gathers the footage of a scene and plans it. What is not measured yet is, and
// its log is kept.
func PlanScene(ctx context.Context, p *Project, s *comparison.Scene) (*Planned, error) {
	footage, err := Gather(ctx, p, s, KeepLog)
	if err != nil {
		return nil, err
	}
	return Plan(footage)
}

// refreshOf takes the fastest capture's rate for the display's refresh: a
// capture records what a display would show, one frame a refresh (common
// practice).
func refreshOf(c *graph.Clip) pacing.Rate {
	most := c.Inputs[0].Capture.Rate
	for _, l := range c.Inputs[1:] {
		if l.Capture.Rate.Hz() > most.Hz() {
			most = l.Capture.Rate
		}
	}
	return most
}

// unlocked reports whether any capture keeps to no refresh.
func unlocked(c *graph.Clip) bool {
	return slices.ContainsFunc(c.Inputs, func(l graph.Input) bool { return !l.Capture.Refresh().Valid() })
}
