package scene

import (
	"fmt"
	"time"

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
func gapsIn(t Take, s *comparison.Scene) (list []gap) {
	for _, h := range t.Probed.Holes(t.Start, t.Start+s.Length) {
		if !explained(t.Probed, h, t.Trace) {
			list = append(list, gap{t.Key, h.From, h.To, h.Pictures, t.Probed.Rate, pacingIn(h, t.Trace)})
		}
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

// GapText tells of a capture's gaps in a scene; "" where there are none.
func GapText(t Take, s *comparison.Scene) string {
	list := gapsIn(t, s)
	if len(list) == 0 {
		return ""
	}
	return gapWords(list)
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

// Gaps are findings about the gaps that the scene shows, tolerated or not.
func (f *Footage) Gaps() (found []finding.Finding) {
	for _, t := range f.Takes {
		found = append(found, gapFindings(f.Scene, gapsIn(t, f.Scene))...)
	}
	return found
}

// RefuseGaps is the error of a scene with gaps that it does not tolerate.
func (f *Footage) RefuseGaps() error {
	if f.Scene.Tolerates(comparison.TolerateGaps) {
		return nil
	}
	_, err := finding.Refuse(f.Gaps())
	return err
}

// ofGap ties a gap to the scene's time.
func ofGap(t Take, s *comparison.Scene, g gap) record.Tolerated {
	first := t.Probed.FrameAt(g.from)
	return record.Tolerated{Kind: record.Gap, Capture: g.capture, Pictures: g.pictures, Pacing: g.pacing,
		From: g.from.Seconds(), To: g.to.Seconds(),
		SceneFrom: max(0, g.from-t.Start).Seconds(),
		SceneTo:   min(s.Length, max(0, g.to-t.Start)).Seconds(),
		First:     first, Last: first + 1} // the picture that stays, and the one after it
}
