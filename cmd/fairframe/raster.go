package main

import (
	"context"
	"encoding/json"
	"fmt"
	"image"
	"io"

	"github.com/spf13/pflag"

	"fairframe/render/media"
	"fairframe/render/raster"
)

const rasterManual = `Looks at pictures all over the capture for the trace that one scaling with a fixed
kernel leaves, across and down by themselves. It states what it finds, in how many of
the pictures, and the evidence:
  peak  how high the trace stands in the spectrum of second differences; 1 is usual
  left  how much of a picture is lost when it is scaled down to that size and up again,
        over what sizes close to it lose; 1 says nothing
What it finds may be the game's scaling or the recorder's. Where it finds none the picture
may still be scaled: reconstruction over time, sharpening, film grain, a display drawn at
full size and coarse coding hide a scaling. An encoder's blocks leave traces at
multiples of 1/16 of the picture's size: there it asks for more, or says that it
cannot tell. It reads pictures that the encoder coded by themselves, which keep most.

--edge x0,y0,x1,y1 with --at TIME counts the steps of one near-level or near-upright
edge between two plain areas instead, in the picture coded by itself at TIME or shortly
before. Each step is one line, or one column, of what was drawn. An edge that is
smoothed, too short or too steep is refused.

--region and --ignore take x,y,width,height in pixels of the capture.

--format json writes:

`

func rasterCommand() command {
	return command{
		name: "raster", operands: "CAPTURE",
		short: "estimates what the pictures of a capture were scaled from",
		long:  rasterManual + describedJSON(estimateJSON{}),
		setup: func(flags *pflag.FlagSet) func(context.Context, *env, []string) error {
			var o raster.Options
			from := flags.String("from", "", "start at this `TIME` of the capture (default: its beginning)")
			to := flags.String("to", "", "stop at this `TIME` of the capture (default: its end)")
			flags.IntVar(&o.Samples, "samples", 50, "look at `N` pictures, spread evenly; 1 to 1000")
			region := flags.String("region", "", "what counts: `x,y,w,h` (default: the whole picture)")
			ignore := flags.StringArray("ignore", nil,
				"what does not count: `x,y,w,h`; may be given several times")
			edge := flags.String("edge", "", "count the steps of the edge between two points: `x0,y0,x1,y1`")
			at := flags.String("at", "", "the `TIME` of the picture that has the edge")
			picture := flags.String("picture", "", "draw the evidence into this PNG `FILE`")
			format := choice(flags, "format", "format", "of the result: text or json", "text", "json")
			return func(ctx context.Context, e *env, args []string) error {
				path, err := oneFile(args, "capture")
				if err != nil {
					return err
				}
				if o.Samples < 1 || o.Samples > 1000 {
					return usagef("", "--samples %d is not between 1 and 1000", o.Samples)
				}
				if (*edge == "") != (*at == "") {
					return usagef("write it like --at 12s --edge 640,300,900,310",
						"--edge and --at belong together")
				}
				t, err := e.tools()
				if err != nil {
					return err
				}
				c, err := t.Probe(ctx, path)
				if err != nil {
					return err
				}
				doc := estimateJSON{Version: 1, Capture: path, Width: c.Size.X, Height: c.Size.Y}
				if *edge != "" {
					found, err := countEdge(ctx, t, c, *edge, *at, *picture)
					if err != nil {
						return err
					}
					doc.Edge = edgeOf(found)
					return writeRaster(e.stdout, *format, doc)
				}
				if o.From, o.To, err = captureStretch(*from, *to, c.Rate); err != nil {
					return err
				}
				if o.Region, o.Ignore, err = parseBoxes(*region, *ignore); err != nil {
					return err
				}
				bar := e.progress("raster", "pictures")
				o.Progress = func(done, total int) { bar.update("", int64(done), int64(total)) }
				r, err := raster.Estimate(ctx, t, c, o)
				bar.done()
				if err != nil {
					return err
				}
				if *picture != "" {
					if err := r.Draw(*picture, c); err != nil {
						return err
					}
				}
				doc.describe(r)
				return writeRaster(e.stdout, *format, doc)
			}
		},
	}
}

// countEdge counts the steps of an edge, and draws the evidence into picture unless that is "".
func countEdge(ctx context.Context, t *media.Tools, c media.Capture, edge, at, picture string) (
	found raster.Staircase, err error) {
	a, b, err := parseEdge(edge)
	if err != nil {
		return found, err
	}
	when, err := captureTime("--at", at, c.Rate)
	if err != nil {
		return found, err
	}
	if found, err = raster.CountAt(ctx, t, c, when, a, b); err != nil || picture == "" {
		return found, err
	}
	return found, found.Draw(picture, c)
}

// parseEdge reads x0,y0,x1,y1.
func parseEdge(s string) (a, b image.Point, err error) {
	var rest string
	n, _ := fmt.Sscanf(s+" .", "%d,%d,%d,%d %s", &a.X, &a.Y, &b.X, &b.Y, &rest)
	if n != 5 || rest != "." {
		err = usagef("write it like 640,300,900,310: both ends, in pixels of the capture",
			"--edge %q is no edge", s)
	}
	return a, b, err
}

