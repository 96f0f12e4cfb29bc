package render

import (
	"context"
	"fmt"

	"fairframe/render/comparison"
	"fairframe/render/media"
	"fairframe/render/media/deliver"
)

// Tolerated is damage of a capture that a clip shows because its scene tolerates
// decode errors: a decoder makes up what it lacks, and no picture is missing. Or it is
// a gap, because the scene tolerates those: pictures that the recorder dropped.
type Tolerated struct {
	Kind       string  `json:"kind,omitempty"` // gap, of pictures that a recorder dropped; "": damage
	Capture    string  `json:"capture"`
	First      int64   `json:"first_frame"` // of the capture's frames that may be wrong
	Last       int64   `json:"last_frame"`
	From       float64 `json:"from_s"` // in the capture's time
	To         float64 `json:"to_s"`
	SceneFrom  float64 `json:"scene_from_s"` // in the scene's own time
	SceneTo    float64 `json:"scene_to_s"`
	Complaints int     `json:"complaints"`         // of ffmpeg
	Words      string  `json:"ffmpeg"`             // the first of them
	Pictures   int64   `json:"pictures,omitempty"` // that a gap lacks
}

// gapKind is the kind of what a recorder dropped.
const gapKind = "gap"

// String tells of the damage in one line.
func (t Tolerated) String() string {
	if t.Kind == gapKind {
		return fmt.Sprintf("capture %s has a gap: its recorder dropped %d pictures (%.2f s to %.2f "+
			"s; %.2f s to %.2f s of the scene); the one before is shown, and the pacing there is not known",
			t.Capture, t.Pictures, t.From, t.To, t.SceneFrom, t.SceneTo)
	}
	which, times := fmt.Sprintf("frames %d to %d", t.First, t.Last), "complaints"
	if t.First == t.Last {
		which = fmt.Sprintf("frame %d", t.First)
	}
	if t.Complaints == 1 {
		times = "complaint"
	}
	return fmt.Sprintf("capture %s is damaged: %s (%.2f s to %.2f s; %.2f s to %.2f s of the scene) "+
		"may be made up by the decoder; %d %s of ffmpeg, the first: %s",
		t.Capture, which, t.From, t.To, t.SceneFrom, t.SceneTo, t.Complaints, times, t.Words)
}

// tolerate finds the damage that a scene which tolerates decode errors shows,
// lets the clip show it, and has the closing page say so. It decodes what the scene
// shows of its captures.
func (p *Project) tolerate(ctx context.Context, plan *Plan) error {
	switch plan.Scene.Tolerate {
	case comparison.TolerateGaps:
		plan.tolerated = plan.tolerableGaps()
		if len(plan.tolerated) == 0 || plan.close == nil {
			return nil
		}
		return plan.close(p.gapRemarks(plan.tolerated))
	case comparison.TolerateDecodeErrors:
	default:
		return nil
	}
	found, err := deliver.Damages(ctx, p.Tools, plan.Clip)
	if err != nil {
		return err
	}
	plan.Clip.Tolerated, plan.tolerated = found, nil
	var remarks []string
	for _, d := range found {
		one := plan.tolerable(&d)
		plan.tolerated = append(plan.tolerated, one)
		name := one.Capture
		if c, ok := p.File.Capture(name); ok {
			name = c.Name
		}
		remarks = append(remarks,
			fmt.Sprintf("%s: the recording is damaged; from %.2f s to %.2f s its pictures may be "+
				"made up by the decoder.", name, one.SceneFrom, one.SceneTo))
	}
	if len(remarks) == 0 || plan.close == nil {
		return nil
	}
	return plan.close(remarks)
}

// tolerable ties damage to the scene's time.
func (p *Plan) tolerable(d *media.Damaged) Tolerated {
	t := Tolerated{Capture: d.Capture, First: d.First, Last: d.Last, From: d.From().Seconds(),
		To: d.To().Seconds(), Complaints: d.Complaints, Words: d.Words}
	for _, l := range p.Clip.Inputs {
		if l.Name == d.Capture {
			t.SceneFrom = max(0, d.From()-l.Start).Seconds()
			t.SceneTo = min(p.Scene.Length, max(0, d.To()-l.Start)).Seconds()
		}
	}
	return t
}

// tolerated is the damage that a recorded clip shows.
func (m *manifest) tolerated(id string) []Tolerated {
	m.mu.Lock()
	defer m.mu.Unlock()
	if e, ok := m.Scenes[id]; ok && e.Record != nil {
		return e.Record.Tolerated
	}
	return nil
}
