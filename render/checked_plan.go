package render

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"image"
	"os"
	"path/filepath"
	"strings"
	"time"

	"fairframe/render/check"
	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/measure"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
	"fairframe/render/scratch"
)

// trial works a scene out as for rendering, but measures no capture: where one has
// no log, standIn makes one, which is removed afterwards unless it is the capture's own.
func (p *Project) trial(ctx context.Context, s *comparison.Scene, list []sceneCapture,
	standIn func(sceneCapture) (string, error)) (*Plan, error) {
	file := *p.File
	file.Captures = append([]comparison.Capture(nil), file.Captures...)
	for i := range file.Captures {
		for _, one := range list {
			if one.Key != file.Captures[i].Key || !one.Pacing.Measure {
				continue
			}
			log := one.Pacing.Log
			kept, err := p.keptLog(one.Capture)
			if err != nil {
				return nil, err
			}
			if !kept {
				if log, err = standIn(one); err != nil {
					return nil, err
				}
				if log != one.Pacing.Log {
					defer os.Remove(log)
				}
			}
			file.Captures[i].Pacing = comparison.Source{File: log}
		}
	}
	trial := &Project{File: &file, Tools: p.Tools, known: p.known}
	return trial.Plan(ctx, s)
}

// steadyLog writes a log of one frame a refresh around a scene, for what does not
// depend on the pacing.
func steadyLog(one sceneCapture, s *comparison.Scene) (string, error) {
	r := one.probed.Rate
	from, until := logged(s, one)
	return temporaryLog(func(each func(pacing.Frame) error) error {
		for n := r.FrameAt(from); n < r.FrameAt(until); n++ {
			if err := each(pacing.Frame{Begin: r.TimeOf(n), Time: r.TimeOf(n+1) - r.TimeOf(n)}); err != nil {
				return err
			}
		}
		return nil
	})
}

// sceneLog measures what a scene shows of a capture, with a little around it.
func (p *Project) sceneLog(ctx context.Context, s *comparison.Scene, one sceneCapture) (string, error) {
	stretch := needs(showing{s, one})
	if d := one.probed.Duration(); d > 0 {
		stretch.to = min(stretch.to, d)
	}
	var progress Progress
	if p.Measuring != nil {
		var ended func()
		progress, ended = p.Measuring(one.Key)
		defer ended()
	}
	return temporaryLog(func(each func(pacing.Frame) error) error {
		total := one.probed.Rate.FramesIn(stretch.to - stretch.from)
		_, err := measure.Capture(ctx, p.Tools, one.probed, settingsOf(one.Capture), stretch.from, stretch.to,
			each, func(done int64) {
				if progress != nil {
					progress(done, max(done, total))
				}
			})
		return err
	})
}

// logged is the stretch of a capture's log that a scene's deck may show.
func logged(s *comparison.Scene, one sceneCapture) (from, until time.Duration) {
	before := max(s.Deck.RateWindow, s.Deck.TreadSpan) + time.Second
	return max(0, one.start-before), one.start + s.Length + one.probed.Rate.TimeOf(2)
}

// temporaryLog writes a pacing log whose rows come from write.
func temporaryLog(write func(each func(pacing.Frame) error) error) (string, error) {
	f, err := scratch.Create("", "fairframe-log-*.part")
	if err != nil {
		return "", fmt.Errorf("render: %w", err)
	}
	out := bufio.NewWriter(f)
	_, err = out.Write(pacing.AppendHeader(nil, nil, true))
	var row []byte
	if err == nil {
		err = write(func(frame pacing.Frame) error {
			row = pacing.AppendRow(row[:0], frame, true)
			_, err := out.Write(row)
			return err
		})
	}
	if err = errors.Join(err, out.Flush(), f.Close()); err != nil {
		os.Remove(f.Name())
		return "", err
	}
	return f.Name(), nil
}

// plan works the scene out as for rendering, keeps what that says, and returns the
// clip that would be made; nil when there would be none.
func (c *checker) plan(ctx context.Context, s *comparison.Scene, list []sceneCapture) *graph.Clip {
	p := c.project
	plan, err := p.trial(ctx, s, list, func(one sceneCapture) (string, error) {
		// The very log that rendering will use: it keeps for that.
		return p.measured(ctx, one.Capture)
	})
	if err != nil {
		if ctx.Err() == nil {
			c.add("", s.ID, finding.OfError("the scene cannot be rendered", err))
		}
		return nil
	}
	known := map[string]bool{}
	for i, one := range plan.paced {
		doubt := one.doubt(s)
		known[doubtWarning(one.Key, doubt)] = true
		c.add(one.Key, s.ID, check.Doubt(doubt, one.start)...)
		if list[i].Pacing.Measure {
			g := one.trace.Figures(one.start, one.start+s.Length, one.probed.Rate)
			c.add(one.Key, s.ID, check.Measured(g.Count, g.Still, one.start)...)
		}
	}
	for _, one := range list {
		for _, w := range one.probed.Warnings {
			known[w] = true
		}
		if st := one.probed.Stamping(); st != nil {
			known[variableText(one.Key, st)] = true // see stampFindings
		}
	}
	for _, w := range plan.Warnings {
		if !known[w] {
			c.add("", s.ID, c.ofWarning(w))
		}
	}
	for _, f := range plan.gapFindings() {
		c.add(f.Capture, s.ID, f)
	}
	c.windows(s, plan)
	return plan.Clip
}

