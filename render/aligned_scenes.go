package render

import (
	"cmp"
	"context"
	"slices"
	"sync"
	"time"

	"fairframe/render/align"
	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/media"
)

// part is a stretch of a capture's time; to 0 is its end.
type part struct{ from, to time.Duration }

// near is how far parts may lie apart that are read as one: a decoder starts less
// often then.
const nearParts = 2 * time.Second

// mergeParts returns what parts cover, in order, with those that nearly meet as one.
func mergeParts(list []part) []part {
	list = slices.Clone(list)
	slices.SortFunc(list, func(a, b part) int { return cmp.Compare(a.from, b.from) })
	var out []part
	for _, p := range list {
		if n := len(out); n > 0 && (out[n-1].to == 0 || p.from <= out[n-1].to+nearParts) {
			if last := &out[n-1]; last.to != 0 && (p.to == 0 || p.to > last.to) {
				last.to = p.to
			}
			continue
		}
		out = append(out, p)
	}
	return out
}

// tracks are what is kept of captures to align them by, so that scenes which show
// the same stretch read it once. It is safe for concurrent use.
type tracks struct {
	by     align.By
	mu     sync.Mutex
	wanted map[string][]part
	opened map[string]map[part]*align.Track
	done   float64 // seconds read
}

func newTracks(by align.By) *tracks {
	return &tracks{by: by, wanted: map[string][]part{}, opened: map[string]map[part]*align.Track{}}
}

// want says before the first open what of captures will be asked for.
func (t *tracks) want(list []toAlign, reach []part) {
	for i, c := range list {
		t.wanted[c.capture.Path] = append(t.wanted[c.capture.Path], reach[i])
	}
}

// total is how many seconds will be read.
func (t *tracks) total(known map[string]time.Duration) (s float64) {
	for path, list := range t.wanted {
		for _, p := range mergeParts(list) {
			to := p.to
			if end := known[path]; to == 0 || end > 0 && to > end {
				to = end
			}
			s += (to - p.from).Seconds()
		}
	}
	return s
}

// open returns the track that holds a part, and reads it when it is asked for first.
func (t *tracks) open(ctx context.Context, tools *media.Tools, c media.Capture, p part,
	progress Progress) (*align.Track, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, whole := range mergeParts(t.wanted[c.Path]) {
		if p.from < whole.from || whole.to > 0 && (p.to == 0 || p.to > whole.to) {
			continue
		}
		p = whole
	}
	if one := t.opened[c.Path][p]; one != nil {
		return one, nil
	}
	total := t.total(map[string]time.Duration{c.Path: c.Duration()})
	one, err := align.Open(ctx, tools, c, t.by, p.from, p.to, func(s float64) {
		if progress != nil {
			progress(int64(t.done+s), int64(max(total, t.done+s)))
		}
	})
	if err != nil {
		return nil, err
	}
	t.done += one.Length()
	if t.opened[c.Path] == nil {
		t.opened[c.Path] = map[part]*align.Track{}
	}
	t.opened[c.Path][p] = one
	return one, nil
}

func (t *tracks) close() {
	for _, list := range t.opened {
		for _, one := range list {
			one.Close()
		}
	}
}

// SceneAligned is how the captures of one scene lie to its first.
type SceneAligned struct {
	Scene *comparison.Scene
	Aligned
}

// AlignScenes aligns the captures of all scenes that show more than one, and reads
// each stretch of a capture once.
func (p *Project) AlignScenes(ctx context.Context, o AlignOptions,
	progress Progress) ([]SceneAligned, error) {
	var scenes []*comparison.Scene
	for i := range p.File.Scenes {
		if s := &p.File.Scenes[i]; len(s.Captures) > 1 {
			scenes = append(scenes, s)
		}
	}
	if len(scenes) == 0 {
		return nil, &finding.Error{Msg: "no scene shows more than one capture",
			Hint: "name two or more after captures:"}
	}
	var err error
	if o.tracks, err = p.wantTracks(ctx, scenes, o); err != nil {
		return nil, err
	}
	defer o.tracks.close()
	var list []SceneAligned
	for _, s := range scenes {
		found, err := p.Align(ctx, s, o, progress)
		if err != nil {
			return nil, &sceneError{s.ID, err}
		}
		list = append(list, SceneAligned{s, found})
	}
	return list, nil
}

// wantTracks is what the scenes will ask for.
func (p *Project) wantTracks(ctx context.Context, scenes []*comparison.Scene,
	o AlignOptions) (*tracks, error) {
	t := newTracks(o.By)
	for _, s := range scenes {
		captures, err := p.captures(ctx, s)
		if err != nil {
			return nil, &sceneError{s.ID, err}
		}
		list, near := p.toAlign(captures, o)
		reach, err := reachOf(list, s.Length, near)
		if err != nil {
			return nil, &sceneError{s.ID, err}
		}
		t.want(list, reach)
	}
	return t, nil
}

// sceneError says of which scene an error is, and keeps its hints.
type sceneError struct {
	id  string
	err error
}

func (e *sceneError) Error() string { return "scene " + e.id + ": " + e.err.Error() }
func (e *sceneError) Unwrap() error { return e.err }
