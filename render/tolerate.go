package render

import (
	"context"
	"fmt"
	"math"

	"fairframe/render/comparison"
	"fairframe/render/media"
	"fairframe/render/media/deliver"
	"fairframe/render/record"
)

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
func (p *Plan) tolerable(d *media.Damaged) record.Tolerated {
	t := record.Tolerated{Capture: d.Capture, First: d.First, Last: d.Last, From: d.From().Seconds(),
		To: d.To().Seconds(), Complaints: d.Complaints, Words: d.Words}
	for _, l := range p.Clip.Inputs {
		if l.Name == d.Capture {
			t.SceneFrom = max(0, d.From()-l.Start).Seconds()
			t.SceneTo = min(p.Scene.Length, max(0, d.To()-l.Start)).Seconds()
		}
	}
	return t
}

// doubt is what a planned clip's record says of its pacing.
func (p *Plan) doubt() (list []record.Doubt) {
	for _, one := range p.paced {
		if d := one.doubt(p.Scene); d.Time > 0 {
			list = append(list, record.Doubt{Capture: one.Key, Share: math.Round(d.Part()*1e4) / 1e4,
				Uncertain: d.Uncertain()})
		}
	}
	return list
}
