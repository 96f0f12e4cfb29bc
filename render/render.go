// Package render has the verbs: a scene becomes a clip, a frame, a part of a batch. What
// they do is done by the packages below.
package render

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"fairframe/render/check"
	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/media/deliver"
	"fairframe/render/media/graph"
	"fairframe/render/record"
	"fairframe/render/scene"
	"fairframe/render/scratch"
)

// Progress is told how far a clip is: frames encoded so far, of how many.
type Progress = func(done, total int64)

// Result is what is known of a clip that was rendered.
type Result struct {
	Scene    string
	Out      string
	Frames   int64
	Length   time.Duration // of the clip
	Bytes    int64         // of the file
	Took     time.Duration
	Warnings []finding.Finding
	// Tolerated is damage of the captures that the clip shows because the scene
	// tolerates it.
	Tolerated []record.Tolerated

	made record.Made
}

// Render renders one scene into out, or into the output folder when out is "".
// A clip in the output folder is recorded in the folder's manifest, so that a
// batch knows it.
func Render(ctx context.Context, p *scene.Project, id, out string, progress Progress) (Result, error) {
	s, err := p.File.Scene(id)
	if err != nil {
		return Result{}, err
	}
	own, err := Out(p.File, s)
	if err != nil {
		return Result{}, err
	}
	out = cmp.Or(out, own)
	if err := checkName(p.File, out); err != nil {
		return Result{}, err
	}
	if _, err := fingerprint(p, s); err != nil { // before anything is read of the files
		return Result{}, err
	}
	if out == own {
		if err := makeFolder(p.File); err != nil {
			return Result{}, err
		}
	}
	// ffmpeg is asked for its version while captures are probed: starting it takes
	// as long as that.
	asked := make(chan error, 1)
	go func() { _, err := p.Tools.Version(ctx); asked <- err }()
	plan, warned, err := check.Ready(ctx, p, s)
	if err := cmp.Or(<-asked, err); err != nil {
		return Result{}, err
	}
	if fits, err := check.SpaceFor(ctx, p, check.Frames(p.File, s)); err != nil {
		return Result{}, err
	} else if err := fits(check.Frames(p.File, s)); err != nil {
		return Result{}, err
	}
	r, err := renderScene(ctx, p, s, plan, warned, out, progress)
	if err != nil || out != own {
		return r, err
	}
	m, err := record.OpenManifest(p.Manifest())
	if err != nil {
		return r, err
	}
	return r, m.Record(p.Files, p.File, record.NewEntry(p.File, s, r.made))
}

// renderScene renders a scene that is ready. plan may be nil; warned is what else is to
// be said of the scene. A failure is a passing one if an input vanished meanwhile.
func renderScene(ctx context.Context, p *scene.Project, s *comparison.Scene, plan *scene.Planned,
	warned []finding.Finding, out string, progress Progress) (Result, error) {
	r, err := renderReady(ctx, p, s, plan, warned, out, progress)
	if err != nil {
		for _, in := range record.Inputs(p.File, s) {
			if _, gone := os.Stat(in.Path); errors.Is(gone, fs.ErrNotExist) {
				return r, &finding.Passing{Err: err}
			}
		}
	}
	return r, err
}

func renderReady(ctx context.Context, p *scene.Project, s *comparison.Scene, plan *scene.Planned,
	warned []finding.Finding, out string, progress Progress) (Result, error) {
	began := time.Now()
	if record.Overwrites(out, p.File, s) {
		return Result{}, &finding.Error{Msg: fmt.Sprintf("the output %s is one of the scene's inputs", out),
			Hint: "choose another name or folder for the output; inputs are never overwritten"}
	}
	plan, fallback, err := finalPlan(ctx, p, s, plan)
	if err != nil {
		return Result{}, err
	}
	made := record.Made{Out: out}
	if made.Record, made.Fingerprint, err = recordOf(ctx, p, plan); err != nil {
		return Result{}, err
	}
	clip := *plan.Clip
	clip.Record = made.Record.String()
	total := clip.Total()
	made.Rendered, err = deliver.Render(ctx, p.Tools, &clip, out, func(done int64) {
		if progress != nil {
			progress(done, total)
		}
	})
	if err != nil {
		return Result{}, err
	}
	bytes, _, err := record.OnDisk(out)
	if err != nil {
		return Result{}, err
	}
	warnings := slices.Concat(plan.AllWarnings(), warned, fallback, made.Rendered.Warnings)
	made.Length, made.Took = clip.Rate.TimeOf(total), time.Since(began)
	made.Warnings = finding.Warnings(warnings)
	return Result{Scene: s.ID, Out: out, Frames: total, Length: made.Length, Bytes: bytes, Took: made.Took,
		Warnings: warnings, Tolerated: made.Record.Tolerated, made: made}, nil
}

