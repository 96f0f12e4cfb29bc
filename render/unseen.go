package render

import (
	"fmt"

	"fairframe/render/comparison"
	"fairframe/render/pacing"
)

// neverShown returns how many of a capture's new frames in a scene the clip never
// shows, of how many, since it has fewer pictures a second than the capture. A frame
// is shown if any of the captured pictures that hold some of it is.
func neverShown(one sceneCapture, s *comparison.Scene, rate pacing.Rate,
	trace *pacing.Trace) (unseen, all int) {
	if trace == nil || one.probed.Rate.Hz() <= 1.001*rate.Hz() {
		return 0, 0
	}
	passing, err := s.Time(rate)
	if err != nil {
		return 0, 0
	}
	end := one.start + s.Length
	frames := trace.Over(one.start, end)
	seen := make([]bool, len(frames))
	i := 0
	for k := range passing.Frames() {
		n := one.probed.FrameAt(one.start + passing.SceneTime(k))
		from, to := one.probed.TimeOf(n)+pacing.Slack, one.probed.TimeOf(n+1)-pacing.Slack
		for i < len(frames) && frames[i].End() <= from {
			i++
		}
		for j := i; j < len(frames) && frames[j].Begin < to; j++ {
			seen[j] = true
		}
	}
	for i, f := range frames {
		if f.Kind != pacing.Normal || f.Begin < one.start {
			continue
		}
		if all++; !seen[i] {
			unseen++
		}
	}
	return unseen, all
}

// unseenText warns of frames that a clip never shows.
func unseenText(one sceneCapture, rate pacing.Rate, unseen, all int) string {
	return fmt.Sprintf("capture %s: the clip never shows %d of its %d new frames in the scene, since "+
		"it has %s pictures a second and the capture %s; the deck and the figures count them all",
		one.Key, unseen, all, rate, one.probed.Rate)
}
