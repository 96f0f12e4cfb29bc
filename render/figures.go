package render

import (
	"context"
	"fmt"
	"image"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"fairframe/layout"
	"fairframe/render/comparison"
	"fairframe/render/deck"
	"fairframe/render/finding"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
)

// SceneFigures are the numbers behind one scene.
type SceneFigures struct {
	Scene    *comparison.Scene
	Captures []CaptureFigures // in the order shown
	Warnings []string         // what the user should know; may be empty
}

// CaptureFigures are the numbers behind one capture's part in a scene, which
// shows it from Start on for the scene's length. All times within are capture
// times; Scene turns them into the scene's.
type CaptureFigures struct {
	Key, Name, Detail string
	Raster            image.Point // as the reviewer states it; zero when not stated
	// PixelRatio compares Raster with that of the first capture of the scene that
	// states one, as "+86 %"; "" for that capture itself and where there is none.
	PixelRatio string
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
	Sound           *SoundFigures    // nil: the capture has no sound
	SoundDifference *SoundDifference // Sound minus that of the scene's first capture; nil as Difference
	// NeverShown is how many of the frames the clip never shows, since it has fewer
	// pictures a second than the capture.
	NeverShown int
	Trace      *pacing.Trace
	Style      int // colour and dash, as in deck.Capture
}

// InScene turns a capture time into a time from the scene's start.
func (c *CaptureFigures) InScene(t time.Duration) time.Duration { return t - c.Start }

// Sentences returns the spans in words, in scene time: "Alder holds 30 fps from
// 3.10 s to 7.00 s (117 frames of 33.3 ms)".
func (c *CaptureFigures) Sentences() []string {
	out := make([]string, len(c.Spans))
	for i, s := range c.Spans {
		out[i] = s.Sentence(c.Name, c.Start)
	}
	return out
}

// Figures works out the numbers behind a scene: over [start, start + length) of
// each of its captures. The captures are probed for their rate, and no picture is
// decoded; their sound is, in the scene.
func (p *Project) Figures(ctx context.Context, s *comparison.Scene) (*SceneFigures, error) {
	captures, err := p.captures(ctx, s)
	if err != nil {
		return nil, fmt.Errorf("scene %s: %w", s.ID, err)
	}
	plan := &Plan{Scene: s}
	traces := make([]*pacing.Trace, len(captures))
	for i, c := range captures {
		plan.warn(c.probed.Warnings...)
		if !c.Pacing.Given() {
			return nil, &finding.Error{Msg: fmt.Sprintf("scene %s: capture %s has no pacing, which the figures need",
				s.ID, c.Key),
				Hint: "add pacing: with the path of a pacing log"}
		}
		if traces[i], err = p.trace(ctx, c, s, plan); err != nil {
			return nil, fmt.Errorf("scene %s: %w", s.ID, err)
		}
	}
	for i, c := range captures {
		if list := gapsIn(c, s.Length, traces[i]); len(list) > 0 {
			plan.warn(
				fmt.Sprintf("capture %s: its recorder dropped frames: %s; the pacing there is not known",
					c.Key, gapWords(list)))
		}
	}
	f := p.figuresOf(s, captures, traces)
	if err := p.listen(ctx, f, captures, plan); err != nil {
		return nil, fmt.Errorf("scene %s: %w", s.ID, err)
	}
	f.Warnings = append(plan.Warnings, f.Warnings...)
	return f, nil
}

// figuresOf works out the figures of captures whose pacing is known.
func (p *Project) figuresOf(s *comparison.Scene, captures []sceneCapture,
	traces []*pacing.Trace) *SceneFigures {
	out := &SceneFigures{Scene: s}
	var reference image.Point
	for i, c := range captures {
		from, to := c.start, c.start+s.Length
		one := CaptureFigures{
			Key: c.Key, Name: c.Name, Detail: c.Detail, Raster: c.Raster, Start: c.start,
			Refresh: c.probed.Refresh(), Trace: traces[i], Style: p.style(c.Key),
			Figures: traces[i].Figures(from, to, c.probed.Refresh()),
			Spans:   traces[i].Spans(from, to, c.probed.Refresh()),
		}
		if stated := c.Raster.X > 0 && c.Raster.Y > 0; stated && reference == (image.Point{}) {
			reference = c.Raster
		} else if stated {
			one.PixelRatio = layout.PixelRatio(c.Raster, reference)
		}
		if i > 0 {
			first := out.Captures[0]
			if d, ok := pacing.Compare(first.Figures, one.Figures); ok {
				if one.Refresh != first.Refresh {
					d.Shares, d.OffGrid = nil, 0
					if one.Refresh.Valid() && first.Refresh.Valid() {
						out.Warnings = append(out.Warnings,
							fmt.Sprintf("captures %s and %s were recorded at %s and %s Hz; their "+
								"times at refresh multiples are not compared",
								first.Key, one.Key, first.Refresh, one.Refresh))
					}
				}
				one.Difference = &d
			}
		}
		unseen, all := neverShown(c, s, p.File.Output.Rate, traces[i])
		if one.NeverShown = unseen; unseen > 0 {
			out.Warnings = append(out.Warnings, unseenText(c, p.File.Output.Rate, unseen, all))
		}
		if !one.Refresh.Valid() {
			out.Warnings = append(out.Warnings,
				fmt.Sprintf("capture %s keeps to no refresh (%v); its frame times are no multiples "+
					"of one, and no shares of such are told", c.Key, c.probed.Stamping()))
		}
		out.Captures = append(out.Captures, one)
	}
	return out
}

