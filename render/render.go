package render

import (
	"cmp"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/media/deliver"
	"fairframe/render/record"
	"fairframe/render/scratch"
)

// Progress is told how far a clip is: frames encoded so far, of how many.
type Progress func(done, total int64)

// Result is what is known of a clip that was rendered.
type Result struct {
	Scene    string
	Out      string
	Frames   int64
	Length   time.Duration // of the clip
	Bytes    int64         // of the file
	Took     time.Duration
	Warnings []string
	// Tolerated is damage of the captures that the clip shows because the scene
	// tolerates it.
	Tolerated []record.Tolerated

	made record.Made
}

// Render renders one scene into out, or into the output folder when out is "".
// A clip in the output folder is recorded in the folder's manifest, so that a
// batch knows it.
func (p *Project) Render(ctx context.Context, id, out string, progress Progress) (Result, error) {
	s, err := p.File.Scene(id)
	if err != nil {
		return Result{}, err
	}
	own, err := p.Out(s)
	if err != nil {
		return Result{}, err
	}
	if out == "" {
		out = own
	}
	if err := p.checkName(out); err != nil {
		return Result{}, err
	}
	if _, err := p.fingerprint(s); err != nil { // before anything is read of the files
		return Result{}, err
	}
	if out == own {
		if err := os.MkdirAll(filepath.Dir(out), 0o755); err != nil {
			return Result{}, &finding.Error{Msg: fmt.Sprintf("output folder cannot be made: %v", scratch.Cause(err)),
				Hint: "set another output: folder:"}
		}
	}
	// ffmpeg is asked for its version while captures are probed: starting it takes
	// as long as that.
	asked := make(chan error, 1)
	go func() { _, err := p.Tools.Version(ctx); asked <- err }()
	plan, warned, err := p.ready(ctx, s)
	if err := cmp.Or(<-asked, err); err != nil {
		return Result{}, err
	}
	if d, err := p.delivery(); err != nil {
		return Result{}, err
	} else if fits, err := p.room(ctx, d, p.frames(s)); err != nil {
		return Result{}, err
	} else if err := fits(p.frames(s)); err != nil {
		return Result{}, err
	}
	r, err := p.render(ctx, s, plan, warned, out, progress)
	if err != nil || out != own {
		return r, err
	}
	m, err := record.OpenManifest(p.manifestPath())
	if err != nil {
		return r, err
	}
	return r, m.Record(&p.identify, p.File, record.NewEntry(p.File, s, r.made))
}

// render renders a scene that is ready. plan may be nil; warned is what else is to
// be said of the scene.
func (p *Project) render(ctx context.Context, s *comparison.Scene, plan *Plan, warned []finding.Finding, out string,
	progress Progress) (Result, error) {
	began := time.Now()
	if plan == nil {
		var err error
		if plan, err = p.Plan(ctx, s); err != nil {
			return Result{}, err
		}
	}
	plan.warn(finding.Warnings(warned)...)
	if err := plan.refuseGaps(); err != nil {
		return Result{}, err
	}
	for _, input := range record.Named(p.File, s) {
		if media.SameFile(input, out) {
			return Result{}, &finding.Error{Msg: fmt.Sprintf("the output %s is one of the scene's inputs", out),
				Hint: "choose another name or folder for the output; inputs are never overwritten"}
		}
	}
	able, fallback, err := p.usable(ctx, plan.Clip.Delivery)
	if err != nil {
		return Result{}, err
	}
	plan.Clip.Delivery = able
	if fallback != "" {
		plan.warn(fallback)
	}
	if err := p.tolerate(ctx, plan); err != nil {
		return Result{}, err
	}
	version, err := p.Tools.Version(ctx)
	if err != nil {
		return Result{}, err
	}
	from, err := record.Of(&p.identify, p.File, s, version, record.Refuse)
	if err != nil {
		return Result{}, err
	}
	fingerprint, err := from.Fingerprint(&p.identify, p.Tools.FFmpeg)
	if err != nil {
		return Result{}, err
	}
	from.Tolerated, from.Doubt = plan.tolerated, plan.doubt()
	plan.Clip.Record = from.String()
	total := plan.Clip.Total()
	made, err := deliver.Render(ctx, p.Tools, plan.Clip, out, func(done int64) {
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
	r := Result{Scene: s.ID, Out: out, Frames: total, Length: plan.Clip.Rate.TimeOf(total), Bytes: bytes,
		Took: time.Since(began), Warnings: append(plan.Warnings, made.Warnings...), Tolerated: plan.tolerated}
	r.made = record.Made{Out: out, Fingerprint: fingerprint, Record: from, Rendered: made, Length: r.Length,
		Took: r.Took, Warnings: r.Warnings}
	return r, nil
}

// checkName refuses an output name whose ending belongs to another format.
func (p *Project) checkName(out string) error {
	d, err := p.delivery()
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

// fingerprint tells whether a scene's clip would be the one that was rendered.
func (p *Project) fingerprint(s *comparison.Scene) (string, error) {
	from, err := record.Of(&p.identify, p.File, s, "", record.Measure)
	if err != nil {
		return "", err
	}
	return from.Fingerprint(&p.identify, p.Tools.FFmpeg)
}

func (p *Project) manifestPath() string {
	return filepath.Join(p.File.Output.Folder, record.ManifestName)
}