// finalPlan is the plan that is rendered: with an encoder that works here, and with the
// damage that the scene tolerates. plan is what is planned so far; nil: nothing.
func finalPlan(ctx context.Context, p *scene.Project, s *comparison.Scene,
	plan *scene.Planned) (_ *scene.Planned, warned []finding.Finding, err error) {
	var footage *scene.Footage
	if plan != nil {
		footage = plan.Footage
	} else if footage, err = scene.Gather(ctx, p, s, scene.KeepLog); err != nil {
		return nil, nil, err
	}
	if err := footage.RefuseGaps(); err != nil {
		return nil, nil, err
	}
	able, fallback, err := p.Usable(ctx, footage.Delivery)
	if err != nil {
		return nil, nil, err
	}
	if fallback != "" {
		footage, plan, warned = footage.WithDelivery(able), nil, []finding.Finding{finding.Plain(fallback)}
	}
	if plan == nil {
		if plan, err = scene.Plan(footage); err != nil {
			return nil, nil, err
		}
	}
	known, err := damaged(ctx, p, footage, plan.Clip)
	if err == nil && known != footage {
		plan, err = scene.Plan(known)
	}
	return plan, warned, err
}

// damaged is the footage with the damage that the clip shows, of a scene that tolerates
// decode errors. It decodes what the clip shows of its captures.
func damaged(ctx context.Context, p *scene.Project, f *scene.Footage,
	clip *graph.Clip) (*scene.Footage, error) {
	if !f.Scene.Tolerates(comparison.TolerateDecodeErrors) {
		return f, nil
	}
	found, err := deliver.Damages(ctx, p.Tools, clip)
	if err != nil || len(found) == 0 {
		return f, err
	}
	return f.WithDamage(found), nil
}

// recordOf is the record of a planned clip, and its fingerprint.
func recordOf(ctx context.Context, p *scene.Project, plan *scene.Planned) (record.Record, string, error) {
	version, err := p.Tools.Version(ctx)
	if err != nil {
		return record.Record{}, "", err
	}
	r, err := record.Of(p.Files, p.File, plan.Scene, version, record.Refuse)
	if err != nil {
		return r, "", err
	}
	fingerprint, err := r.Fingerprint(p.Files, p.Tools.FFmpeg)
	r.Tolerated, r.Doubt = plan.Tolerated(), plan.Doubt()
	return r, fingerprint, err
}

// fingerprint tells whether a scene's clip would be the one that was rendered.
func fingerprint(p *scene.Project, s *comparison.Scene) (string, error) {
	from, err := record.Of(p.Files, p.File, s, "", record.Measure)
	if err != nil {
		return "", err
	}
	return from.Fingerprint(p.Files, p.Tools.FFmpeg)
}

// Out returns where a scene's clip goes unless the user says otherwise.
func Out(f *comparison.File, s *comparison.Scene) (string, error) {
	d, err := scene.Delivery(f)
	if err != nil {
		return "", err
	}
	return filepath.Join(f.Output.Folder, s.ID+d.Ext), nil
}

// makeFolder makes the output folder.
func makeFolder(f *comparison.File) error {
	if err := os.MkdirAll(f.Output.Folder, 0o755); err != nil {
		return &finding.Error{Msg: fmt.Sprintf("output folder cannot be made: %v", scratch.Cause(err)),
			Hint: "set another output: folder:"}
	}
	return nil
}

// checkName refuses an output name whose ending belongs to another format.
func checkName(f *comparison.File, out string) error {
	d, err := scene.Delivery(f)
	if err != nil {
		return err
	}
	if err := scratch.Replaceable(out); err != nil {
		return &finding.Error{Msg: "output " + err.Error(), Hint: "choose another name"}
	}
	ext := filepath.Ext(out)
	if d.Folder() {
		if info, err := os.Stat(out); err == nil && !info.IsDir() {
			return &finding.Error{Msg: fmt.Sprintf("output %s is a file; delivery %s in png makes a folder "+
				"of pictures", out, d.Name), Hint: "change the name, or the delivery"}
		}
		return nil
	}
	if !strings.EqualFold(ext, d.Ext) {
		return &finding.Error{Msg: fmt.Sprintf("output %s should end in %s, which is what delivery %s makes",
			out, d.Ext, d.Name),
			Hint: "change the name, or the delivery"}
	}
	return nil
}
