// Package render turns the scenes of a comparison file into clips, single
// frames and batches. It wires the packages below it and holds no knowledge of
// its own about pictures, pacing or ffmpeg.
package render

import (
	"context"
	"fmt"
	"image"
	"math/big"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"fairframe/fonts"
	"fairframe/layout"
	"fairframe/render/comparison"
	"fairframe/render/deck"
	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
	"fairframe/render/record"
	"fairframe/render/scratch"
)

// Project is a comparison file together with the tools that render it. It is
// safe for concurrent use: what is probed once is kept.
type Project struct {
	File  *comparison.File
	Tools *media.Tools
	// Measuring, if set, is told when a capture is about to be measured, and
	// returns who is told of the progress and of the end.
	Measuring func(capture string) (progress Progress, ended func())

	identify  record.Files
	measuring measurements
	known     *known
	trials    trials
}

// known is what was found out about captures. It holds as long as they stay what
// they are.
type known struct {
	captures  memo[string, media.Capture] // by path
	counted   memo[string, media.Capture] // the same, after all of their stamps were read
	stretches memo[stretch, []finding.Finding]
}

// Open reads the comparison file. Tools may be nil when nothing will be
// rendered.
func Open(path string, tools *media.Tools) (*Project, error) {
	f, err := comparison.Read(path)
	if err != nil {
		return nil, err
	}
	scratch.Sweep(os.TempDir()) // what a killed run left there, of whatever scene
	p := &Project{File: f, Tools: tools, known: &known{}}
	if _, err := p.delivery(); err != nil {
		return nil, err
	}
	return p, nil
}

// capture probes a recording, once for all scenes.
func (p *Project) capture(ctx context.Context, path string) (media.Capture, error) {
	return p.known.captures.get(ctx, path, func() (media.Capture, error) { return p.Tools.Probe(ctx, path) })
}

// Plan is a scene that is ready to be rendered.
type Plan struct {
	Scene    *comparison.Scene
	Clip     *graph.Clip
	Warnings []string // what the user should know; may be empty

	gaps      []gap          // in what the scene shows, tolerated or not
	paced     []pacedCapture // those whose pacing is shown, in the order shown
	tolerated []record.Tolerated
	close     func(remarks []string) error // draws the closing page; nil: there is none

	marks   []paneMarks
	sign    *deck.Sign   // nil: none
	windows []graph.Pane // of each capture, see composition
}

