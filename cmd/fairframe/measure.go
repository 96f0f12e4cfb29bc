package main

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"image"
	"io"
	"time"

	"github.com/spf13/pflag"

	"fairframe/render/measure/logs"
	"fairframe/render/pacing"
)

func measureCommand() command {
	return command{
		name: "measure", operands: "CAPTURE [-o LOG.csv]",
		short: "works out the pacing of a capture from its pictures",
		long: `Decides for each captured frame whether it is new, repeated or torn, and writes a
pacing log: time_s, frame_time_ms and tear, the capture row from which a torn
frame was first shown. How much pictures of the same frame differ is estimated
from the capture itself. Where the evidence is weak a row's note says doubtful:
in slow or faint motion above all, which an encoder with B pictures makes up
between repeated frames. A tear's row is right to within a few rows at good
quality, and to within an encoder's blocks of 16 rows at low quality.
A picture that does not change for half a second or more (a menu, a pause, a
loading screen) cannot be told from a dropped frame: it is noted as still and
enters no figure.

--region and --ignore take x,y,width,height in pixels of the capture. Leave out
what moves at another rate than the game, such as a display of speed.

--tears none states that the machine is v-synced: no frame then begins in mid-picture.

--format json writes:

` + describedJSON(measureJSON{}),
		setup: func(flags *pflag.FlagSet) func(context.Context, *env, []string) error {
			out := flags.StringP("output", "o", "",
				"the log's `NAME` (default: CAPTURE.pacing.csv beside the capture)")
			from := flags.String("from", "", "start at this `TIME` of the capture (default: its beginning)")
			to := flags.String("to", "", "stop at this `TIME` of the capture (default: its end)")
			region := flags.String("region", "", "what counts: `x,y,w,h` (default: the whole picture)")
			ignore := flags.StringArray("ignore", nil,
				"what does not count: `x,y,w,h`; may be given several times")
			tears := choice(flags, "tears", "tears",
				"search, or none: no frame begins in\nmid-picture, because the machine is v-synced",
				"search", "none")
			format := choice(flags, "format", "format", "of the summary: text or json", "text", "json")
			return func(ctx context.Context, e *env, args []string) error {
				capture, err := oneFile(args, "capture")
				if err != nil {
					return err
				}
				t, err := e.tools()
				if err != nil {
					return err
				}
				var o logs.Options
				o.Settings.Whole = *tears == "none"
				if o.Settings.Region, o.Settings.Ignore, err = parseBoxes(*region, *ignore); err != nil {
					return err
				}
				if *from != "" || *to != "" {
					// Times in frames and timecodes count at the capture's rate.
					c, err := t.Probe(ctx, capture)
					if err != nil {
						return err
					}
					if o.From, o.To, err = captureStretch(*from, *to, c.Rate); err != nil {
						return err
					}
				}
				log := *out
				if log == "" {
					log = logs.PathOf(capture)
				}
				began := time.Now()
				bar := e.progress("measure", "frames")
				m, err := logs.Write(ctx, t, capture, log, o,
					func(done, total int64) { bar.update("", done, total) })
				bar.done()
				if err != nil {
					return err
				}
				for _, w := range m.Summary.Warnings {
					line(e.stderr, "warning", w.Error())
				}
				if *format == "json" {
					return writeMeasureJSON(e.stdout, m)
				}
				return writeMeasureText(e.stdout, m, time.Since(began))
			}
		},
	}
}

// captureTime reads a time of a capture; "" is 0.
func captureTime(flag, s string, r pacing.Rate) (time.Duration, error) {
	if s == "" {
		return 0, nil
	}
	t, err := flagTime(flag, s)
	if err != nil {
		return 0, err
	}
	return t.At(r)
}

// captureStretch reads the times between which a capture is looked at.
func captureStretch(from, to string, r pacing.Rate) (begin, end time.Duration, err error) {
	if begin, err = captureTime("--from", from, r); err != nil {
		return 0, 0, err
	}
	if end, err = captureTime("--to", to, r); err != nil {
		return 0, 0, err
	}
	if to != "" && end <= begin {
		err = usagef("times count from the capture's first frame",
			"nothing lies between --from %s and --to %s", cmp.Or(from, "0s"), to)
	}
	return begin, end, err
}

// parseBoxes reads what counts of a picture and what does not.
func parseBoxes(region string, ignore []string) (counts image.Rectangle, not []image.Rectangle, err error) {
	if region != "" {
		if counts, err = parseBox("--region", region); err != nil {
			return counts, nil, err
		}
	}
	for _, s := range ignore {
		r, err := parseBox("--ignore", s)
		if err != nil {
			return counts, nil, err
		}
		not = append(not, r)
	}
	return counts, not, nil
}

// parseBox reads x,y,w,h.
func parseBox(flag, s string) (image.Rectangle, error) {
	var x, y, w, h int
	var rest string
	n, _ := fmt.Sscanf(s+" .", "%d,%d,%d,%d %s", &x, &y, &w, &h, &rest)
	if n != 5 || rest != "." || x < 0 || y < 0 || w <= 0 || h <= 0 {
		return image.Rectangle{}, usagef("write it like 0,0,1920,900: left, top, width, height in pixels",
			"%s %q is no rectangle", flag, s)
	}
	return image.Rect(x, y, x+w, y+h), nil
}

