package render

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"

	"fairframe/render/check"
	"fairframe/render/comparison"
	"fairframe/render/deck"
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
	plan, unnamed, err := st.plan()
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
	st.Warnings = append(st.Warnings, unnamed...)
	return st, nil
}

// plan plans the scene, and takes from the clip what the options want to see. unnamed is
// what the picture then does not say itself.
func (s *Stills) plan() (plan *scene.Planned, unnamed []finding.Finding, err error) {
	if plan, err = scene.Plan(s.footage); err != nil {
		return nil, nil, err
	}
	if s.clip = plan.Clip; s.options.Pane != "" || s.options.NoDeck {
		s.clip, unnamed, err = plan.Bare(s.options.Pane)
	}
	return plan, unnamed, err
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
		if _, _, err := s.plan(); err != nil {
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

// maxMoments bounds a contact sheet.
const maxMoments = 100

// Sheet makes a contact sheet: n moments of the scene, evenly spaced and each in the
// middle of its share, with the scene time below. tell, if set, is told of pictures done.
func (s *Stills) Sheet(ctx context.Context, n int, tell Progress) ([]byte, error) {
	if n < 1 || n > maxMoments {
		return nil, &finding.Error{Msg: fmt.Sprintf("a contact sheet of %d moments", n),
			Hint: fmt.Sprintf("1 to %d moments fit a sheet", maxMoments)}
	}
	sheet := deck.NewSheet(n, s.footage.Fonts)
	for i := range n {
		k := (2*int64(i) + 1) * s.clip.Frames / (2 * int64(n))
		picture, err := s.Picture(ctx, k)
		if err != nil {
			return nil, err
		}
		text := fmt.Sprintf("%.2f s · f%d", s.clip.Rate.TimeOf(k).Seconds(), k)
		if err := sheet.Add(picture, text); err != nil {
			return nil, err
		}
		if tell != nil {
			tell(int64(i+1), int64(n))
		}
	}
	return sheet.PNG()
}

// PreviewName is where a preview goes unless the user says otherwise: which, such as
// "sheet", tells it from others of its scene.
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
