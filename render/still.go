package render

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/media/deliver"
	"fairframe/render/media/graph"
	"fairframe/render/record"
	"fairframe/render/scratch"
)

// StillOptions say what of the output is pictured. The zero value is all of it.
type StillOptions struct {
	Pane   string // the key of the only capture to show, without deck; "": all
	NoDeck bool   // the panes alone
}

// Stills makes pictures of one scene.
type Stills struct {
	Warnings []string

	project *Project
	scene   *comparison.Scene
	clip    *graph.Clip
	plan    *Plan
	options StillOptions
	settled bool // the captures' stamps were looked at
}

// again plans the scene anew where its captures' stamps, looked at more closely, are
// not those of a constant rate. It reports whether they are not.
func (s *Stills) again(ctx context.Context) (bool, error) {
	s.settled = true
	list, err := s.project.captures(ctx, s.scene)
	if err != nil {
		return false, err
	}
	changed, err := s.project.settle(ctx, s.scene, list)
	if err != nil || !changed {
		return false, err
	}
	now, err := s.project.Stills(ctx, s.scene.ID, s.options)
	if err == nil {
		*s = *now
		s.settled = true
	}
	return err == nil, err
}

// Stills prepares to picture a scene: what is probed and read serves all
// moments.
func (p *Project) Stills(ctx context.Context, id string, o StillOptions) (*Stills, error) {
	s, err := p.File.Scene(id)
	if err != nil {
		return nil, err
	}
	// What is not measured yet is measured for this scene alone: a picture does not wait
	// for a whole capture.
	list, err := p.captures(ctx, s)
	if err != nil {
		return nil, err
	}
	plan, err := p.trial(ctx, s, list,
		func(one sceneCapture) (string, error) { return p.sceneLog(ctx, s, one) })
	if err != nil {
		return nil, err
	}
	st := &Stills{Warnings: plan.Warnings, project: p, scene: s, clip: plan.Clip, plan: plan, options: o}
	for _, f := range plan.gapFindings() {
		st.Warnings = append(st.Warnings, fmt.Sprintf("capture %s: %s: %s", f.Capture, f.What, f.Evidence))
	}
	if mapped := plan.Clip.Pictured(); mapped != "" {
		st.Warnings = append(st.Warnings, mapped)
	}
	if o.Pane == "" && !o.NoDeck {
		return st, nil
	}
	c := *plan.Clip
	c.Layers, c.Opening, c.Closing, c.Sound = nil, nil, nil, graph.Sound{}
	if s.View != comparison.ViewWipe || o.Pane != "" {
		c.Dividers = nil
	}
	if o.Pane != "" {
		if c.Panes = alone(plan, o.Pane); c.Panes == nil {
			return nil, &finding.Error{Msg: fmt.Sprintf("scene %s does not show a capture %q", s.ID, o.Pane),
				Hint: fmt.Sprintf("it shows: %s", strings.Join(plan.seen(), ", "))}
		}
		c.Matte = nil
	}
	for _, m := range plan.marks {
		at := plan.Clip.Panes[m.pane]
		for _, part := range m.parts {
			if o.Pane != "" {
				window := plan.windows[at.Input]
				if plan.Clip.Inputs[at.Input].Name != o.Pane || !at.Area.In(window.Area) {
					continue
				}
				part.Area = part.Area.Sub(window.Area.Min)
			}
			c.Layers = append(c.Layers, part)
		}
	}
	st.clip = &c
	st.Warnings = append(st.Warnings, unnamed(&c)...)
	return st, nil
}

// alone returns the window of one capture, moved to the picture's corner; nil
// when the scene shows none.
func alone(plan *Plan, key string) []graph.Pane {
	for _, p := range plan.windows {
		if p.Input >= 0 && plan.Clip.Inputs[p.Input].Name == key {
			p.Area = p.Area.Sub(p.Area.Min)
			return []graph.Pane{p}
		}
	}
	return nil
}

// seen are the keys of the captures whose windows the scene shows.
func (p *Plan) seen() []string {
	var list []string
	for _, w := range p.windows {
		if w.Input >= 0 {
			list = append(list, p.Clip.Inputs[w.Input].Name)
		}
	}
	return list
}

