package render

import (
	"context"
	"time"

	"fairframe/render/align"
	"fairframe/render/check"
	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/media/deliver"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
)

// sound listens to what a scene lets be heard.
func (c *checker) sound(ctx context.Context, s *comparison.Scene, one sceneCapture) {
	track := one.probed.Track
	if !one.probed.Audio || track.Channels < 1 || track.Rate < 1 {
		return // the plan has said so
	}
	ear := check.NewEar(track.Channels, track.Rate)
	err := c.project.Tools.DecodeSound(ctx, one.probed, media.SoundRequest{From: one.start, Length: s.Length},
		func(samples []float32) error {
			ear.Hear(samples)
			return nil
		})
	if err != nil {
		c.add(one.Key, s.ID, finding.OfError("the sound cannot be decoded", err))
		return
	}
	c.add(one.Key, s.ID, ear.Sound(one.start, s.Length)...)
}

// loudness finds out whether the clip can be brought to the loudness that the scene
// wants.
func (c *checker) loudness(ctx context.Context, s *comparison.Scene, clip *graph.Clip) {
	_, warnings, err := deliver.Leveled(ctx, c.project.Tools, clip)
	if err != nil {
		if ctx.Err() == nil {
			c.add("", s.ID, finding.OfError("the loudness cannot be measured", err))
		}
		return
	}
	for _, w := range warnings {
		if s.Loudness == 0 {
			c.add("", s.ID, finding.Finding{Severity: finding.Note, What: "the sound is lowered", Evidence: w})
			continue
		}
		c.add("", s.ID, finding.Finding{Severity: finding.Misleads,
			What: "the sound cannot be brought to its loudness", Evidence: w,
			Remedy: "set a lower loudness:, or remove it"})
	}
}

// cadence measures the beginning of a scene and compares it with the log.
func (c *checker) cadence(ctx context.Context, s *comparison.Scene, one sceneCapture) {
	from, to := one.start, one.start+min(s.Length, sampled)
	// More of the log than the scene shows, for a log that may be offset.
	wide := *s
	wide.Length += time.Second
	trace, err := c.project.trace(ctx, one, &wide, &Plan{})
	if err != nil {
		return // the plan has said so
	}
	m := c.measure(ctx, s, one)
	frames := between(m.frames, max(0, from-measureMargin), to+measureMargin)
	if m.err != nil || len(m.sum.Warnings) > 0 || !check.Moving(frames, from, to) {
		return // nothing that could contradict a log
	}
	found := check.Cadence(frames, trace.Frames(), one.probed.Rate, from, to)
	if far := c.offset(one, frames, from); len(far) > 0 && (len(found) == 0 || found[0].What != far[0].What) {
		found = far
	}
	for i := range found {
		if found[i].What == check.LogOffset {
			found[i].Remedy = "run fairframe align FILE --logs --write; or " + found[i].Remedy
		}
	}
	c.add(one.Key, s.ID, found...)
}

// offset looks for the place of a log on what was measured, however far off.
func (c *checker) offset(one sceneCapture, measured []pacing.Frame, from time.Duration) []finding.Finding {
	logged, read := c.logs[one.Key]
	if !read {
		// the log's own findings say what is wrong
		logged, _ = logFrames(one.Pacing.File, one.Pacing.Format, one.probed)
		c.logs[one.Key] = logged
	}
	fit := align.FitLog(measured, logged, one.probed.Rate)
	if !fit.Matched() {
		return nil
	}
	return check.Offset(fit.Shift-one.Pacing.Format.Starts, one.probed.Rate.TimeOf(1), fit.Agree,
		fit.Begun, from)
}