// windows judges what the panes show of the captures, of windows that move at each
// of their stops.
func (c *checker) windows(s *comparison.Scene, plan *Plan) {
	instants := []time.Duration{0}
	for _, pane := range plan.windows {
		if pane.Input < 0 {
			continue
		}
		leg := plan.Clip.Inputs[pane.Input]
		w := s.Window[leg.Name]
		size := leg.Capture.DisplaySize()
		view := check.View{Capture: size, Pane: pane.Shot.Pane, Kernel: pane.Kernel, Whole: w.Whole}
		var stops []check.View
		for _, m := range w.Moves {
			view.CenterX, view.CenterY = m.Center.X.Float(), m.Center.Y.Float()
			view.Scale = m.Magnify.Float() * enlarging(plan.Clip.Size, size)
			view.Stop = fmt.Sprintf("at its stop at %v: ", m.At)
			stops = append(stops, view)
			instants = append(instants, m.At)
		}
		if len(stops) == 0 {
			view.Scale, _ = pane.Shot.Scale.Float64()
			view.CenterX, view.CenterY = w.Center.X.Float(), w.Center.Y.Float()
			stops = append(stops, view)
		}
		c.add(leg.Name, s.ID, check.Views(stops...)...)
	}
	var magnify [][]check.Named[float64]
	for _, at := range instants {
		var list []check.Named[float64]
		for _, pane := range plan.windows {
			if pane.Input < 0 {
				continue
			}
			leg := plan.Clip.Inputs[pane.Input]
			scale, _ := pane.Shot.Scale.Float64()
			if pane.Glide != nil {
				_, _, scale = pane.Glide.At(float64(plan.Clip.FrameAt(at)))
			}
			list = append(list, check.Named[float64]{Key: leg.Name,
				Value: scale / enlarging(plan.Clip.Size, leg.Capture.DisplaySize())})
		}
		magnify = append(magnify, list)
	}
	c.add("", s.ID, check.Scales(instants, magnify)...)
}

// enlarging is the scale at which a capture's shorter side is the output's.
func enlarging(output, capture image.Point) float64 {
	return float64(min(output.X, output.Y)) / float64(min(capture.X, capture.Y))
}

// ofWarning makes a finding of what rendering would warn of.
func (c *checker) ofWarning(w string) finding.Finding {
	f := finding.Finding{Severity: finding.Misleads, What: "the scene would be rendered with a warning",
		Evidence: w}
	if strings.Contains(w, "shortened") || strings.HasPrefix(w, "name tab ") {
		f.What, f.Remedy = "text does not fit", "shorten it: what is cut off is not read"
		return f
	}
	if strings.HasPrefix(w, "deck: place over") {
		f.Severity, f.What, f.Remedy =
			finding.Note, "the deck is not where the file puts it", "set deck: {place: below}, or "+
				"choose another view"
		return f
	}
	if key, text, ok := strings.Cut(strings.TrimPrefix(w, "capture "), ": the clip never shows "); ok {
		f.What, f.Capture, f.Evidence, f.Remedy =
			"the clip never shows some of its frames", key, text, "set output: rate: to the "+
				"capture's, or say so where the clip is shown"
		return f
	}
	rest, ok := strings.CutPrefix(w, "capture ")
	if !ok {
		return f
	}
	if key, _, ok := strings.Cut(rest, " has no sound"); ok {
		f.What, f.Capture, f.Evidence, f.Remedy =
			"the capture has no sound", key, "the scene's audio: uses it", "choose another capture "+
				"for audio:, or none"
		return f
	}
	for _, sign := range []string{" is HDR (", " is SDR and is placed ", " has the wide gamut of ",
		" has the primaries "} {
		if key, _, ok := strings.Cut(rest, sign); ok {
			f.What, f.Capture, f.Evidence, f.Remedy = "its colours are converted for the clip", key, "it "+
				strings.TrimPrefix(rest,
					key+
						" "), "record all captures alike where brightness or colours are compared, "+
				"or say so where the clip is shown"
			return f
		}
	}
	for _, sign := range []string{" sound streams; ", " sound of ", " sound, which is folded"} {
		if key, text, ok := strings.Cut(rest, " "); ok && strings.Contains(text, sign) {
			f.Severity, f.What, f.Capture, f.Evidence, f.Remedy =
				finding.Note, "not all of the sound is heard unchanged", key, "it "+
					text, "record stereo, or put the stream you want first"
			return f
		}
	}
	key, text, ok := strings.Cut(rest, ": ")
	one, known := c.project.File.Capture(key)
	if !ok || !known {
		return f
	}
	f.What, f.Capture, f.Remedy =
		"the pacing log needs a look", key, "look at the log there, or choose another stretch"
	f.Evidence = strings.TrimPrefix(text, filepath.Dir(one.Pacing.File)+string(filepath.Separator))
	if one.Pacing.Measure {
		// The stand-in's own name and lines say nothing to anyone.
		if i := strings.Index(text, ".csv"); i >= 0 {
			text = "the measured pacing" + text[i+len(".csv"):]
		}
		f.Evidence, f.Remedy = text, "look at the capture there, or choose another stretch"
	}
	return f
}