// Plan works out a scene: probes its captures, reads their logs, solves the
// screen and sets up the deck.
func (p *Project) Plan(ctx context.Context, s *comparison.Scene) (*Plan, error) {
	f := p.File
	plan := &Plan{Scene: s}
	captures, err := p.captures(ctx, s)
	if err != nil {
		return nil, err
	}
	delivery, err := p.delivery()
	if err != nil {
		return nil, err
	}
	rate, slower := delivery.Rate(f.Output.Rate)
	if slower != "" {
		plan.warn(slower)
	}
	plan.warn(delivery.Warnings...)
	passing, err := s.Time(rate)
	if err != nil {
		return nil, fmt.Errorf("scene %s: %w", s.ID, err)
	}
	view, err := p.compose(s, captures, rate, passing.Frames())
	if err != nil {
		return nil, err
	}
	clip := &graph.Clip{
		Size: f.Output.Size, Rate: rate, Frames: passing.Frames(), Time: passing,
		Panes: view.panes, Dividers: view.dividers, Matte: view.wipe, Delivery: delivery,
	}
	plan.Clip, plan.windows = clip, view.windows
	plan.warn(view.warnings...)
	shown := make([]deck.Capture, len(captures))
	for i, c := range captures {
		plan.warn(c.probed.Warnings...)
		if st := c.probed.Stamping(); st != nil {
			plan.warn(variableText(c.Key, st))
		}
		clip.Inputs = append(clip.Inputs, graph.Input{Name: c.Key, Capture: c.probed, Start: c.start})
		shown[i] = deck.Capture{Style: p.style(c.Key), Start: c.start, Refresh: c.probed.Rate,
			Note: view.notes[i]}
		if light := clip.Note(i); light != "" {
			shown[i].Note = strings.TrimPrefix(shown[i].Note+", "+light, ", ")
		}
		if !view.noteOnly {
			shown[i].Name, shown[i].Detail, shown[i].Raster = c.Name, c.Detail, c.Raster
		}
	}
	plan.warn(clip.Conversions()...)
	if !delivery.Silent() {
		plan.addSound(captures)
	}
	if err := clip.Check(); err != nil {
		return nil, err
	}
	if err := p.addTitle(plan, captures); err != nil {
		return nil, fmt.Errorf("scene %s: %w", s.ID, err)
	}
	if err := plan.addTimecode(captures); err != nil {
		return nil, err
	}
	if s.Deck.Place != comparison.DeckNone || s.Summary > 0 {
		for i, c := range captures {
			if shown[i].Trace, err = p.trace(ctx, c, s, plan); err != nil {
				return nil, err
			}
		}
	}
	for i, c := range captures {
		plan.gaps = append(plan.gaps, gapsIn(c, s.Length, shown[i].Trace)...)
		if n, all := neverShown(c, s, rate, shown[i].Trace); n > 0 {
			plan.warn(unseenText(c, rate, n, all))
		}
	}
	if err := p.addSummary(plan, captures, shown); err != nil {
		return nil, fmt.Errorf("scene %s: %w", s.ID, err)
	}
	if plan.sign, err = p.newSign(plan, &view); err != nil {
		return nil, err
	}
	if err := p.addMarks(plan, view.screen); err != nil {
		return nil, fmt.Errorf("scene %s: %w", s.ID, err)
	}
	if err := p.addDeck(plan, &view, shown); err != nil {
		return nil, fmt.Errorf("scene %s: %w", s.ID, err)
	}
	if delivery.OverlayOnly && len(clip.Layers) == 0 {
		return nil, &finding.Error{Msg: fmt.Sprintf("scene %s draws nothing, and an overlay shows only what is drawn",
			s.ID), Hint: "set deck: {place: below} or deck: {tabs: true}, or another delivery"}
	}
	return plan, nil
}

// variableText says that a capture is of variable rate.
func variableText(key string, s *media.Stamping) string {
	return fmt.Sprintf("capture %s is of variable rate and read by its stamps: %v", key, s)
}

// style is a capture's colour and dash, which it keeps from scene to scene as
// long as the file names no more captures than there are styles; 0 leaves it to
// the deck.
func (p *Project) style(key string) int {
	if len(p.File.Captures) > deck.Styles {
		return 0
	}
	return slices.IndexFunc(p.File.Captures, func(c comparison.Capture) bool { return c.Key == key }) + 1
}

func (p *Plan) warn(w ...string) { p.Warnings = append(p.Warnings, w...) }

// refreshOf takes the fastest capture's rate for the display's refresh: a
// capture records what a display would show, one frame a refresh (common
// practice).
func refreshOf(c *graph.Clip) pacing.Rate {
	most := c.Inputs[0].Capture.Rate
	for _, l := range c.Inputs[1:] {
		if l.Capture.Rate.Hz() > most.Hz() {
			most = l.Capture.Rate
		}
	}
	return most
}

// unlocked reports whether any capture keeps to no refresh.
func unlocked(c *graph.Clip) bool {
	return slices.ContainsFunc(c.Inputs, func(l graph.Input) bool { return !l.Capture.Refresh().Valid() })
}

func (p *Project) fonts() (*fonts.Set, error) {
	set, err := fonts.New()
	if err != nil {
		return nil, err
	}
	if path := p.File.Fonts.Text; path != "" {
		if set, err = set.WithFile(path); err != nil {
			return nil, err
		}
	}
	if path := p.File.Fonts.Bold; path != "" {
		return set.WithFile(path, fonts.Bold)
	}
	return set, nil
}

