package align

import (
	"context"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/scene"
)

// SceneAligned is how the captures of one scene lie to its first.
type SceneAligned struct {
	Scene *comparison.Scene
	Aligned
}

// Scenes aligns the captures of all scenes that show more than one, and reads
// each stretch of a capture once.
func Scenes(ctx context.Context, p *scene.Project, o Options,
	progress func(done, total int64)) ([]SceneAligned, error) {
	var scenes []*comparison.Scene
	for i := range p.File.Scenes {
		if s := &p.File.Scenes[i]; len(s.Captures) > 1 {
			scenes = append(scenes, s)
		}
	}
	if len(scenes) == 0 {
		return nil, &finding.Error{Msg: "no scene shows more than one capture",
			Hint: "name two or more after captures:, or align the pacing logs to the captures with --logs"}
	}
	var err error
	if o.Tracks, err = Want(ctx, p, scenes, o); err != nil {
		return nil, err
	}
	defer o.Tracks.Close()
	var list []SceneAligned
	for _, s := range scenes {
		found, err := Scene(ctx, p, s, o, progress)
		if err != nil {
			return nil, &sceneError{s.ID, err}
		}
		list = append(list, SceneAligned{s, found})
	}
	return list, nil
}

// Want is what the scenes will ask for.
func Want(ctx context.Context, p *scene.Project, scenes []*comparison.Scene,
	o Options) (*Tracks, error) {
	t := NewTracks(o.By)
	for _, s := range scenes {
		captures, err := scene.Probe(ctx, p, s)
		if err != nil {
			return nil, &sceneError{s.ID, err}
		}
		list, around := near(captures, o)
		reach, err := reachOf(list, s.Length, around)
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
