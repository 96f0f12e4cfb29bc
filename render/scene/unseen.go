package scene

import (
	"fmt"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/pacing"
)

// NeverShown returns how many of a capture's new frames in a scene the clip never
// shows, of how many, since it has fewer pictures a second than the capture. A frame
// is shown if any of the captured pictures that hold some of it is.
func NeverShown(one Take, s *comparison.Scene, rate pacing.Rate) (unseen, all int) {
	if one.Trace == nil || one.Probed.Rate.Hz() <= 1.001*rate.Hz() {
		return 0, 0
	}
	passing, err := s.Time(rate)
	if err != nil {
		return 0, 0
	}
	end := one.Start + s.Length
	frames := one.Trace.Over(one.Start, end)
	seen := make([]bool, len(frames))
	i := 0
	for k := range passing.Frames() {
		n := one.Probed.FrameAt(one.Start + passing.SceneTime(k))
		from, to := one.Probed.TimeOf(n)+pacing.Slack, one.Probed.TimeOf(n+1)-pacing.Slack
		for i < len(frames) && frames[i].End() <= from {
			i++
		}
		for j := i; j < len(frames) && frames[j].Begin < to; j++ {
			seen[j] = true
		}
	}
	for i, f := range frames {
		if f.Kind != pacing.Normal || f.Begin < one.Start {
			continue
		}
		if all++; !seen[i] {
			unseen++
		}
	}
	return unseen, all
}

// UnseenFinding warns of frames that a clip never shows.
func UnseenFinding(one Take, rate pacing.Rate, unseen, all int) finding.Finding {
	text := fmt.Sprintf("%d of its %d new frames in the scene, since it has %s pictures a second and the "+
		"capture %s; the deck and the figures count them all", unseen, all, rate, one.Probed.Rate)
	return finding.Finding{Severity: finding.Misleads, Capture: one.Key, Evidence: text,
		What:   "the clip never shows some of its frames",
		Remedy: "set output: rate: to the capture's, or say so where the clip is shown",
		Words:  fmt.Sprintf("capture %s: the clip never shows %s", one.Key, text)}
}
