package main

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/pflag"

	"fairframe/render"
	"fairframe/render/comparison"
	"fairframe/render/figures"
	"fairframe/render/scene"
)

// figureFormats are how figures can be printed.
var figureFormats = []struct {
	name  string
	write func(io.Writer, []*figures.Scene) error
}{
	{"table", writeFiguresTable}, {"csv", writeFiguresCSV}, {"json", writeFiguresJSON},
	{"markdown", writeFiguresMarkdown},
}

func figuresCommand() command {
	var names []string
	for _, f := range figureFormats {
		names = append(names, f.name)
	}
	return command{
		name: "figures", operands: "FILE [--scene ID] [--format FORMAT] [--plot OUT.svg|OUT.png]",
		short: "prints the numbers behind each scene",
		long:  figuresManual(),
		setup: func(flags *pflag.FlagSet) func(context.Context, *env, []string) error {
			scene := flags.StringP("scene", "s", "", "show only the scene with this `ID`")
			keysOf(flags, "scene", "scenes")
			format := choice(flags, "format", "format",
				"`FORMAT` of the result: "+strings.Join(names, ", "), names...)
			plot := flags.String("plot", "", "also draw one scene as a chart: `NAME`.svg or NAME.png")
			return func(ctx context.Context, e *env, args []string) error {
				file, err := oneFile(args, "comparison file")
				if err != nil {
					return err
				}
				var write func(io.Writer, []*figures.Scene) error
				for _, f := range figureFormats {
					if f.name == *format {
						write = f.write
					}
				}
				if ext := strings.ToLower(filepath.Ext(*plot)); flags.Changed("plot") && ext != ".svg" &&
					ext != ".png" {
					return usagef("end the name in .svg or .png",
						"a plot is an SVG or PNG picture, %q ends in neither", *plot)
				}
				p, err := e.open(file)
				if err != nil {
					return err
				}
				return e.figures(ctx, p, *scene, *plot, write)
			}
		},
	}
}

// figures prints the figures of one scene or of all, and draws the plot that was
// asked for. Nothing is printed when any of it fails.
func (e *env) figures(ctx context.Context, p *scene.Project, id, plot string,
	write func(io.Writer, []*figures.Scene) error) error {
	scenes := make([]*comparison.Scene, len(p.File.Scenes))
	for i := range p.File.Scenes {
		scenes[i] = &p.File.Scenes[i]
	}
	if id != "" {
		one, err := p.File.Scene(id)
		if err != nil {
			return err
		}
		scenes = []*comparison.Scene{one}
	}
	if plot != "" && len(scenes) > 1 {
		return usagef("choose one with --scene ID", "a plot shows one scene, and %s has %d",
			filepath.Base(p.File.Path), len(scenes))
	}
	var all []*figures.Scene
	for _, s := range scenes {
		one, err := figures.Of(ctx, p, s)
		if err != nil {
			return err
		}
		all = append(all, one)
	}
	if plot != "" {
		picture, warnings, err := figures.Plot(all[0], plot)
		if err != nil {
			return err
		}
		if err := render.WritePicture(p.File, plot, picture); err != nil {
			return err
		}
		all[0].Warnings = append(all[0].Warnings, warnings...)
	}
	for _, f := range all {
		e.warn(f.Scene.ID, f.Warnings)
	}
	return write(e.stdout, all)
}

// figuresManual is the help of the command: what the figures mean, and what the
// formats hold.
func figuresManual() string {
	var b strings.Builder
	b.WriteString(`Figures are of the scene as a whole: from its start, for its length, in each
capture. Times count from the scene's start. Frames come from the pacing logs; no
picture is decoded, and of the sound only the scene's. The refresh of the display is
taken to be the capture's own rate, since a capture records one frame a refresh
(common practice). Differences are against the scene's first capture, pixel ratios
against the first that states its raster.

A frame that the scene's ends cut counts by the part inside where time is counted
(mean rate, shares, still), and by its whole frame time, if it begins in the
scene, everywhere else. Still and unknown time enter no figure but their own.

figures:
`)
	explain := func(list []figure) {
		for _, f := range list {
			meaning := strings.ReplaceAll(f.meaning, "\n", "\n"+strings.Repeat(" ", 25))
			fmt.Fprintf(&b, "  %-22s %s\n", f.label, meaning)
		}
	}
	explain(pacingFigures)
	b.WriteString("\nfigures of sound:\n")
	explain(soundFigures())
	b.WriteString(`
The chance beside a band's difference is how far two takes of one steady noise lie
apart in 19 of 20 cases, for the band's width and the scene's length (Bendat and
Piersol, Random Data, from memory); play that varies differs by more. A difference
within it says nothing; a band that is in both captures 60 dB below the loudest, or
below -90 dB, is not compared. One beyond it says that the mean spectra differ, not that
anybody hears it; and equal bands do not prove that two sounds are alike: what
happens when, in which ear, and in which phase, is not in them.

Spans are the stretches of at least half a second in which a capture keeps to one
way of pacing: holds one refresh multiple, keeps a short cadence such as 3:2, mixes
multiples, or runs off the grid. With double-buffered v-sync at 60 Hz a missed
deadline locks to the next divisor: 60, 30, 20, 15 fps (common practice).

--format csv has one row a capture, and an apostrophe before texts that a spreadsheet
would take for a formula; json has this shape, version 1, of which
examples/figures.schema.json is the JSON Schema (null: nothing to tell from):

`)
	describeJSON(&b, figuresJSON{}, "  ")
	b.WriteString(`
--plot draws the frame-rate line and the frame times of the whole scene, as large
as the output. Where a frame would be narrower than a pixel, the range of the
frame times is drawn instead, and the line is a longer mean; both say so. A file
with several scenes needs --scene with it.
`)
	return b.String()
}
