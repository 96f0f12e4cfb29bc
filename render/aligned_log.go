package render

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"fairframe/render/align"
	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/measure"
	"fairframe/render/media"
	"fairframe/render/pacing"
	"fairframe/render/scratch"
)

// LogAligned is where a capture's pacing log lies on its pictures.
type LogAligned struct {
	Capture  string // key, or path
	Log      string // path
	Was      time.Duration
	Starts   time.Duration // what pacing: starts: should be; Was where nothing may be relied on
	From, To time.Duration // the stretch of the capture that was measured
	align.LogFit
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

// AlignLog finds where a pacing log lies on a capture.
func AlignLog(ctx context.Context, tools *media.Tools, capture, log string, o LogOptions,
	progress Progress) (LogAligned, error) {
	c, err := tools.Probe(ctx, capture)
	if err != nil {
		return LogAligned{}, err
	}
	return alignLog(ctx, tools, capture, c, log, o, progress)
}

// AlignLogs finds where the logs of a comparison file's captures lie, each near the
// first scene that shows its capture.
func (p *Project) AlignLogs(ctx context.Context,
	progress func(capture string) Progress) ([]LogAligned, error) {
	var list []LogAligned
	for i := range p.File.Captures {
		one := &p.File.Captures[i]
		if one.Pacing.File == "" {
			continue
		}
		probed, err := p.capture(ctx, one.Video)
		if err != nil {
			return nil, fmt.Errorf("capture %s: %w", one.Key, err)
		}
		o := LogOptions{Format: one.Pacing.Format, Settings: settingsOf(one)}
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
	progress Progress) (LogAligned, error) {
	found := LogAligned{Capture: name, Log: log, Was: o.Format.Starts, Starts: o.Format.Starts}
	frames, err := logFrames(log, o.Format, c)
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
		found.LogFit = align.FitLog(measured, frames, c.Rate)
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

func whyNoFit(f align.LogFit) string {
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

// logFrames reads the frames of a log in its own clock, rows that cannot be read left
// out.
func logFrames(log string, f pacing.Format, c media.Capture) ([]pacing.Frame, error) {
	f.Starts = 0
	if factor, unit, wrong := wrongUnit(log, f); wrong {
		return nil, &finding.Error{Msg: fmt.Sprintf("%s: %s", filepath.Base(log), factor), Hint: "set unit: " + unit}
	}
	file, err := scratch.Open(log)
	if err != nil {
		return nil, &finding.Error{Msg: fmt.Sprintf("pacing log %s cannot be read: %v", log, scratch.Cause(err)),
			Hint: "check its path"}
	}
	defer file.Close()
	s := pacing.NewScanner(file, log, f, c.Rate)
	s.Count(c.TimeOf)
	var list []pacing.Frame
	var bad error
	for s.Scan() {
		switch r := s.Record(); {
		case r.Err != nil:
			bad = r.Err
		case len(list) == 0 || r.Frame.Begin > list[len(list)-1].Begin:
			list = append(list, r.Frame)
		}
	}
	if err := s.Err(); err != nil {
		return nil, &finding.Error{Msg: err.Error(), Hint: logHint(log)}
	}
	if len(list) < 2 {
		if bad == nil {
			bad = errors.New("it has fewer than two rows")
		}
		return nil, &finding.Error{Msg: fmt.Sprintf("%s holds no frames: %v", filepath.Base(log), bad),
			Hint: logHint(log)}
	}
	return list, nil
}

// wrongUnit says in a sentence that a log's frame times are a thousand times off.
func wrongUnit(log string, f pacing.Format) (text, unit string, wrong bool) {
	file, err := scratch.Open(log)
	if err != nil {
		return "", "", false
	}
	defer file.Close()
	factor, u, wrong := pacing.WrongFactor(file, f)
	if !wrong {
		return "", "", false
	}
	read := f.Unit
	if read == 0 {
		if read = pacing.Milliseconds; f.Means == pacing.TimeStamp {
			read = pacing.Seconds
		}
	}
	return pacing.WrongUnitText(factor, read), u.String(), true
}

// logHint says how a log could be read.
func logHint(log string) string {
	const other = "check the keys under pacing:; times in a log count from the capture's first frame, " +
		"and starts: shifts a log that counts from another moment"
	file, err := scratch.Open(log)
	if err != nil {
		return other
	}
	defer file.Close()
	g, err := pacing.GuessFormat(file)
	switch {
	case err != nil || g.Line == 0:
		return "a log is text with a header line and a row for each frame; remove what is before the " +
			"header, or begin those lines with #"
	case slices.Contains(g.Columns, pacing.TimeColumn) && slices.Contains(g.Columns, pacing.FrameTimeColumn):
		return other // in the tool's own format: it was read as it should be
	case g.Format.Column == "":
		return "tell which column to read and what it means, such as pacing: {file: " + filepath.Base(log) +
			", column: NAME, means: frame-time, unit: ms}; its columns: " + strings.Join(g.Columns, ", ")
	}
	return "try pacing: " + g.Mapping(filepath.Base(log))
}

// WriteLogStarts sets the starts of the logs that were found in the comparison file,
// and returns the name of the copy that is kept of it; "" where none was found.
func (p *Project) WriteLogStarts(found []LogAligned) (backup string, err error) {
	starts := map[string]string{}
	for _, one := range found {
		if one.Matched() {
			starts[one.Capture] = startText(one.Starts)
		}
	}
	if len(starts) == 0 {
		return "", nil
	}
	return p.rewrite(func(path string, text []byte) ([]byte, error) {
		return comparison.SetLogStarts(path, text, starts)
	})
}
