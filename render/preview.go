package render

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"fairframe/render/check"
	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/media/deliver"
	"fairframe/render/media/graph"
	"fairframe/render/scene"
)

// StillOptions say what of the output is pictured. The zero value is all of it.
type StillOptions struct {
	Pane   string // the key of the only capture to show, without deck; "": all
	NoDeck bool   // the panes alone
}

// Stills makes pictures of one scene.
type Stills struct {
	Warnings []finding.Finding

	project *scene.Project
	footage *scene.Footage
	clip    *graph.Clip
	options StillOptions
	settled bool // the captures' stamps were looked at
}

// NewStills prepares to picture a scene: what is probed and read serves all moments.
// What is not measured yet is measured for this scene alone: a picture does not wait for
// a whole capture.
func NewStills(ctx context.Context, p *scene.Project, id string, o StillOptions) (*Stills, error) {
	s, err := p.File.Scene(id)
	if err != nil {
		return nil, err
	}
	footage, err := scene.Gather(ctx, p, s, scene.MeasureStretch)
	if err != nil {
		return nil, err
	}
	st := &Stills{project: p, footage: footage, options: o}
	plan, err := st.plan()
	if err != nil {
		return nil, err
	}
	st.Warnings = plan.AllWarnings()
	for _, f := range footage.Gaps() {
		st.Warnings = append(st.Warnings,
			finding.Plain(fmt.Sprintf("capture %s: %s: %s", f.Capture, f.What, f.Evidence)))
	}
	if mapped := plan.Clip.Pictured(); mapped != "" {
		st.Warnings = append(st.Warnings, finding.Plain(mapped))
	}
	if st.clip != plan.Clip {
		st.Warnings = append(st.Warnings, unnamed(st.clip)...)
	}
	return st, nil
}

// plan plans the scene, and takes from the clip what the options want to see.
func (s *Stills) plan() (*scene.Planned, error) {
	plan, err := scene.Plan(s.footage)
	if err == nil {
		s.clip, err = part(plan, s.options)
	}
	return plan, err
}

// part is the clip, or what the options want to see of it.
func part(plan *scene.Planned, o StillOptions) (*graph.Clip, error) {
	if o.Pane == "" && !o.NoDeck {
		return plan.Clip, nil
	}
	c := *plan.Clip
	c.Layers, c.Opening, c.Closing, c.Sound = nil, nil, nil, graph.Sound{}
	if plan.Scene.View != comparison.ViewWipe || o.Pane != "" {
		c.Dividers = nil
	}
	if o.Pane != "" {
		if c.Panes = alone(plan, o.Pane); c.Panes == nil {
			return nil, &finding.Error{Msg: fmt.Sprintf("scene %s does not show a capture %q", plan.Scene.ID,
				o.Pane), Hint: fmt.Sprintf("it shows: %s", strings.Join(seen(plan), ", "))}
		}
		c.Matte = nil
	}
	for _, m := range plan.Marks {
		at := plan.Clip.Panes[m.Pane]
		for _, layer := range m.Layers {
			if o.Pane != "" {
				window := plan.Windows[at.Input]
				if plan.Clip.Inputs[at.Input].Name != o.Pane || !at.Area.In(window.Area) {
					continue
				}
				layer.Area = layer.Area.Sub(window.Area.Min)
			}
			c.Layers = append(c.Layers, layer)
		}
	}
	return &c, nil
}

// again reads the scene anew where its captures' stamps, looked at more closely, are not
// those of a constant rate. It reports whether they are not.
func (s *Stills) again(ctx context.Context) (bool, error) {
	s.settled = true
	changed, err := check.Settle(ctx, s.project, s.footage.Scene, s.footage.Takes)
	if err != nil || !changed {
		return false, err
	}
	now, err := NewStills(ctx, s.project, s.footage.Scene.ID, s.options)
	if err == nil {
		*s = *now
		s.settled = true
	}
	return err == nil, err
}

// alone returns the window of one capture, moved to the picture's corner; nil
// when the scene shows none.
func alone(plan *scene.Planned, key string) []graph.Pane {
	for _, p := range plan.Windows {
		if p.Input >= 0 && plan.Clip.Inputs[p.Input].Name == key {
			p.Area = p.Area.Sub(p.Area.Min)
			return []graph.Pane{p}
		}
	}
	return nil
}

// seen are the keys of the captures whose windows the scene shows.
func seen(p *scene.Planned) []string {
	var list []string
	for _, w := range p.Windows {
		if w.Input >= 0 {
			list = append(list, p.Clip.Inputs[w.Input].Name)
		}
	}
	return list
}