// addSummary appends the closing page to the clip, if the scene has one.
func (p *Project) addSummary(plan *Plan, captures []sceneCapture, shown []deck.Capture) error {
	s := plan.Scene
	if s.Summary == 0 {
		return nil
	}
	set, err := p.fonts()
	if err != nil {
		return err
	}
	traces := make([]*pacing.Trace, len(shown))
	for i, c := range shown {
		traces[i] = c.Trace
	}
	figures := p.figuresOf(s, captures, traces)
	settings := deck.PageSettings{Size: p.File.Output.Size, Title: titleOf(s), Length: s.Length, Fonts: set}
	for _, c := range figures.Captures {
		settings.Captures = append(settings.Captures,
			deck.PageCapture{Name: c.Name, Raster: c.Raster, Style: c.Style, Figures: c.Figures})
	}
	plan.close = func(remarks []string) error {
		settings.Remarks = remarks
		page, err := deck.NewPage(settings)
		if err != nil {
			return err
		}
		for _, w := range page.Warnings() {
			if !slices.Contains(plan.Warnings, w) {
				plan.warn(w)
			}
		}
		plan.Clip.Closing = &graph.Page{Frames: plan.Clip.Rate.FramesIn(s.Summary), Picture: page.YUV()}
		return nil
	}
	return plan.close(nil)
}

// addTitle puts the title page before the scene, if it has one.
func (p *Project) addTitle(plan *Plan, captures []sceneCapture) error {
	s := plan.Scene
	if s.Title == 0 {
		return nil
	}
	set, err := p.fonts()
	if err != nil {
		return err
	}
	settings := deck.TitleSettings{Size: p.File.Output.Size, Title: p.File.Title,
		Caption: s.Caption, Fonts: set}
	if settings.Title == "" {
		settings.Title, settings.Caption = titleOf(s), ""
	}
	for _, c := range captures {
		settings.Captures = append(settings.Captures,
			deck.Capture{Name: c.Name, Detail: c.Detail, Raster: c.Raster, Style: p.style(c.Key)})
	}
	page, err := deck.NewTitle(settings)
	if err != nil {
		return err
	}
	plan.warn(page.Warnings()...)
	plan.Clip.Opening = &graph.Page{Frames: plan.Clip.Rate.FramesIn(s.Title), Picture: page.YUV()}
	return nil
}

// titleOf is what heads the stills of a scene.
func titleOf(s *comparison.Scene) string {
	if s.Caption != "" {
		return s.Caption
	}
	return s.ID
}

// Plot draws the scene's whole frame-rate line and frame times as a still
// picture of the output's size. The format is that of the name's ending, .svg or
// .png. Warnings tell what had to be shortened.
func (p *Project) Plot(f *SceneFigures, name string) (picture []byte, warnings []string, err error) {
	format := strings.ToLower(filepath.Ext(name))
	if format != ".svg" && format != ".png" {
		return nil, nil, &finding.Error{Msg: fmt.Sprintf("a plot is an SVG or PNG picture, %q ends in neither", name),
			Hint: "end the name in .svg or .png"}
	}
	set, err := p.fonts()
	if err != nil {
		return nil, nil, err
	}
	s := f.Scene
	settings := deck.ChartSettings{
		Size: p.File.Output.Size, Title: titleOf(s), Length: s.Length, Rate: p.File.Output.Rate, Fonts: set,
		RateWindow: s.Deck.RateWindow, Trailing: s.Deck.Trailing, RateAxis: deck.Axis(s.Deck.RateAxis),
		TimeAxis: deck.Axis(s.Deck.TimeAxis),
		Refresh:  f.Captures[0].Refresh, Unlocked: slices.ContainsFunc(f.Captures,
			func(c CaptureFigures) bool { return !c.Refresh.Valid() }),
	}
	for _, c := range f.Captures {
		settings.Captures = append(settings.Captures,
			deck.Capture{Name: c.Name, Detail: c.Detail, Raster: c.Raster, Trace: c.Trace, Start: c.Start,
				Refresh: c.Refresh, Style: c.Style})
	}
	chart, err := deck.NewChart(settings)
	if err != nil {
		return nil, nil, fmt.Errorf("scene %s: %w", s.ID, err)
	}
	if format == ".svg" {
		picture, err = chart.SVG()
	} else {
		picture, err = chart.PNG()
	}
	if err != nil {
		return nil, nil, fmt.Errorf("scene %s: %w", s.ID, err)
	}
	return picture, chart.Warnings(), nil
}

// WritePlot writes a plot's picture; it never overwrites an input.
func (p *Project) WritePlot(name string, picture []byte) error { return p.writePicture(name, picture) }
