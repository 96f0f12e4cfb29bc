package render

import (
	"context"
	"path/filepath"
	"runtime"
	"sync"

	"fairframe/render/check"
	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/record"
	"fairframe/render/scene"
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
	Shard Shard    // the part of them to render; the zero value means all
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
// the captures. A scene that fails does not stop the others. The rows come back in the
// file's order; the error is for a batch that could not begin.
func Batch(ctx context.Context, p *scene.Project, o BatchOptions) ([]Row, error) {
	scenes, err := pick(p.File, o.Only)
	if err != nil {
		return nil, err
	}
	scenes = o.Shard.of(p.File, scenes)
	if err := makeFolder(p.File); err != nil {
		return nil, err
	}
	m, err := record.OpenManifest(p.Manifest())
	if err != nil {
		return nil, err
	}
	rows := make([]Row, len(scenes))
	fingerprints := make([]string, len(scenes))
	var todo []int
	for i, s := range scenes {
		out, err := Out(p.File, s)
		rows[i] = Row{Scene: s.ID, Out: out, Status: Cancelled}
		if err == nil {
			fingerprints[i], err = fingerprint(p, s)
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
		scratch.Sweep(filepath.Dir(p.Manifest())) // nothing is made here that would do so
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
	if todo, err = prepare(ctx, p, scenes, todo, rows, warned, jobs, o); err != nil || len(todo) == 0 {
		return rows, err
	}
	if o.Planned != nil {
		for _, i := range todo {
			o.Planned(scenes[i].ID, check.Frames(p.File, scenes[i]))
		}
	}
	eachOf(todo, jobs, func(i int) { rows[i] = batchOne(ctx, p, scenes[i], warned[i], rows[i], m, o) })
	return rows, nil
}

// eachOf does something for each of a list, so many at a time.
func eachOf(list []int, jobs int, do func(i int)) {
	next := make(chan int)
	var wg sync.WaitGroup
	for range min(jobs, len(list)) {
		wg.Go(func() {
			for i := range next {
				do(i)
			}
		})
	}
	for _, i := range list {
		next <- i
	}
	close(next)
	wg.Wait()
}

func batchOne(ctx context.Context, p *scene.Project, s *comparison.Scene, warned []finding.Finding, row Row,
	m *record.Manifest, o BatchOptions) Row {
	if ctx.Err() != nil {
		return row
	}
	var progress Progress
	ended := func(Row) {}
	if o.Started != nil {
		progress, ended = o.Started(s.ID)
	}
	r, err := renderScene(ctx, p, s, nil, warned, row.Out, progress)
	if err == nil {
		entry := record.NewEntry(p.File, s, r.made)
		if o.Shard.Of > 1 {
			err = m.Keep(entry) // the manifest is for all shards, and merged from their records
		} else {
			err = m.Record(p.Files, p.File, entry)
		}
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
func pick(f *comparison.File, ids []string) ([]*comparison.Scene, error) {
	wanted := map[string]bool{}
	for _, id := range ids {
		if _, err := f.Scene(id); err != nil {
			return nil, err
		}
		wanted[id] = true
	}
	var list []*comparison.Scene
	for i := range f.Scenes {
		if s := &f.Scenes[i]; len(ids) == 0 || wanted[s.ID] {
			list = append(list, s)
		}
	}
	return list, nil
}

// prepare runs the quick part of the check on the scenes of a batch, before the
// first of them is encoded, and returns those that can be rendered. The rows of the
// others say why not; warned holds what the quick part says of each.
func prepare(ctx context.Context, p *scene.Project, scenes []*comparison.Scene, todo []int, rows []Row,
	warned [][]finding.Finding, jobs int, o BatchOptions) ([]int, error) {
	errs := make([]error, len(scenes))
	eachOf(todo, jobs, func(i int) {
		if ctx.Err() == nil {
			_, warned[i], errs[i] = check.Ready(ctx, p, scenes[i])
		}
	})
	if ctx.Err() != nil {
		return nil, nil // the rows say that nothing was done
	}
	var all, sum int64
	for _, i := range todo {
		if errs[i] == nil {
			all += check.Frames(p.File, scenes[i])
		}
	}
	fits, err := check.SpaceFor(ctx, p, all)
	if err != nil {
		return nil, err
	}
	var able []int
	for _, i := range todo {
		if errs[i] == nil {
			// Together with those that are rendered before it.
			errs[i] = fits(sum + check.Frames(p.File, scenes[i]))
		}
		if errs[i] == nil {
			sum += check.Frames(p.File, scenes[i])
			able = append(able, i)
			continue
		}
		rows[i].Status, rows[i].Err = Failed, errs[i]
		if o.Started != nil {
			_, ended := o.Started(scenes[i].ID)
			ended(rows[i])
		}
	}
	return able, nil
}