// unnamed says in warnings what a picture without tabs and labels does not say
// itself.
func unnamed(c *graph.Clip) []string {
	var w []string
	add := func(leg int, p graph.Pane) {
		if note := paneNote(p); note != "" {
			one := fmt.Sprintf("capture %s is shown %s, which the picture without its name tab does not say",
				c.Inputs[leg].Name, note)
			if !slices.Contains(w, one) {
				w = append(w, one)
			}
		}
	}
	for _, p := range c.Panes {
		add(p.Input, p)
		if l := p.Subtrahend; l != nil {
			add(l.Input, lessPane(p))
			w = append(w,
				fmt.Sprintf("the difference of captures %s and %s is shown x%s, which the picture "+
					"without its label does not say",
					c.Inputs[p.Input].Name, c.Inputs[l.Input].Name, shortDecimal(l.Gain.Rat())))
		}
	}
	if !c.Time.Plain() {
		w = append(w, "the picture does not say that the scene is slowed, sped up or held")
	}
	return w
}

// TitleFrame returns the number of the title page's first frame: it lies below
// zero, because frames count from the scene's start.
func (s *Stills) TitleFrame() (int64, error) {
	if s.clip.Lead() == 0 {
		return 0, &finding.Error{Msg: fmt.Sprintf("scene %s has no title page", s.scene.ID),
			Hint: "title: 2s gives it one; a pane alone has none"}
	}
	return -s.clip.Lead(), nil
}

// SummaryFrame returns the number of the closing page's first frame, which follows the
// scene's last.
func (s *Stills) SummaryFrame() (int64, error) {
	if s.clip.Closing == nil {
		return 0, &finding.Error{Msg: fmt.Sprintf("scene %s has no closing page", s.scene.ID),
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
			s.scene.ID, at, s.clip.Rate.TimeOf(total).Seconds(), total), Hint: hint}
	}
	return k, nil
}

// Picture returns output frame k, the very frame that Render encodes, as PNG.
func (s *Stills) Picture(ctx context.Context, k int64) ([]byte, error) {
	if k >= s.clip.Frames {
		// The closing page tells of the damage in all of the scene.
		if err := s.project.tolerate(ctx, s.plan); err != nil {
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
		if !errors.As(err, &d) || !s.scene.Tolerates(comparison.TolerateDecodeErrors) ||
			s.clip.Tolerates(d.Capture) {
			return png, err
		}
		one := s.plan.tolerable(d)
		s.Warnings = append(s.Warnings, one.String())
		s.clip.Tolerated = append(s.clip.Tolerated, *d)
	}
}

// Preview pictures the output frame that is on screen at a scene time, as PNG,
// and returns its number.
func (p *Project) Preview(ctx context.Context, id string,
	at comparison.Time) (png []byte, frame int64, warnings []string, err error) {
	s, err := p.Stills(ctx, id, StillOptions{})
	if err != nil {
		return nil, 0, nil, err
	}
	if frame, err = s.FrameAt(at); err != nil {
		return nil, 0, nil, err
	}
	png, err = s.Picture(ctx, frame)
	return png, frame, s.Warnings, err
}

// PreviewName is where a preview goes unless the user says otherwise: which tells it
// from others of its scene.
func (p *Project) PreviewName(id, which string) string {
	return filepath.Join(p.File.Output.Folder, id+"-"+which+".png")
}

// FrameName is what tells a frame's picture from others of its scene.
func FrameName(frame int64) string {
	if frame < 0 {
		return "title"
	}
	return fmt.Sprintf("f%05d", frame)
}

// SheetName is where a contact sheet goes unless the user says otherwise.
func (p *Project) SheetName(id string) string {
	return filepath.Join(p.File.Output.Folder, id+"-sheet.png")
}

// WritePreview writes a preview's picture, and makes the output folder if it is
// to lie there.
func (p *Project) WritePreview(name string, png []byte) error {
	picture, err := pictureFor(name, png)
	if err != nil {
		return err
	}
	return p.writePicture(name, picture)
}

func (p *Project) writePicture(name string, picture []byte) error {
	if filepath.Dir(name) == filepath.Clean(p.File.Output.Folder) {
		if err := os.MkdirAll(p.File.Output.Folder, 0o755); err != nil {
			return &finding.Error{Msg: fmt.Sprintf("output folder cannot be made: %v", scratch.Cause(err)),
				Hint: "set another output: folder:"}
		}
	}
	for _, s := range p.File.Scenes {
		for _, in := range record.Named(p.File, &s) {
			if media.SameFile(in, name) {
				return &finding.Error{Msg: fmt.Sprintf("the picture %s would overwrite an input", name),
					Hint: "choose another name"}
			}
		}
	}
	return scratch.WriteBytes(name, picture)
}
