package scene

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"time"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/measure/logs"
	"fairframe/render/media"
	"fairframe/render/pacing"
	"fairframe/render/scratch"
)

// Unmeasured says what to do about captures whose pacing is still to be measured.
type Unmeasured int

// Ways to get a pacing that is still to be measured.
const (
	KeepLog        Unmeasured = iota // measure what the scene shows, and keep it in a log
	MeasureStretch                   // measure what the scene shows, for the moment
	AssumeSteady                     // take one frame a refresh, where the pacing does not matter
)

// source is where the pacing of a capture comes from.
type source interface {
	// trace returns the frames on screen in [from, to), and what is odd about them.
	trace(ctx context.Context, from, to time.Duration) (*pacing.Trace, []pacing.Warning, error)
}

// logFile is a log, of the reviewer or kept of a measurement.
type logFile struct {
	path    string
	format  pacing.Format
	capture media.Capture
}

// pictures are those of a capture, which are measured.
type pictures struct {
	logs *logs.Keeper
	take Take
}

// steady is one frame a refresh.
type steady struct{ rate pacing.Rate }

// sourceOf finds where a capture's pacing comes from.
func sourceOf(ctx context.Context, p *Project, s *comparison.Scene, t Take, how Unmeasured) (source, error) {
	if !t.Pacing.Measure {
		return logFile{t.Pacing.File, t.Pacing.Format, t.Probed}, nil
	}
	kept := logFile{t.Pacing.Log, pacing.Format{}, t.Probed}
	from, to := Logged(s, t)
	need := logs.Stretch{From: from, To: to}
	if how == KeepLog {
		_, err := p.Logs.Path(ctx, t.Capture, t.Probed, need)
		return kept, err
	}
	switch is, err := p.Logs.Kept(t.Capture, t.Probed, need); {
	case err != nil:
		return nil, err
	case is:
		return kept, nil
	case how == MeasureStretch:
		return pictures{p.Logs, t}, nil
	}
	return steady{t.Probed.Rate}, nil
}

func (l logFile) trace(_ context.Context, from, to time.Duration) (*pacing.Trace, []pacing.Warning, error) {
	file, err := scratch.Open(l.path)
	if err != nil {
		return nil, nil, &finding.Error{Msg: fmt.Sprintf("pacing log cannot be read: %v", scratch.Cause(err)),
			Hint: "check the path after pacing:"}
	}
	defer file.Close()
	trace, warnings, err := pacing.ReadTrace(file, l.path, l.format, l.capture.Rate, from, to,
		l.capture.TimeOf)
	if err != nil {
		if text, unit, wrong := logs.WrongUnit(l.path, l.format); wrong {
			return nil, nil, &finding.Error{Msg: fmt.Sprintf("%v; %s", err, text), Hint: "set unit: " + unit}
		}
		return nil, nil, &finding.Error{Msg: err.Error(), Hint: logs.Hint(l.path)}
	}
	return trace, warnings, nil
}

// margin is how far around what a scene shows is measured, so that the frames at its
// edges are whole.
const margin = time.Second

func (m pictures) trace(ctx context.Context,
	from, to time.Duration) (*pacing.Trace, []pacing.Warning, error) {
	frames, err := m.logs.Part(ctx, m.take.Capture, m.take.Probed, max(0, from-margin), to+margin)
	if err != nil {
		return nil, nil, err
	}
	return pacing.TraceOf(theMeasured, frames, from, to)
}

func (c steady) trace(_ context.Context, from, to time.Duration) (*pacing.Trace, []pacing.Warning, error) {
	var frames []pacing.Frame
	for n := c.rate.FrameAt(from); c.rate.TimeOf(n) < to; n++ {
		frames = append(frames, pacing.Frame{Begin: c.rate.TimeOf(n), Time: c.rate.TimeOf(n+1) - c.rate.TimeOf(n)})
	}
	return pacing.TraceOf("steady pacing", frames, from, to)
}

// theMeasured is what a measurement is called where a log has its name.
const theMeasured = "the measured pacing"

