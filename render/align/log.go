package align

import (
	"context"
	"fmt"
	"slices"
	"time"

	"fairframe/render/finding"
	"fairframe/render/measure"
	"fairframe/render/measure/logs"
	"fairframe/render/media"
	"fairframe/render/pacing"
	"fairframe/render/scene"
)

// LogAligned is where a capture's pacing log lies on its pictures.
type LogAligned struct {
	Capture  string // key, or path
	Log      string // path
	Was      time.Duration
	Starts   time.Duration // what pacing: starts: should be; Was where nothing may be relied on
	From, To time.Duration // the stretch of the capture that was measured
	LogFit
	Notes []string
}

// LogOptions say how a log is aligned.
type LogOptions struct {
	Format   pacing.Format
	Settings measure.Settings
	Around   *time.Duration // capture time near which the log is to fit; nil: its middle
}

// logStretch is how much of a capture is measured to place a log by. Where that does
// not tell, the whole capture is.
const logStretch = 30 * time.Second

// Log finds where a pacing log lies on a capture.
func Log(ctx context.Context, tools *media.Tools, capture, log string, o LogOptions,
	progress func(done, total int64)) (LogAligned, error) {
	c, err := tools.Probe(ctx, capture)
	if err != nil {
		return LogAligned{}, err
	}
	return alignLog(ctx, tools, capture, c, log, o, progress)
}

// Logs finds where the logs of a comparison file's captures lie, each near the
// first scene that shows its capture.
func Logs(ctx context.Context, p *scene.Project,
	progress func(capture string) func(done, total int64)) ([]LogAligned, error) {
	var list []LogAligned
	for i := range p.File.Captures {
		one := &p.File.Captures[i]
		if one.Pacing.File == "" {
			continue
		}
		probed, err := p.Capture(ctx, one.Video)
		if err != nil {
			return nil, fmt.Errorf("capture %s: %w", one.Key, err)
		}
		o := LogOptions{Format: one.Pacing.Format, Settings: logs.SettingsOf(one)}
		for j := range p.File.Scenes {
			s := &p.File.Scenes[j]
			if t, ok := s.Start[one.Key]; ok && slices.Contains(s.Captures, one.Key) && o.Around == nil {
				at, err := t.At(probed.Rate)
				if err != nil {
					return nil, err
				}
				at += s.Length / 2
				o.Around = &at
			}
		}
		found, err := alignLog(ctx, p.Tools, one.Key, probed, one.Pacing.File, o, progress(one.Key))
		if err != nil {
			return nil, fmt.Errorf("capture %s: %w", one.Key, err)
		}
		list = append(list, found)
	}
	if len(list) == 0 {
		return nil, &finding.Error{Msg: "no capture of the file has a pacing log",
			Hint: "name one after pacing:, or align a log with fairframe align CAPTURE --log LOG"}
	}
	return list, nil
}

func alignLog(ctx context.Context, tools *media.Tools, name string, c media.Capture, log string, o LogOptions,
	progress func(done, total int64)) (LogAligned, error) {
	found := LogAligned{Capture: name, Log: log, Was: o.Format.Starts, Starts: o.Format.Starts}
	frames, err := logs.Frames(log, o.Format, c)
	if err != nil {
		return found, err
	}
	end := c.Duration()
	mid := end / 2
	if o.Around != nil {
		mid = *o.Around
	}
	found.From = max(0, min(mid-logStretch/2, end-logStretch))
	found.To = found.From + logStretch
	if end > 0 && found.To >= end {
		found.To = end
	}
	for {
		var measured []pacing.Frame
		sum, err := measure.Capture(ctx, tools, c, o.Settings, found.From, found.To,
			func(f pacing.Frame) error {
				measured = append(measured, f)
				return nil
			}, func(done int64) {
				if progress != nil {
					total := c.Rate.FramesIn(found.To - found.From)
					progress(done, max(done, total))
				}
			})
		if err != nil {
			return found, err
		}
		found.LogFit = FitLog(measured, frames, c.Rate)
		whole := found.From == 0 && (found.To == 0 || found.To == end)
		if found.Matched() || whole {
			for _, w := range sum.Warnings {
				found.Notes = append(found.Notes, w.Error())
			}
			break
		}
		found.From, found.To = 0, end
	}
	if found.Matched() {
		found.Starts = found.Shift.Round(time.Microsecond)
	} else {
		found.Notes = append(found.Notes, whyNoFit(found.LogFit))
	}
	return found, nil
}

func whyNoFit(f LogFit) string {
	switch {
	case f.Correlation == 0:
		return "the pacing is the same all the time, in the log or in the pictures: nothing tells " +
			"one place from another"
	case f.Runner != nil && f.Runner.Share > 0.9 && f.Correlation > 0.5:
		return fmt.Sprintf("another place fits nearly as well (%+.3f s): the pacing repeats itself",
			f.Runner.Offset)
	}
	return "the log fits nowhere: is it of this capture, and does its column hold what means: says?"
}