// fontFiles are the user's own fonts.
func (p *Project) fontFiles() []string {
	var list []string
	for _, path := range []string{p.File.Fonts.Text, p.File.Fonts.Bold} {
		if path != "" {
			list = append(list, path)
		}
	}
	return list
}

// sceneCapture is a capture as one scene uses it.
type sceneCapture struct {
	*comparison.Capture
	probed media.Capture
	start  time.Duration
}

// captures probes the scene's captures, all at once.
func (p *Project) captures(ctx context.Context, s *comparison.Scene) ([]sceneCapture, error) {
	list := make([]sceneCapture, len(s.Captures))
	errs := make([]error, len(s.Captures))
	var wg sync.WaitGroup
	for i, key := range s.Captures {
		c, ok := p.File.Capture(key)
		if !ok {
			return nil, fmt.Errorf("scene %s: no capture %q", s.ID, key)
		}
		list[i].Capture = c
		wg.Go(func() {
			if list[i].probed, errs[i] = p.capture(ctx, c.Video); errs[i] != nil {
				errs[i] = fmt.Errorf("capture %s: %w", key, errs[i])
				return
			}
			if _, byFrame := s.Start[key].Frame(); byFrame && !list[i].probed.Counted() {
				// Pictures are counted, however many the recorder dropped before.
				list[i].probed, errs[i] = p.known.counted.get(ctx, c.Video,
					func() (media.Capture, error) { return p.Tools.Reread(ctx, c.Video) })
				if errs[i] != nil {
					return
				}
			}
			list[i].start, errs[i] = startIn(list[i].probed, s.Start[key])
		})
	}
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return nil, err
		}
	}
	return list, nil
}

// startIn returns when a time comes in a capture, whose frames count by their stamps.
func startIn(c media.Capture, t comparison.Time) (time.Duration, error) {
	if n, ok := t.Frame(); ok && c.Variable() {
		if n >= c.Frames {
			return 0, &finding.Error{Msg: fmt.Sprintf("%s: the capture has no frame %d; its last one is f%d",
				filepath.Base(c.Path), n, c.Frames-1),
				Hint: "frames are counted from 0 in the order of their stamps"}
		}
		return c.TimeOf(n), nil
	}
	return t.At(c.Rate)
}

// trace reads the stretch of a capture's pacing log that the deck shows.
func (p *Project) trace(ctx context.Context, c sceneCapture, s *comparison.Scene,
	plan *Plan) (*pacing.Trace, error) {
	log := c.Pacing.File
	if c.Pacing.Measure {
		var err error
		if log, err = p.measured(ctx, c.Capture); err != nil {
			return nil, err
		}
	}
	file, err := scratch.Open(log)
	if err != nil {
		return nil, &finding.Error{Msg: fmt.Sprintf("capture %s: pacing log cannot be read: %v",
			c.Key, scratch.Cause(err)), Hint: "check the path after pacing:"}
	}
	defer file.Close()
	before := max(s.Deck.RateWindow, s.Deck.TreadSpan) + time.Second
	end := c.start + s.Length
	trace, warnings, err := pacing.ReadTrace(file, log, c.Pacing.Format, c.probed.Rate,
		max(0, c.start-before), end, c.probed.TimeOf)
	if err != nil {
		if text, unit, wrong := wrongUnit(log, c.Pacing.Format); wrong {
			return nil, &finding.Error{Msg: fmt.Sprintf("capture %s: %v; %s", c.Key, err, text),
				Hint: "set unit: " + unit}
		}
		return nil, &finding.Error{Msg: fmt.Sprintf("capture %s: %v", c.Key, err), Hint: logHint(log)}
	}
	for _, w := range warnings {
		if w.Problem == pacing.Gap && len(c.probed.Holes(w.At-pacing.Slack, w.At+pacing.Slack)) > 0 {
			continue // see Plan.gaps
		}
		if w.Problem == pacing.BeginsLate && trace.Begin() <= c.start+pacing.Slack {
			continue // only the run-up to the scene is missing; the window is what exists
		}
		plan.warn(fmt.Sprintf("capture %s: %s", c.Key, w.String()))
	}
	if trace.Begin() >= end || trace.End() <= c.start {
		return nil, &finding.Error{
			Msg: fmt.Sprintf("capture %s: the pacing log %s covers %.2f s to %.2f s, the scene shows "+
				"%.2f s to %.2f s",
				c.Key, filepath.Base(log), trace.Begin().Seconds(), trace.End().Seconds(), c.start.Seconds(),
				end.Seconds()),
			Hint: "times in a log count from the capture's first frame; starts: shifts a log that " +
				"counts from another moment",
		}
	}
	trace, judged := trace.Stills(stillRules[s.Still], c.start, end)
	for _, still := range judged {
		what := fmt.Sprintf("is left out of the figures: %s; still: counts makes it a frame", still.Why)
		if still.Counts {
			what = fmt.Sprintf("counts as one frame, a hitch: %s; still: leaves out if it is a menu",
				still.Why)
		}
		plan.warn(fmt.Sprintf("capture %s: nothing changes from %.2f s to %.2f s of the scene, which %s",
			c.Key, (still.Begin - c.start).Seconds(), (still.End() - c.start).Seconds(), what))
	}
	one := pacedCapture{c, trace}
	plan.paced = append(plan.paced, one)
	if w := doubtWarning(c.Key, one.doubt(s)); w != "" {
		plan.warn(w)
	}
	return trace, nil
}

