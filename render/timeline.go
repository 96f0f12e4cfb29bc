package render

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/handoff"
	"fairframe/render/record"
	"fairframe/render/scene"
	"fairframe/render/scratch"
)

// CheckTimeline tells, before anything is rendered, whether a timeline can have
// that name.
func CheckTimeline(f *comparison.File, out string) error {
	ext := strings.ToLower(filepath.Ext(out))
	if !slices.Contains(handoff.Formats(), ext) {
		return &finding.Error{Msg: fmt.Sprintf("the timeline %q has an unknown ending", out),
			Hint: "end the name in " + strings.Join(handoff.Formats(), ", ")}
	}
	return checkFolder(f, out)
}

// WriteTimeline writes the scenes of a batch that has done them all, in the order of
// its rows, as OpenTimelineIO, as an edit decision list or as WebVTT: the name's
// ending decides. Warnings tell of what could not be marked.
func WriteTimeline(ctx context.Context, p *scene.Project, rows []Row,
	out string) (warnings []finding.Finding, err error) {
	if err := CheckTimeline(p.File, out); err != nil {
		return nil, err
	}
	scenes, entries, err := done(p, rows)
	if err != nil {
		return nil, err
	}
	if record.Overwrites(out, p.File, scenes...) {
		return nil, &finding.Error{Msg: fmt.Sprintf("the timeline %s is one of the inputs", out),
			Hint: "choose another name for it"}
	}
	line := handoff.Timeline{Title: p.File.Title, Rate: p.File.Output.Rate}
	for i, s := range scenes {
		one, w, err := handoff.SceneOf(ctx, p, s, rows[i].Out, entries[i])
		if err != nil {
			return nil, fmt.Errorf("scene %s: %w", s.ID, err)
		}
		line.Scenes = append(line.Scenes, one)
		warnings = append(warnings, w...)
	}
	return warnings, scratch.Write(out, func(w io.Writer) error { return line.Write(w, out) })
}