// unnamed says in warnings what a picture without tabs and labels does not say
// itself.
func unnamed(c *graph.Clip) []finding.Finding {
	var w []finding.Finding
	say := func(format string, args ...any) {
		if one := finding.Plain(fmt.Sprintf(format, args...)); !slices.Contains(w, one) {
			w = append(w, one)
		}
	}
	scale := func(p graph.Pane) {
		if note := scene.PaneNote(p); note != "" {
			say("capture %s is shown %s, which the picture without its name tab does not say",
				c.Inputs[p.Input].Name, note)
		}
	}
	for _, p := range c.Panes {
		scale(p)
		if l := p.Subtrahend; l != nil {
			scale(scene.LessPane(p))
			say("the difference of captures %s and %s is shown x%s, which the picture without its label "+
				"does not say", c.Inputs[p.Input].Name, c.Inputs[l.Input].Name, scene.ShortDecimal(l.Gain.Rat()))
		}
	}
	if !c.Time.Plain() {
		say("the picture does not say that the scene is slowed, sped up or held")
	}
	return w
}

// TitleFrame returns the number of the title page's first frame: it lies below
// zero, because frames count from the scene's start.
func (s *Stills) TitleFrame() (int64, error) {
	if s.clip.Lead() == 0 {
		return 0, &finding.Error{Msg: fmt.Sprintf("scene %s has no title page", s.footage.Scene.ID),
			Hint: "title: 2s gives it one; a pane alone has none"}
	}
	return -s.clip.Lead(), nil
}

// SummaryFrame returns the number of the closing page's first frame, which follows the
// scene's last.
func (s *Stills) SummaryFrame() (int64, error) {
	if s.clip.Closing == nil {
		return 0, &finding.Error{Msg: fmt.Sprintf("scene %s has no closing page", s.footage.Scene.ID),
			Hint: "summary: 4s gives it one; a pane alone has none"}
	}
	return s.clip.Frames, nil
}

// FrameAt returns the output frame that is on screen at a scene time, which may
// lie in the closing page.
func (s *Stills) FrameAt(at comparison.Time) (int64, error) {
	t, err := at.At(s.clip.Rate)
	if err != nil {
		return 0, err
	}
	total := s.clip.Total() - s.clip.Lead()
	k := s.clip.Rate.FrameAt(t)
	if k < 0 || k >= total {
		hint := "--at counts from the scene's start"
		if !s.clip.Time.Plain() {
			hint += ", in the clip's time, with speed: and hold:"
		}
		if s.clip.Lead() > 0 {
			hint += ", which the title page precedes; --at title is that page"
		}
		return 0, &finding.Error{Msg: fmt.Sprintf("scene %s has no picture at %s; it is %.2f s long (%d frames)",
			s.footage.Scene.ID, at, s.clip.Rate.TimeOf(total).Seconds(), total), Hint: hint}
	}
	return k, nil
}

// Picture returns output frame k, the very frame that Render encodes, as PNG.
func (s *Stills) Picture(ctx context.Context, k int64) ([]byte, error) {
	if k >= s.clip.Frames {
		// The closing page tells of the damage in all of the scene.
		footage, err := damaged(ctx, s.project, s.footage, s.clip)
		if err != nil {
			return nil, err
		}
		s.footage = footage
		if _, err := s.plan(); err != nil {
			return nil, err
		}
	}
	for {
		png, err := deliver.Still(ctx, s.project.Tools, s.clip, k)
		if err != nil && !s.settled && ctx.Err() == nil {
			// Perhaps a capture does not keep to the rate that its container names.
			if again, err2 := s.again(ctx); again && err2 == nil {
				continue
			}
		}
		var d *media.Damaged
		if !errors.As(err, &d) || !s.footage.Scene.Tolerates(comparison.TolerateDecodeErrors) ||
			s.clip.Tolerates(d.Capture) {
			return png, err
		}
		s.Warnings = append(s.Warnings, finding.Plain(s.footage.OfDamage(d).String()))
		known := *s.clip
		known.Tolerated = append(slices.Clip(known.Tolerated), *d)
		s.clip = &known
	}
}

// PreviewName is where a preview goes unless the user says otherwise: which tells it
// from others of its scene.
func PreviewName(f *comparison.File, id, which string) string {
	return filepath.Join(f.Output.Folder, id+"-"+which+".png")
}

// FrameName is what tells a frame's picture from others of its scene.
func FrameName(frame int64) string {
	if frame < 0 {
		return "title"
	}
	return fmt.Sprintf("f%05d", frame)
}

// SheetName is where a contact sheet goes unless the user says otherwise.
func SheetName(f *comparison.File, id string) string {
	return filepath.Join(f.Output.Folder, id+"-sheet.png")
}
