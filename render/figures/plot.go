package figures

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"fairframe/render/deck"
	"fairframe/render/finding"
	"fairframe/render/scene"
)

// Plot draws the scene's whole frame-rate line and frame times as a still
// picture of the output's size. The format is that of the name's ending, .svg or
// .png. Warnings tell what had to be shortened.
func Plot(f *Scene, name string) (picture []byte, warnings []finding.Finding, err error) {
	format := strings.ToLower(filepath.Ext(name))
	if format != ".svg" && format != ".png" {
		return nil, nil, &finding.Error{
			Msg:  fmt.Sprintf("a plot is an SVG or PNG picture, %q ends in neither", name),
			Hint: "end the name in .svg or .png"}
	}
	set, err := scene.Fonts(f.File)
	if err != nil {
		return nil, nil, err
	}
	s := f.Scene
	settings := deck.ChartSettings{
		Size: f.File.Output.Size, Title: scene.Title(s), Length: s.Length, Rate: f.File.Output.Rate, Fonts: set,
		RateWindow: s.Deck.RateWindow, Trailing: s.Deck.Trailing, RateAxis: deck.Axis(s.Deck.RateAxis),
		TimeAxis: deck.Axis(s.Deck.TimeAxis),
		Refresh:  f.Captures[0].Refresh, Unlocked: slices.ContainsFunc(f.Captures,
			func(c Capture) bool { return !c.Refresh.Valid() }),
	}
	for _, c := range f.Captures {
		settings.Captures = append(settings.Captures,
			deck.Capture{Name: c.Name, Detail: c.Detail, Raster: c.Raster, Base: c.Base, Trace: c.Trace,
				Start:   c.Start,
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
	for _, words := range chart.Warnings() {
		warnings = append(warnings, finding.Plain(words))
	}
	return picture, warnings, nil
}
