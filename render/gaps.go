package render

import (
	"context"
	"errors"
	"fmt"
	"time"

	"fairframe/render/check"
	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/pacing"
	"fairframe/render/record"
)

// gap is time that a scene shows in which a recorder dropped pictures, so that nobody
// knows what the game showed.
type gap struct {
	capture  string
	from, to time.Duration // capture time
	pictures int64
	rate     pacing.Rate // of the grid
	pacing   string      // what is known of it: record.PacingUnknown, record.PacingLogged; "": none is shown
}

// leftOut is the part of a grid's places that are holes from which on a recorder is
// taken to leave repeated pictures out, where no pacing tells.
const leftOut = 0.05

// gapsIn returns the gaps of a capture in a scene. A hole in its stamps is none where
// the pacing knows that one frame was on screen all the time: then the recorder only
// left repeated pictures out.
func gapsIn(one sceneCapture, length time.Duration, trace *pacing.Trace) (list []gap) {
	for _, h := range one.probed.Holes(one.start, one.start+length) {
		if explained(one.probed, h, trace) {
			continue
		}
		list = append(list, gap{one.Key, h.From, h.To, h.Pictures, one.probed.Rate, pacingIn(h, trace)})
	}
	return list
}

// pacingIn tells what a log says of the time in a hole. A measured one has nothing there.
func pacingIn(h media.Hole, trace *pacing.Trace) string {
	if trace == nil {
		return ""
	}
	if _, known := trace.At((h.From + h.To) / 2); known {
		return record.PacingLogged
	}
	return record.PacingUnknown
}

// explained reports whether a hole in a capture's stamps hides nothing.
func explained(c media.Capture, h media.Hole, trace *pacing.Trace) bool {
	if trace == nil {
		s := c.Stamping()
		return float64(s.Missing) >= leftOut*float64(s.Missing+c.Frames)
	}
	f, known := trace.At(h.From - 2*pacing.Slack)
	return known && f.End() >= h.To-pacing.Slack
}

// gapWords tells of a capture's gaps in a scene.
func gapWords(list []gap) string {
	var pictures int64
	for _, g := range list {
		pictures += g.pictures
	}
	places, longest := "1 place", time.Duration(0)
	if len(list) > 1 {
		places = fmt.Sprintf("%d places", len(list))
	}
	for _, g := range list {
		longest = max(longest, g.to-g.before())
	}
	return fmt.Sprintf("%d missing in %s, the longest step is %.1f ms at %s frames a second",
		pictures, places, 1000*longest.Seconds(), list[0].rate)
}

// before is when the picture begins that is the last one before the gap.
func (g gap) before() time.Duration { return g.from - g.rate.TimeOf(1) }

// gapFindings judges a capture's gaps in a scene.
func gapFindings(s *comparison.Scene, list []gap) []finding.Finding {
	if len(list) == 0 {
		return nil
	}
	f := finding.Finding{Severity: finding.Fails, What: "the recorder dropped frames",
		Capture: list[0].capture, Evidence: gapWords(list), At: list[0].before(), Placed: true,
		Remedy: "choose another stretch, or record again: a dropped frame looks like a hitch of the " +
			"game; tolerate: gaps shows the scene all the same, and says so"}
	if s.Tolerates(comparison.TolerateGaps) {
		f.Severity, f.What = finding.Misleads, "the recorder dropped frames, which the scene tolerates"
		f.Remedy = "the clip will show the picture before; the manifest, verify and the closing page say so"
	}
	return []finding.Finding{f}
}

// refuseGaps is the error of a scene with gaps that it does not tolerate.
func (p *Plan) refuseGaps() error {
	if p.Scene.Tolerates(comparison.TolerateGaps) {
		return nil
	}
	_, err := finding.Refuse(p.gapFindings())
	return err
}

func (p *Plan) gapFindings() (found []finding.Finding) {
	for _, l := range p.Clip.Inputs {
		var own []gap
		for _, g := range p.gaps {
			if g.capture == l.Name {
				own = append(own, g)
			}
		}
		found = append(found, gapFindings(p.Scene, own)...)
	}
	return found
}

// tolerableGaps ties the gaps of a scene that tolerates them to its time.
func (p *Plan) tolerableGaps() (list []record.Tolerated) {
	if !p.Scene.Tolerates(comparison.TolerateGaps) {
		return nil
	}
	for _, g := range p.gaps {
		t := record.Tolerated{Kind: record.Gap, Capture: g.capture, From: g.from.Seconds(), To: g.to.Seconds(),
			Pictures: g.pictures, Pacing: g.pacing}
		for _, l := range p.Clip.Inputs {
			if l.Name == g.capture {
				t.SceneFrom = max(0, g.from-l.Start).Seconds()
				t.SceneTo = min(p.Scene.Length, max(0, g.to-l.Start)).Seconds()
				// The picture that stays, and the one after it.
				t.First = l.Capture.FrameAt(g.from)
				t.Last = t.First + 1
			}
		}
		list = append(list, t)
	}
	return list
}

// gapRemarks are what the closing page says of gaps.
func (p *Project) gapRemarks(list []record.Tolerated) (remarks []string) {
	for i, t := range list {
		if i > 0 && list[i-1].Capture == t.Capture {
			continue
		}
		n, last := 0, t
		for _, o := range list {
			if o.Capture == t.Capture {
				n, last = n+1, o
			}
		}
		when := fmt.Sprintf("from %.2f s to %.2f s", t.SceneFrom, t.SceneTo)
		if n > 1 {
			when = fmt.Sprintf("in %d places between %.2f s and %.2f s", n, t.SceneFrom, last.SceneTo)
		}
		what := "the picture before is shown"
		switch t.Pacing {
		case record.PacingUnknown:
			what = "its pacing is not known"
		case record.PacingLogged:
			what += ", the pacing is its log's"
		}
		remarks = append(remarks, fmt.Sprintf("%s: the recorder dropped pictures; %s %s.",
			p.shownName(t.Capture), when, what))
	}
	return remarks
}

// errReread says that a capture turned out not to keep to the rate that its container
// names, and was read anew.
var errReread = errors.New("render: a capture was read anew")

// reread probes a capture anew by all of its stamps. It reports whether that made it
// another one.
func (p *Project) reread(ctx context.Context, c media.Capture) (bool, error) {
	if c.Variable() {
		return false, nil
	}
	now, err := p.Tools.Reread(ctx, c.Path)
	if err != nil || !now.Variable() {
		return false, err
	}
	p.known.captures.forget(c.Path)
	return true, nil
}

// settle reads captures anew whose stamps in a scene are not those of the rate that
// their containers name.
func (p *Project) settle(ctx context.Context, s *comparison.Scene,
	list []sceneCapture) (changed bool, err error) {
	for _, one := range list {
		if one.probed.Variable() {
			continue
		}
		stamps, missing, err := p.Tools.Stamps(ctx, one.probed, one.start, one.start+s.Length)
		if err != nil {
			return false, err
		}
		if len(check.Stamps(stamps, missing, one.probed.Rate, one.start, one.start+s.Length)) > 0 {
			again, err := p.reread(ctx, one.probed)
			if err != nil {
				return false, err
			}
			changed = changed || again
		}
	}
	return changed, nil
}
