package render

import (
	"cmp"
	"fmt"
	"slices"

	"fairframe/render/check"
	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/record"
	"fairframe/render/scene"
)

// A Shard is one of several parts of a batch, each for another machine: number K, from 1
// on, of Of. The zero value is the whole.
type Shard struct{ K, Of int }

// ParseShard reads a shard as K/N.
func ParseShard(text string) (s Shard, ok bool) {
	var rest string
	n, _ := fmt.Sscanf(text+" .", "%d/%d %s", &s.K, &s.Of, &rest)
	return s, n == 3 && rest == "." && s.K >= 1 && s.K <= s.Of
}

// of returns the scenes of the shard, in their order. Every shard of the same file comes
// to the same division: the costliest scene first, each goes to the shard that has least
// to do.
func (s Shard) of(f *comparison.File, scenes []*comparison.Scene) []*comparison.Scene {
	if s.Of <= 1 {
		return scenes
	}
	order := make([]int, len(scenes))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(Cost(f, scenes[b]), Cost(f, scenes[a])) })
	load, mine := make([]int64, s.Of), map[int]bool{}
	for _, i := range order {
		least := 0
		for k := range load {
			if load[k] < load[least] {
				least = k
			}
		}
		load[least] += Cost(f, scenes[i])
		mine[i] = least == s.K-1
	}
	var list []*comparison.Scene
	for i, one := range scenes {
		if mine[i] {
			list = append(list, one)
		}
	}
	return list
}

// Cost estimates the work that a scene is: the frames that are decoded of each capture, and
// those that are encoded.
func Cost(f *comparison.File, s *comparison.Scene) int64 {
	return check.Frames(f, s) * int64(len(s.Captures)+1)
}

// Listed is what a batch would do with a scene.
type Listed struct {
	Scene, Out string
	Why        string // it would be rendered; "": it is up to date
	Frames     int64  // of its clip
	Cost       int64  // see Cost
	Err        error  // why the scene cannot be judged
}

// List tells what a batch would do, and does nothing.
func List(p *scene.Project, o BatchOptions) ([]Listed, error) {
	scenes, err := pick(p.File, o.Only)
	if err != nil {
		return nil, err
	}
	m, err := record.OpenManifest(p.Manifest())
	if err != nil {
		return nil, err
	}
	var list []Listed
	for _, s := range o.Shard.of(p.File, scenes) {
		one := Listed{Scene: s.ID, Frames: check.Frames(p.File, s), Cost: Cost(p.File, s)}
		var found string
		if one.Out, one.Err = Out(p.File, s); one.Err == nil {
			found, one.Err = fingerprint(p, s)
		}
		switch {
		case one.Err != nil:
			one.Why = "it cannot be rendered"
		case o.Fresh:
			one.Why = "--fresh asks for it"
		default:
			one.Why = m.Stale(p.Files, p.File, s, found, one.Out)
		}
		list = append(list, one)
	}
	return list, nil
}

// Merge writes the manifest from the records of the clips that shards rendered, and
// returns a row for each scene. A scene whose clip is not up to date has failed.
func Merge(p *scene.Project, only []string) ([]Row, error) {
	list, err := List(p, BatchOptions{Only: only})
	if err != nil {
		return nil, err
	}
	if err := makeFolder(p.File); err != nil {
		return nil, err
	}
	m, err := record.OpenManifest(p.Manifest())
	if err != nil {
		return nil, err
	}
	if err := m.Merge(p.Files, p.File); err != nil {
		return nil, err
	}
	var rows []Row
	for _, one := range list {
		row := Row{Scene: one.Scene, Out: one.Out, Status: UpToDate, Err: one.Err, Tolerated: m.Tolerated(one.Scene)}
		if one.Why != "" {
			row.Status = Failed
			if row.Err == nil {
				row.Err = &finding.Error{Msg: "it is not up to date: " + one.Why, Hint: "run its shard again, or batch without --merge"}
			}
		}
		rows = append(rows, row)
	}
	return rows, nil
}