// Logged is the stretch of a capture's pacing that a scene's deck may show.
func Logged(s *comparison.Scene, t Take) (from, to time.Duration) {
	before := max(s.Deck.RateWindow, s.Deck.TreadSpan) + time.Second
	return max(0, t.Start-before), t.Start + s.Length
}

// ReadPacing reads the stretch of a capture's pacing that a scene shows. A capture that
// is not measured yet is, and its log is kept.
func ReadPacing(ctx context.Context, p *Project, s *comparison.Scene,
	t Take) (*pacing.Trace, []finding.Finding, error) {
	from, err := sourceOf(ctx, p, s, t, KeepLog)
	if err != nil {
		return nil, nil, err
	}
	return read(ctx, from, t, s)
}

// read reads the stretch of a capture's pacing that a scene shows.
func read(ctx context.Context, from source, t Take,
	s *comparison.Scene) (*pacing.Trace, []finding.Finding, error) {
	begin, end := Logged(s, t)
	trace, odd, err := from.trace(ctx, begin, end)
	if err != nil {
		if told := (*finding.Error)(nil); errors.As(err, &told) {
			err = &finding.Error{Msg: fmt.Sprintf("capture %s: %s", t.Key, told.Msg), Hint: told.Hint}
		}
		return nil, nil, err
	}
	if trace.Begin() >= end || trace.End() <= t.Start {
		return nil, nil, &finding.Error{
			Msg: fmt.Sprintf("capture %s: the pacing log %s covers %.2f s to %.2f s, the scene shows "+
				"%.2f s to %.2f s",
				t.Key, filepath.Base(cmp.Or(t.Pacing.File, t.Pacing.Log)), trace.Begin().Seconds(), trace.End().Seconds(),
				t.Start.Seconds(), end.Seconds()),
			Hint: "times in a log count from the capture's first frame; starts: shifts a log that " +
				"counts from another moment",
		}
	}
	var w warnings
	for _, one := range odd {
		if one.Problem == pacing.Gap && len(t.Probed.Holes(one.At-pacing.Slack, one.At+pacing.Slack)) > 0 {
			continue // see Footage.Gaps
		}
		if one.Problem == pacing.BeginsLate && trace.Begin() <= t.Start+pacing.Slack {
			continue // only the run-up to the scene is missing; the window is what exists
		}
		w.add(ofLog(t, one))
	}
	trace, judged := trace.Stills(stillRules[s.Still], t.Start, end)
	for _, still := range judged {
		w.add(ofStill(t, still))
	}
	return trace, w, nil
}

// ofLog makes a finding of what is odd about a log.
func ofLog(t Take, one pacing.Warning) finding.Finding {
	f := finding.Finding{Severity: finding.Misleads, Capture: t.Key, What: "the pacing log needs a look",
		Remedy: "look at the log there, or choose another stretch",
		Words:  fmt.Sprintf("capture %s: %s", t.Key, one.String())}
	one.File = filepath.Base(one.File)
	if t.Pacing.Measure {
		one.File, f.Remedy = theMeasured, "look at the capture there, or choose another stretch"
	}
	f.Evidence = one.String()
	return f
}

// ofStill makes a finding of a stretch in which nothing changes.
func ofStill(t Take, one pacing.StillJudged) finding.Finding {
	what, remedy := "is left out of the figures", "still: counts makes it a frame"
	if one.Counts {
		what, remedy = "counts as one frame, a hitch", "still: leaves out if it is a menu"
	}
	evidence := fmt.Sprintf("nothing changes from %.2f s to %.2f s of the scene, which %s: %s",
		(one.Begin - t.Start).Seconds(), (one.End() - t.Start).Seconds(), what, one.Why)
	return finding.Finding{Severity: finding.Misleads, Capture: t.Key, What: "nothing changes for a while",
		Evidence: evidence, Remedy: remedy,
		Words: fmt.Sprintf("capture %s: %s; %s", t.Key, evidence, remedy)}
}

// stillRules are the rules by their words in the comparison file.
var stillRules = map[string]pacing.StillRule{"": pacing.JudgeStill, comparison.StillCounts: pacing.CountStill,
	comparison.StillLeavesOut: pacing.LeaveOutStill}
