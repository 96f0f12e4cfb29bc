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

// tolerate finds the gaps and the damage that a scene tolerates, lets the clip show
// them, and has the closing page say so. For damage it decodes what the scene shows of
// its captures.
func (p *Project) tolerate(ctx context.Context, plan *Plan) error {
	plan.tolerated = plan.tolerableGaps()
	remarks := p.gapRemarks(plan.tolerated)
	if plan.Scene.Tolerates(comparison.TolerateDecodeErrors) {
		found, err := deliver.Damages(ctx, p.Tools, plan.Clip)
		if err != nil {
			return err
		}
		plan.Clip.Tolerated = found
		for _, d := range found {
			one := plan.tolerable(&d)
			plan.tolerated = append(plan.tolerated, one)
			remarks = append(remarks,
				fmt.Sprintf("%s: the recording is damaged; from %.2f s to %.2f s its pictures may be "+
					"made up by the decoder.", p.shownName(one.Capture), one.SceneFrom, one.SceneTo))
		}
	}
	if len(remarks) == 0 || plan.close == nil {
		return nil
	}
	return plan.close(remarks)
}

// shownName is the name that a capture is shown by.
func (p *Project) shownName(key string) string {
	if c, ok := p.File.Capture(key); ok {
		return c.Name
	}
	return key
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
