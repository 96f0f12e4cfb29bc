package render

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"sync"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/record"
	"fairframe/render/scratch"
)

// Status is what became of a scene in a batch.
type Status string

// What a batch says of each scene.
const (
	Rendered  Status = "rendered"
	UpToDate  Status = "up to date"
	Failed    Status = "failed"
	Cancelled Status = "not done"
)

// Row is one scene's outcome in a batch.
type Row struct {
	Scene  string
	Status Status
	Result Result // of a rendered scene
	Out    string
	Err    error // of a failed scene
	// Tolerated is damage that the clip shows, of one that is up to date too.
	Tolerated []record.Tolerated
}

// BatchOptions say what a batch does.
type BatchOptions struct {
	Only  []string // scene ids; none means all
	Jobs  int      // scenes at a time; 0 chooses
	Fresh bool     // also render what is up to date
	// Planned, if set, is told of each scene that will be rendered, and of how many
	// frames its clip will have, before the first begins.
	Planned func(scene string, frames int64)
	// Started, if set, is told when a scene's rendering begins and returns who is
	// told of its progress and of its end. It may be called from several
	// goroutines.
	Started func(scene string) (progress Progress, ended func(Row))
}

// jobsFor chooses how many clips to render at once. One ffmpeg keeps about four
// cores busy with two captures and a fast encoder; two at once gain where there
// are more, and about a tenth even on two cores, by filling each other's waits.
func jobsFor(scenes int) int {
	return max(1, min(scenes, max(2, runtime.NumCPU()/4)))
}

// Batch renders every scene that is not up to date. What cannot be rendered is
// found before the first scene is encoded, as far as that is known without decoding
// the captures. A scene that fails does not stop the others. The rows come back in the file's order; the
// error is for a batch that could not begin.
func (p *Project) Batch(ctx context.Context, o BatchOptions) ([]Row, error) {
	scenes, err := p.pick(o.Only)
	if err != nil {
		return nil, err
	}
	if err := os.MkdirAll(p.File.Output.Folder, 0o755); err != nil {
		return nil, &finding.Error{Msg: fmt.Sprintf("output folder cannot be made: %v", scratch.Cause(err)),
			Hint: "set another output: folder:"}
	}
	m, err := record.OpenManifest(p.manifestPath())
	if err != nil {
		return nil, err
	}
	rows := make([]Row, len(scenes))
	fingerprints := make([]string, len(scenes))
	var todo []int
	for i, s := range scenes {
		out, err := p.Out(s)
		rows[i] = Row{Scene: s.ID, Out: out, Status: Cancelled}
		if err == nil {
			fingerprints[i], err = p.fingerprint(s)
		}
		switch {
		case err != nil:
			rows[i].Status, rows[i].Err = Failed, err
		case !o.Fresh && m.UpToDate(s.ID, fingerprints[i], out):
			rows[i].Status, rows[i].Tolerated = UpToDate, m.Tolerated(s.ID)
		default:
			todo = append(todo, i)
		}
	}
	if len(todo) == 0 {
		scratch.Sweep(filepath.Dir(p.manifestPath())) // nothing is made here that would do so
		return rows, nil
	}
	if _, err := p.Tools.Version(ctx); err != nil {
		return nil, err
	}
	jobs := o.Jobs
	if jobs <= 0 {
		jobs = jobsFor(len(todo))
	}
	warned := make([][]finding.Finding, len(scenes))
	if todo, err = p.prepare(ctx, scenes, todo, rows, warned, jobs, o); err != nil || len(todo) == 0 {
		return rows, err
	}
	if o.Planned != nil {
		for _, i := range todo {
			o.Planned(scenes[i].ID, p.frames(scenes[i]))
		}
	}
	next := make(chan int)
	var wg sync.WaitGroup
	for range min(jobs, len(todo)) {
		wg.Go(func() {
			for i := range next {
				rows[i] = p.batchOne(ctx, scenes[i], warned[i], rows[i], m, o)
			}
		})
	}
	for _, i := range todo {
		next <- i
	}
	close(next)
	wg.Wait()
	return rows, nil
}

func (p *Project) batchOne(ctx context.Context, s *comparison.Scene, warned []finding.Finding, row Row,
	m *record.Manifest, o BatchOptions) Row {
	if ctx.Err() != nil {
		return row
	}
	var progress Progress
	ended := func(Row) {}
	if o.Started != nil {
		progress, ended = o.Started(s.ID)
	}
	r, err := p.render(ctx, s, nil, warned, row.Out, progress)
	if err == nil {
		err = m.Record(&p.identify, p.File, record.NewEntry(p.File, s, r.made))
	}
	switch {
	case ctx.Err() != nil && err != nil:
		row.Status = Cancelled
	case err != nil:
		row.Status, row.Err = Failed, err
	default:
		row.Status, row.Result, row.Tolerated = Rendered, r, r.Tolerated
	}
	ended(row)
	return row
}

// pick returns the scenes of the given ids, in the file's order; all for none.
func (p *Project) pick(ids []string) ([]*comparison.Scene, error) {
	wanted := map[string]bool{}
	for _, id := range ids {
		if _, err := p.File.Scene(id); err != nil {
			return nil, err
		}
		wanted[id] = true
	}
	var list []*comparison.Scene
	for i := range p.File.Scenes {
		if s := &p.File.Scenes[i]; len(ids) == 0 || wanted[s.ID] {
			list = append(list, s)
		}
	}
	return list, nil
}