// stillRules are the rules by their words in the comparison file.
var stillRules = map[string]pacing.StillRule{"": pacing.JudgeStill, comparison.StillCounts: pacing.CountStill,
	comparison.StillLeavesOut: pacing.LeaveOutStill}

// pacedCapture is a capture with the very pacing that its scene shows.
type pacedCapture struct {
	sceneCapture
	trace *pacing.Trace
}

// doubt is how much of the scene rests on doubtful frames.
func (c *pacedCapture) doubt(s *comparison.Scene) pacing.Doubt {
	return c.trace.Doubt(c.start, c.start+s.Length)
}

// doubtWarning says how much of a scene rests on doubtful frames of a capture, "" where
// that is little: the clip marks it, and check, figures and the record tell of it.
func doubtWarning(key string, d pacing.Doubt) string {
	if !d.Uncertain() {
		return ""
	}
	return fmt.Sprintf("capture %s: pacing uncertain: %s of the scene rests on doubtful frames",
		key, d.Percent())
}

func windowOf(w comparison.Window) layout.Window {
	return layout.Window{Whole: w.Whole, CenterX: layout.Fraction(w.Center.X),
		CenterY: layout.Fraction(w.Center.Y), Magnify: layout.Fraction(w.Magnify)}
}

// scaleNote names the scale of a picture that is not one to one, "" otherwise: a
// hidden scale misleads.
func scaleNote(s layout.Shot, kernel string) string {
	if s.OneToOne() {
		return ""
	}
	x, y := s.Scales()
	if x.Cmp(y) != 0 {
		return shortDecimal(x) + "x by " + shortDecimal(y) + "x " + kernel
	}
	return shortDecimal(x) + "x " + kernel
}

// shortDecimal prints a scale with at most two decimals, three below 0.1.
func shortDecimal(r *big.Rat) string {
	f, _ := r.Float64()
	decimals := 2
	if f < 0.1 {
		decimals = 3
	}
	s := strconv.FormatFloat(f, 'f', decimals, 64)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
}

// Out returns where a scene's clip goes unless the user says otherwise.
func (p *Project) Out(s *comparison.Scene) (string, error) {
	d, err := p.delivery()
	if err != nil {
		return "", err
	}
	return filepath.Join(p.File.Output.Folder, s.ID+d.Ext), nil
}

// Size is the output's size in pixels.
func (p *Project) Size() image.Point { return p.File.Output.Size }
