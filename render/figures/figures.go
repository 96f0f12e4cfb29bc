// Package figures works out the numbers behind a scene: those of its pacing and those
// of its sound.
package figures

import (
	"context"
	"fmt"
	"image"
	"time"

	"fairframe/layout"
	"fairframe/render/comparison"
	"fairframe/render/deck"
	"fairframe/render/finding"
	"fairframe/render/pacing"
	"fairframe/render/scene"
)

// Scene are the numbers behind one scene.
type Scene struct {
	Scene    *comparison.Scene
	Captures []Capture         // in the order shown
	Warnings []finding.Finding // what the user should know; may be empty
	File     *comparison.File  // what a plot is drawn for
}

// Capture are the numbers behind one capture's part in a scene, which
// shows it from Start on for the scene's length. All times within are capture
// times; Scene turns them into the scene's.
type Capture struct {
	Key, Name, Detail string
	Raster            image.Point // as the reviewer states it; zero when not stated
	// PixelRatio compares Raster with Base, as "+86 %"; "" where one of the two is zero.
	PixelRatio string
	Base       deck.Base
	Start      time.Duration
	// Refresh is taken for that of the display: the capture's own rate, because a
	// capture records what a display would show, one frame a refresh (common
	// practice). A capture at half the display's refresh cannot tell its multiples.
	Refresh pacing.Rate
	Figures pacing.Figures
	// Difference is Figures minus those of the scene's first capture; nil for the
	// first capture itself, and where one of the two has no frames. Shares at
	// refresh multiples are compared only where both refresh rates are the same.
	Difference      *pacing.Difference
	Spans           []pacing.Span
	Sound           *Sound           // nil: the capture has no sound
	SoundDifference *SoundDifference // Sound minus that of the scene's first capture; nil as Difference
	// NeverShown is how many of the frames the clip never shows, since it has fewer
	// pictures a second than the capture.
	NeverShown int
	Trace      *pacing.Trace
	Style      int // colour and dash, as in deck.Capture
}

// InScene turns a capture time into a time from the scene's start.
func (c *Capture) InScene(t time.Duration) time.Duration { return t - c.Start }

// Sentences returns the spans in words, in scene time: "Alder holds 30 fps from
// 3.10 s to 7.00 s (117 frames of 33.3 ms)".
func (c *Capture) Sentences() []string {
	out := make([]string, len(c.Spans))
	for i, s := range c.Spans {
		out[i] = s.Sentence(c.Name, c.Start)
	}
	return out
}

// Of works out the numbers behind a scene: over [start, start + length) of each of its
// captures. The captures are probed for their rate, and no picture is decoded; their
// sound is, in the scene.
func Of(ctx context.Context, p *scene.Project, s *comparison.Scene) (*Scene, error) {
	failed := func(err error) (*Scene, error) { return nil, fmt.Errorf("scene %s: %w", s.ID, err) }
	takes, err := scene.Probe(ctx, p, s)
	if err != nil {
		return failed(err)
	}
	var list []finding.Finding
	for i := range takes {
		t := &takes[i]
		if !t.Pacing.Given() {
			return nil, &finding.Error{Msg: fmt.Sprintf("scene %s: capture %s has no pacing, which the figures "+
				"need", s.ID, t.Key), Hint: "add pacing: with the path of a pacing log"}
		}
		var warnings []finding.Finding
		if t.Trace, warnings, err = scene.ReadPacing(ctx, p, s, *t); err != nil {
			return failed(err)
		}
		list = append(append(list, t.Warnings(s)...), warnings...)
	}
	for _, t := range takes {
		if gaps := scene.GapText(t, s); gaps != "" {
			list = append(list, finding.Plain(fmt.Sprintf("capture %s: its recorder dropped frames: %s; the "+
				"pacing there is not known", t.Key, gaps)))
		}
	}
	f := of(p.File, s, takes)
	if err := listen(ctx, p, f, takes); err != nil {
		return failed(err)
	}
	for _, t := range takes {
		list = append(list, scene.OfTrack(t)...)
	}
	f.Warnings = append(list, f.Warnings...)
	return f, nil
}

// of works out the figures of captures whose pacing is known.
func of(file *comparison.File, s *comparison.Scene, takes []scene.Take) *Scene {
	out := &Scene{Scene: s, File: file}
	plain := func(format string, args ...any) {
		out.Warnings = append(out.Warnings, finding.Plain(fmt.Sprintf(format, args...)))
	}
	all := scene.FiguresOf(s, takes)
	for i, t := range takes {
		from, to := t.Start, t.Start+s.Length
		one := Capture{
			Key: t.Key, Name: t.Name, Detail: t.Detail, Raster: t.Raster,
			Base: scene.BaseOf(file, t.Key), Start: t.Start,
			Refresh: t.Probed.Refresh(), Trace: t.Trace, Style: t.Style,
			Figures: all[i],
			Spans:   t.Trace.Spans(from, to, t.Probed.Refresh()),
		}
		one.PixelRatio = layout.PixelRatio(t.Raster, one.Base.Raster)
		if len(out.Captures) > 0 {
			first := out.Captures[0]
			one.Difference = difference(first, one)
			if one.Difference != nil && one.Refresh != first.Refresh && one.Refresh.Valid() &&
				first.Refresh.Valid() {
				plain("captures %s and %s were recorded at %s and %s Hz; their times at refresh multiples are "+
					"not compared", first.Key, one.Key, first.Refresh, one.Refresh)
			}
		}
		unseen, all := scene.NeverShown(t, s, file.Output.Rate)
		if one.NeverShown = unseen; unseen > 0 {
			out.Warnings = append(out.Warnings, scene.UnseenFinding(t, file.Output.Rate, unseen, all))
		}
		if !one.Refresh.Valid() {
			plain("capture %s keeps to no refresh (%v); its frame times are no multiples of one, and no "+
				"shares of such are told", t.Key, t.Probed.Stamping())
		}
		out.Captures = append(out.Captures, one)
	}
	return out
}

// difference compares the figures of a capture with the first one's; nil where one of
// the two has no frames.
func difference(first, one Capture) *pacing.Difference {
	d, ok := pacing.Compare(first.Figures, one.Figures)
	if !ok {
		return nil
	}
	if one.Refresh != first.Refresh {
		d.Shares, d.OffGrid = nil, 0
	}
	return &d
}