func writeMeasureText(w io.Writer, m logs.Measured, took time.Duration) error {
	s, c := m.Summary, m.Capture
	fmt.Fprintf(w, "%s\n", m.Log)
	if c.Variable() {
		fmt.Fprintf(w, "  captured    %d frames, %.2f s, of %s\n",
			s.Captured, s.Span.Seconds(), logs.RateText(c))
	} else {
		fmt.Fprintf(w, "  captured    %d frames at %s Hz, %.2f s\n", s.Captured, c.Rate, s.Span.Seconds())
	}
	fmt.Fprintf(w, "  new         %d\n", s.New)
	fmt.Fprintf(w, "  repeated    %d\n", s.Repeated)
	fmt.Fprintf(w, "  torn        %d frames of the game began in mid-picture\n", s.Torn)
	fmt.Fprintf(w, "  still       %.2f s in %d stretches\n", s.Still.Seconds(), s.Stills)
	fmt.Fprintf(w, "  doubtful    %d of %d frames of the game\n", s.Doubtful, s.Frames)
	if s.Ceiling > 0 {
		fmt.Fprintf(w,
			"  limit       %.2f s in which every captured frame is new: the game may have been faster\n",
			s.Ceiling.Seconds())
	}
	if s.Gaps > 0 {
		fmt.Fprintf(w, "  gaps        %.2f s in %d places, where the recorder dropped %d pictures\n",
			s.Gap.Seconds(), s.Gaps, s.Dropped)
	}
	if seen := s.Span - s.Still - s.Gap; seen > 0 {
		fmt.Fprintf(w, "  mean rate   %s%.2f fps while not still\n",
			atLeast(s.Ceiling > 0), float64(s.Frames)/seen.Seconds())
	}
	_, err := fmt.Fprintf(w, "  measured in %.1f s\n", took.Seconds())
	return err
}

// measureJSON is the shape of measure --format json, version 1, as the help lists it.
type measureJSON struct {
	Version  int      `json:"version" doc:"of this shape: 1"`
	Log      string   `json:"log" doc:"path of the pacing log"`
	Capture  string   `json:"capture" doc:"its path"`
	Width    int      `json:"width" doc:"pixels"`
	Height   int      `json:"height" doc:"pixels"`
	Rate     string   `json:"rate" doc:"captured frames a second, such as 60 or 60000/1001"`
	Captured int64    `json:"captured" doc:"captured frames"`
	New      int64    `json:"new" doc:"of these, those in which a frame of the game began"`
	Repeated int64    `json:"repeated" doc:"of these, those that repeat the one before"`
	Frames   int64    `json:"frames" doc:"frames of the game"`
	Torn     int64    `json:"torn" doc:"of these, those that began in mid-picture"`
	Doubtful int64    `json:"doubtful" doc:"of these, those whose evidence was weak"`
	Still    float64  `json:"still_s" doc:"time in which the picture did not change"`
	Variable bool     `json:"variable" doc:"read by its stamps, on a grid of rate or on none"`
	Span     float64  `json:"span_s" doc:"time that was measured"`
	Gaps     int64    `json:"gaps" doc:"places where the recorder dropped pictures"`
	Dropped  int64    `json:"dropped" doc:"pictures that it dropped there"`
	Gap      float64  `json:"gap_s" doc:"time of which the log says nothing therefore"`
	LeftOut  bool     `json:"repeats_left_out" doc:"the recorder writes no repeated pictures"`
	Ceiling  float64  `json:"ceiling_s" doc:"time in which every captured frame is new"`
	Stills   int64    `json:"still_stretches" doc:"how many times"`
	Noise    float64  `json:"noise" doc:"grey levels a pixel between pictures of one frame"`
	Motion   float64  `json:"motion" doc:"grey levels a pixel to a new frame"`
	Warnings []string `json:"warnings,omitempty" doc:"what weakens the result; left out when there is none"`
}

func writeMeasureJSON(w io.Writer, m logs.Measured) error {
	s, c := m.Summary, m.Capture
	doc := measureJSON{Version: 1, Log: m.Log, Capture: c.Path, Width: c.Size.X, Height: c.Size.Y,
		Rate: c.Rate.String(), Captured: s.Captured,
		New: s.New, Repeated: s.Repeated, Frames: s.Frames, Torn: s.Torn, Doubtful: s.Doubtful,
		Still: s.Still.Seconds(), Stills: s.Stills, Ceiling: s.Ceiling.Seconds(),
		Variable: c.Variable(), Span: s.Span.Seconds(), Gaps: s.Gaps, Dropped: s.Dropped,
		Gap: s.Gap.Seconds(), LeftOut: s.LeftOut, Noise: s.Noise, Motion: s.Motion}
	for _, warning := range s.Warnings {
		doc.Warnings = append(doc.Warnings, warning.Error())
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	return enc.Encode(doc)
}
