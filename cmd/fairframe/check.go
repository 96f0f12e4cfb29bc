package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"

	"github.com/spf13/pflag"

	"fairframe/render/check"
	"fairframe/render/finding"
)

func checkCommand() command {
	return command{
		name: "check", operands: "FILE [--scene ID] [--deep]",
		short: "reads everything, renders nothing, lists what would go wrong",
		long: `Each finding is one of:
  fails     rendering would fail, or the clip would be refused
  harms     the clip would be made, and may harm people who watch it: it flashes
  misleads  the clip would be made, and may tell an audience something wrong
  note      worth knowing
with the scene, the capture, the place, the numbers, and what to do. Places are
in the capture's time. The exit code is 1 when something would fail.

Looked at: each capture's rate, size, tags and time stamps; every picture that a
scene shows, shrunk, for damage, black and standing pictures; the planned clip,
composed frame by frame, for flashes (WCAG 2.3.1 and ITU-R BT.1702; a caution that
replaces no certified test); some pictures at full size for range, black level,
interlacing and bars; whether the starts show the same moment, within a second; the
sound that is heard; the first four seconds of a scene measured against its pacing
log, or the whole scene where the pacing is to be measured; windows, text and sizes;
ffmpeg, its encoders, disk space and time. --deep also decodes the captures from end
to end and reads all their time stamps, and looks for better starts within three
seconds, with more play around.

--format json writes {"version": 1, "findings": [{"severity", "what", "capture",
"scene", "at_s", "evidence", "remedy"}]}; capture, scene and at_s are null where
a finding is about none.`,
		setup: func(flags *pflag.FlagSet) func(context.Context, *env, []string) error {
			scene := flags.String("scene", "", "check only the scene with this `ID`")
			keysOf(flags, "scene", "scenes")
			deep := flags.Bool("deep", false,
				"decode the captures from end to end and search farther for better starts")
			format := choice(flags, "format", "format", "of the result: text or json", "text", "json")
			return func(ctx context.Context, e *env, args []string) error {
				file, err := oneFile(args, "comparison file")
				if err != nil {
					return err
				}
				p, err := e.open(file)
				if err != nil {
					return err
				}
				bar := e.progress("check", "captures")
				found, err := check.Run(ctx, p, check.Options{Scene: *scene, Deep: *deep,
					Progress: func(done, total int64) { bar.update("", done, total) }})
				bar.done()
				if err != nil {
					return err
				}
				if *format == "json" {
					err = writeCheckJSON(e.stdout, found)
				} else {
					err = writeCheckText(e.stdout, found)
				}
				if err == nil && finding.Failing(found) {
					return errReported
				}
				return err
			}
		},
	}
}

func writeCheckText(w io.Writer, found []finding.Finding) error {
	counts := map[finding.Severity]int{}
	for _, f := range finding.Grouped(found) {
		counts[f.Severity]++
		fmt.Fprintln(w, f)
		if f.Remedy != "" {
			fmt.Fprintf(w, "  %s\n", f.Remedy)
		}
	}
	_, err := fmt.Fprintf(w, "%d would fail, %d may harm, %d may mislead, %d worth knowing\n",
		counts[finding.Fails], counts[finding.Harms], counts[finding.Misleads], counts[finding.Note])
	return err
}

// checkJSON is the shape of check --format json, version 1.
type checkJSON struct {
	Version  int           `json:"version"`
	Findings []findingJSON `json:"findings"` // the worst first; empty, never null
}

type findingJSON struct {
	Severity string   `json:"severity"` // "fails", "harms", "misleads" or "note"
	What     string   `json:"what"`     // the same words for every finding of its kind
	Capture  *string  `json:"capture"`  // its key, or null
	Scene    *string  `json:"scene"`    // its id, or null
	At       *float64 `json:"at_s"`     // seconds of the capture's time, or null
	Evidence string   `json:"evidence"` // the numbers, for people
	Remedy   string   `json:"remedy"`   // what to do; may be empty
}

func writeCheckJSON(w io.Writer, found []finding.Finding) error {
	doc := checkJSON{Version: 1, Findings: []findingJSON{}}
	for _, f := range found {
		one := findingJSON{Severity: string(f.Severity), What: f.What, Capture: orNull(f.Capture),
			Scene: orNull(f.Scene), Evidence: f.Evidence, Remedy: f.Remedy}
		if f.Placed {
			at := f.At.Seconds()
			one.At = &at
		}
		doc.Findings = append(doc.Findings, one)
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	return enc.Encode(doc)
}

func orNull(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}
