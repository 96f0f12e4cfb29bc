package render

import (
	"context"
	"fmt"
	"io"
	"math/big"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/handoff"
	"fairframe/render/media"
	"fairframe/render/pacing"
	"fairframe/render/record"
	"fairframe/render/scene"
	"fairframe/render/scratch"
)

// CheckTimeline tells, before anything is rendered, whether a timeline can have
// that name.
func CheckTimeline(f *comparison.File, out string) error {
	ext := strings.ToLower(filepath.Ext(out))
	if !slices.Contains(handoff.Formats(), ext) {
		return &finding.Error{Msg: fmt.Sprintf("the timeline %q has an unknown ending", out),
			Hint: "end the name in " + strings.Join(handoff.Formats(), ", ")}
	}
	return checkFolder(f, out)
}

// WriteTimeline writes the scenes of a batch that has done them all, in the order of
// its rows, as OpenTimelineIO, as an edit decision list or as WebVTT: the name's
// ending decides. Warnings tell of what could not be marked.
func WriteTimeline(ctx context.Context, p *scene.Project, rows []Row,
	out string) (warnings []finding.Finding, err error) {
	if err := CheckTimeline(p.File, out); err != nil {
		return nil, err
	}
	scenes, entries, err := done(p, rows)
	if err != nil {
		return nil, err
	}
	line := handoff.Timeline{Title: p.File.Title, Rate: p.File.Output.Rate}
	for i, s := range scenes {
		for _, input := range record.Named(p.File, s) {
			if media.SameFile(input, out) {
				return nil, &finding.Error{Msg: fmt.Sprintf("the timeline %s is one of the inputs", out),
					Hint: "choose another name for it"}
			}
		}
		one, w, err := timelineScene(ctx, p, s, rows[i].Out, entries[i])
		if err != nil {
			return nil, fmt.Errorf("scene %s: %w", s.ID, err)
		}
		line.Scenes = append(line.Scenes, one)
		warnings = append(warnings, w...)
	}
	return warnings, scratch.Write(out, func(w io.Writer) error { return line.Write(w, out) })
}

// timelineScene is a scene as handed on.
func timelineScene(ctx context.Context, p *scene.Project, s *comparison.Scene, clip string,
	e record.Entry) (handoff.Scene, []finding.Finding, error) {
	captures, err := scene.Probe(ctx, p, s)
	if err != nil {
		return handoff.Scene{}, nil, err
	}
	rate := p.File.Output.Rate
	passing, err := s.Time(rate)
	if err != nil {
		return handoff.Scene{}, nil, err
	}
	// A clip may have fewer frames a second than its scene, as loops do.
	own, err := pacing.ParseRate(e.Output.Rate)
	if err != nil {
		return handoff.Scene{}, nil, err
	}
	one := handoff.Scene{ID: s.ID, Caption: s.Caption, Sound: e.Output.Sound,
		Frames: rate.FramesIn(s.Title) + passing.Frames() + rate.FramesIn(s.Summary),
		Clip:   handoff.Media{Path: clip, Rate: own, Frames: e.Output.Frames, Drop: scene.DropFrame(rate)}}
	var warnings []finding.Finding
	for _, c := range captures {
		own, _ := scene.TimecodeOf(c.Probed)
		shot := handoff.Shot{Key: c.Key, Name: c.Name,
			Runs: runsOf(passing, rate, rate.FramesIn(s.Title), c.Start),
			Capture: handoff.Media{Path: c.Video, Rate: c.Probed.Rate, Frames: c.Probed.Frames,
				First: own.First, Drop: own.Drop}}
		if c.Probed.Variable() {
			// Editors count such a file in steps of one rate, however many pictures it has.
			shot.Capture.Variable, shot.Capture.Frames = true, c.Probed.Rate.FramesIn(c.Probed.Duration())
			warnings = append(warnings, finding.Plain(fmt.Sprintf("scene %s: capture %s is of variable rate; the "+
				"timeline counts its time at %s frames a second, not its pictures", s.ID, c.Key, c.Probed.Rate)))
		}
		if c.Key == s.Timecode && e.Record != nil {
			if from, _, err := scene.ClipTimecode(c, rate, rate.FramesIn(s.Title)); err == nil {
				one.Clip.First, one.Clip.Drop = from.First, from.Drop
			}
		}
		if c.Pacing.Given() {
			trace, odd, err := scene.ReadPacing(ctx, p, s, c)
			if err != nil {
				return one, nil, err
			}
			c.Trace = trace
			warnings = append(append(warnings, odd...), c.Warnings(s)...)
			shot.Marks = marksOn(s, c)
		} else {
			warnings = append(warnings, finding.Plain(fmt.Sprintf("scene %s: capture %s has no pacing; its "+
				"spans and hitches are not marked", s.ID, c.Key)))
		}
		one.Shots = append(one.Shots, shot)
	}
	return one, warnings, nil
}

// runsOf says which stretches of a capture a clip shows, and where: after the
// lead frames of a title page, by the time map of the scene.
func runsOf(m pacing.TimeMap, rate pacing.Rate, lead int64, start time.Duration) []handoff.Run {
	var list []handoff.Run
	for _, r := range m.Runs() {
		speed := new(big.Rat).Mul(r.Step, big.NewRat(rate.Num, rate.Den))
		list = append(list, handoff.Run{At: lead + r.From, Frames: r.To - r.From,
			From: start + m.SceneTime(r.From), Speed: speed})
	}
	return list
}

// marksOn are a capture's spans and hitches within a scene.
func marksOn(s *comparison.Scene, c scene.Take) (list []handoff.Mark) {
	from, to := c.Start, c.Start+s.Length
	for _, span := range c.Trace.Spans(from, to, c.Probed.Refresh()) {
		words := span.Sentence(c.Name, c.Start)
		name, _, _ := strings.Cut(words, " from ")
		list = append(list, handoff.Mark{Kind: handoff.Span, From: span.From, To: span.To, Name: name,
			Words: words})
	}
	for _, h := range c.Trace.Figures(from, to, c.Probed.Refresh()).Hitches {
		name := fmt.Sprintf("%s hitches: a frame of %.1f ms",
			c.Name, float64(h.Time)/float64(time.Millisecond))
		list = append(list, handoff.Mark{Kind: handoff.Hitch, From: h.Begin, To: h.Begin + h.Time, Name: name,
			Words: fmt.Sprintf("%s at %.2f s", name, (h.Begin - c.Start).Seconds())})
	}
	slices.SortStableFunc(list, func(a, b handoff.Mark) int { return int(a.From - b.From) })
	return list
}