// estimateJSON is the shape of raster --format json, version 1, as the help lists it.
type estimateJSON struct {
	Version int              `json:"version" doc:"of this shape: 1"`
	Capture string           `json:"capture" doc:"its path"`
	Width   int              `json:"width" doc:"pixels"`
	Height  int              `json:"height" doc:"pixels"`
	Across  *rasterAxisJSON  `json:"across,omitempty" doc:"along the lines"`
	Down    *rasterAxisJSON  `json:"down,omitempty" doc:"along the columns, in the same shape"`
	Samples []rasterTimeJSON `json:"samples,omitempty" doc:"each picture that was looked at"`
	Edge    *rasterEdgeJSON  `json:"edge,omitempty" doc:"with --edge, in place of the three above"`
}

type rasterAxisJSON struct {
	To         int                   `json:"to" doc:"pixels of the capture"`
	From       int                   `json:"from" doc:"pixels that it was scaled from; 0: no such scaling was found"`
	Agree      int                   `json:"agree" doc:"how many pictures show it"`
	Verdict    string                `json:"verdict" doc:"the same in words"`
	Candidates []rasterCandidateJSON `json:"candidates" doc:"what was tried with some success, the likeliest first"`
}

type rasterCandidateJSON struct {
	From   int     `json:"from" doc:"pixels"`
	Peak   float64 `json:"peak" doc:"height of its trace; 1 is usual"`
	Left   float64 `json:"left" doc:"what scaling to it and back loses; 1 says nothing"`
	Agree  int     `json:"agree" doc:"pictures that it explains best"`
	Blocks bool    `json:"blocks" doc:"an encoder's blocks leave traces there too"`
}

type rasterTimeJSON struct {
	At     float64 `json:"at_s" doc:"capture time"`
	Across int     `json:"across" doc:"pixels that it was scaled from; 0: it does not show"`
	Down   int     `json:"down" doc:"in the same way"`
}

type rasterEdgeJSON struct {
	At      float64 `json:"at_s" doc:"capture time of the picture"`
	Upright bool    `json:"upright" doc:"the edge is near-upright: its steps are columns"`
	Steps   int     `json:"steps" doc:"that were counted"`
	Pixels  float64 `json:"pixels" doc:"that they cover"`
	From    float64 `json:"from" doc:"lines or columns that it was drawn at"`
	To      int     `json:"to" doc:"lines or columns of the capture"`
	Error   float64 `json:"error" doc:"by how much from may be wrong"`
	Verdict string  `json:"verdict" doc:"the same in words"`
}

func (doc *estimateJSON) describe(r raster.Result) {
	axis := func(x raster.Axis, way string) *rasterAxisJSON {
		a := &rasterAxisJSON{To: x.To, From: x.From(), Verdict: x.Verdict(way, len(r.Samples)),
			Candidates: []rasterCandidateJSON{}}
		for _, c := range x.Candidates {
			if c.Agree > 0 && len(a.Candidates) < 5 {
				a.Candidates = append(a.Candidates, rasterCandidateJSON{c.From, c.Peak, c.Left, c.Agree,
					c.Blocks})
			}
		}
		if x.Found {
			a.Agree = x.Candidates[0].Agree
		}
		return a
	}
	doc.Across, doc.Down = axis(r.Across, "across"), axis(r.Down, "down")
	for _, s := range r.Samples {
		doc.Samples = append(doc.Samples, rasterTimeJSON{s.At.Seconds(), s.Across, s.Down})
	}
}

func edgeOf(s raster.Staircase) *rasterEdgeJSON {
	return &rasterEdgeJSON{At: s.Shown.Seconds(), Upright: s.Upright, Steps: s.Steps, Pixels: s.Pixels,
		From: s.From, To: s.To, Error: s.Error, Verdict: s.Verdict()}
}

func writeRaster(w io.Writer, format string, doc estimateJSON) error {
	if format == "json" {
		enc := json.NewEncoder(w)
		enc.SetIndent("", "  ")
		return enc.Encode(doc)
	}
	fmt.Fprintf(w, "%s  %dx%d\n", doc.Capture, doc.Width, doc.Height)
	if e := doc.Edge; e != nil {
		_, err := fmt.Fprintf(w, "  at %.3f s  %s\n", e.At, e.Verdict)
		return err
	}
	for _, a := range []*rasterAxisJSON{doc.Across, doc.Down} {
		fmt.Fprintf(w, "  %s\n", a.Verdict)
		for i, c := range a.Candidates {
			words := ""
			if c.Blocks {
				words = ", on an encoder's blocks"
			}
			if i < 3 {
				fmt.Fprintf(w, "    %5d  peak %.1f, left %.2f, in %d of %d samples%s\n", c.From, c.Peak,
					c.Left, c.Agree, len(doc.Samples), words)
			}
		}
	}
	for from := 0; from < len(doc.Samples); {
		s, to := doc.Samples[from], from+1
		for to < len(doc.Samples) && doc.Samples[to].Across == s.Across && doc.Samples[to].Down == s.Down {
			to++
		}
		if s.Across > 0 || s.Down > 0 {
			fmt.Fprintf(w, "  %-18s %s\n", rasterStretch(s.At, doc.Samples[to-1].At), rasterWords(s))
		}
		from = to
	}
	return nil
}

func rasterStretch(from, to float64) string {
	if from == to {
		return fmt.Sprintf("%.2f s", from)
	}
	return fmt.Sprintf("%.2f s to %.2f s", from, to)
}

// rasterWords is what a sample was scaled from.
func rasterWords(s rasterTimeJSON) string {
	switch {
	case s.Down == 0:
		return fmt.Sprintf("%d across", s.Across)
	case s.Across == 0:
		return fmt.Sprintf("%d down", s.Down)
	}
	return fmt.Sprintf("%dx%d", s.Across, s.Down)
}
