package check

import (
	"context"
	"time"

	"fairframe/render/align"
	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/measure/logs"
	"fairframe/render/media"
	"fairframe/render/media/deliver"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
	"fairframe/render/scene"
)

// sound listens to what a scene lets be heard.
func (c *checker) sound(ctx context.Context, s *comparison.Scene, one scene.Take) {
	track := one.Probed.Track
	if !one.Probed.Audio || track.Channels < 1 || track.Rate < 1 {
		return // the plan has said so
	}
	ear := NewEar(track.Channels, track.Rate)
	err := c.p.Tools.DecodeSound(ctx, one.Probed, media.SoundRequest{From: one.Start, Length: s.Length},
		func(samples []float32) error {
			ear.Hear(samples)
			return nil
		})
	if err != nil {
		c.add(one.Key, s.ID, finding.OfError("the sound cannot be decoded", err))
		return
	}
	c.add(one.Key, s.ID, ear.Sound(one.Start, s.Length)...)
}

// loudness finds out whether the clip can be brought to the loudness that the scene
// wants.
func (c *checker) loudness(ctx context.Context, s *comparison.Scene, clip *graph.Clip) {
	_, warnings, err := deliver.Leveled(ctx, c.p.Tools, clip)
	if err != nil {
		if ctx.Err() == nil {
			c.add("", s.ID, finding.OfError("the loudness cannot be measured", err))
		}
		return
	}
	c.add("", s.ID, warnings...)
}

// cadence measures the beginning of a scene and compares it with the log.
func (c *checker) cadence(ctx context.Context, s *comparison.Scene, one scene.Take) {
	from, to := one.Start, one.Start+min(s.Length, sampled)
	// More of the log than the scene shows, for a log that may be offset.
	wide := *s
	wide.Length += time.Second
	trace, _, err := scene.ReadPacing(ctx, c.p, &wide, one)
	if err != nil {
		return // the plan has said so
	}
	m := c.measure(ctx, s, one)
	frames := between(m.frames, max(0, from-measureMargin), to+measureMargin)
	if m.err != nil || len(m.sum.Warnings) > 0 || !Moving(frames, from, to) {
		return // nothing that could contradict a log
	}
	found := Cadence(frames, trace.Frames(), one.Probed.Rate, from, to)
	if far := c.offset(one, frames, from); len(far) > 0 && (len(found) == 0 || found[0].What != far[0].What) {
		found = far
	}
	for i := range found {
		if found[i].What == LogOffset {
			found[i].Remedy = "run fairframe align FILE --logs --write; or " + found[i].Remedy
		}
	}
	c.add(one.Key, s.ID, found...)
}

// offset looks for the place of a log on what was measured, however far off.
func (c *checker) offset(one scene.Take, measured []pacing.Frame, from time.Duration) []finding.Finding {
	logged, read := c.logs[one.Key]
	if !read {
		// the log's own findings say what is wrong
		logged, _ = logs.Frames(one.Pacing.File, one.Pacing.Format, one.Probed)
		c.logs[one.Key] = logged
	}
	fit := align.FitLog(measured, logged, one.Probed.Rate)
	if !fit.Matched() {
		return nil
	}
	return Offset(fit.Shift-one.Pacing.Format.Starts, one.Probed.Rate.TimeOf(1), fit.Agree,
		fit.Begun, from)
}
