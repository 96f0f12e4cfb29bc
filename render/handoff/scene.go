package handoff

import (
	"context"
	"fmt"
	"math/big"
	"slices"
	"strings"
	"time"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/pacing"
	"fairframe/render/record"
	"fairframe/render/scene"
)

// SceneOf is a scene as handed on, with warnings of what cannot be.
func SceneOf(ctx context.Context, p *scene.Project, s *comparison.Scene, clip string,
	e record.Entry) (Scene, []finding.Finding, error) {
	captures, err := scene.Probe(ctx, p, s)
	if err != nil {
		return Scene{}, nil, err
	}
	rate := p.File.Output.Rate
	passing, err := s.Time(rate)
	if err != nil {
		return Scene{}, nil, err
	}
	// A clip may have fewer frames a second than its scene, as loops do.
	own, err := pacing.ParseRate(e.Output.Rate)
	if err != nil {
		return Scene{}, nil, err
	}
	one := Scene{ID: s.ID, Caption: s.Caption, Sound: e.Output.Sound,
		Frames: rate.FramesIn(s.Title) + passing.Frames() + rate.FramesIn(s.Summary),
		Clip:   Media{Path: clip, Rate: own, Frames: e.Output.Frames, Drop: scene.DropFrame(rate)}}
	var warnings []finding.Finding
	var paced []scene.Take // those whose pacing is known,
	var at []int           // and which shots they are
	for _, c := range captures {
		own, _ := scene.TimecodeOf(c.Probed)
		shot := Shot{Key: c.Key, Name: c.Name,
			Runs: runsOf(passing, rate, rate.FramesIn(s.Title), c.Start),
			Capture: Media{Path: c.Video, Rate: c.Probed.Rate, Frames: c.Probed.Frames,
				First: own.First, Drop: own.Drop}}
		if c.Probed.Variable() {
			// Editors count such a file in steps of one rate, however many pictures it has.
			shot.Capture.Variable, shot.Capture.Frames = true, c.Probed.Rate.FramesIn(c.Probed.Duration())
			warnings = append(warnings, finding.Plain(fmt.Sprintf("scene %s: capture %s is of variable rate; the "+
				"timeline counts its time at %s frames a second, not its pictures", s.ID, c.Key, c.Probed.Rate)))
		}
		if c.Key == s.Timecode && e.Record != nil {
			if from, _, err := scene.ClipTimecode(c, rate, passing, rate.FramesIn(s.Title)); err == nil {
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
			paced, at = append(paced, c), append(at, len(one.Shots))
		} else {
			warnings = append(warnings, finding.Plain(fmt.Sprintf("scene %s: capture %s has no pacing; its "+
				"spans and hitches are not marked", s.ID, c.Key)))
		}
		one.Shots = append(one.Shots, shot)
	}
	for i, figures := range scene.FiguresOf(s, paced) {
		one.Shots[at[i]].Marks = marksOn(s, paced[i], figures.Hitches)
	}
	return one, warnings, nil
}

// runsOf says which stretches of a capture a clip shows, and where: after the
// lead frames of a title page, by the time map of the scene.
func runsOf(m pacing.TimeMap, rate pacing.Rate, lead int64, start time.Duration) []Run {
	var list []Run
	for _, r := range m.Runs() {
		speed := new(big.Rat).Mul(r.Step, big.NewRat(rate.Num, rate.Den))
		list = append(list, Run{At: lead + r.From, Frames: r.To - r.From,
			From: start + m.SceneTime(r.From), Speed: speed})
	}
	return list
}

// marksOn are a capture's spans and hitches within a scene.
func marksOn(s *comparison.Scene, c scene.Take, hitches []pacing.Frame) (list []Mark) {
	from, to := c.Start, c.Start+s.Length
	for _, span := range c.Trace.Spans(from, to, c.Probed.Refresh()) {
		words := span.Sentence(c.Name, c.Start)
		name, _, _ := strings.Cut(words, " from ")
		list = append(list, Mark{Kind: Span, From: span.From, To: span.To, Name: name,
			Words: words})
	}
	for _, h := range hitches {
		name := fmt.Sprintf("%s hitches: a frame of %.1f ms",
			c.Name, float64(h.Time)/float64(time.Millisecond))
		list = append(list, Mark{Kind: Hitch, From: h.Begin, To: h.Begin + h.Time, Name: name,
			Words: fmt.Sprintf("%s at %.2f s", name, (h.Begin - c.Start).Seconds())})
	}
	slices.SortStableFunc(list, func(a, b Mark) int { return int(a.From - b.From) })
	return list
}
