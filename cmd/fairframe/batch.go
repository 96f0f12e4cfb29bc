package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"text/tabwriter"

	"github.com/spf13/pflag"

	"fairframe/render"
)

func batchCommand() command {
	return command{
		name: "batch", operands: "FILE [--only ID,…] [--jobs N] [--fresh]", short: "renders every scene that is not up to date",
		long: `A scene is up to date when nothing that could change its clip has changed: its
settings, the captures, the pacing logs, fonts, this program and ffmpeg. A scene
that fails does not stop the others; the exit code is 1 if any failed.
manifest.json in the output folder records how each clip was made.`,
		setup: func(flags *pflag.FlagSet) func(context.Context, *env, []string) error {
			only := flags.StringSlice("only", nil, "render only the scenes with these `IDs`, separated by commas")
			jobs := flags.IntP("jobs", "j", 0, "how many scenes to render at once (default: chosen by the machine)")
			fresh := flags.Bool("fresh", false, "render also what is up to date")
			format := flags.String("format", "text", "of the result: text or json")
			return func(ctx context.Context, e *env, args []string) error {
				file, err := oneFile(args, "comparison file")
				if err != nil {
					return err
				}
				if *jobs < 0 || flags.Changed("jobs") && *jobs == 0 {
					return usagef("leave --jobs out to let the machine choose", "--jobs %d: at least 1", *jobs)
				}
				if *format != "text" && *format != "json" {
					return usagef("the formats are: text, json", "unknown format %q", *format)
				}
				p, err := e.open(file)
				if err != nil {
					return err
				}
				return e.batch(ctx, p, render.BatchOptions{Only: *only, Jobs: *jobs, Fresh: *fresh}, *format)
			}
		},
	}
}

func (e *env) batch(ctx context.Context, p *render.Project, o render.BatchOptions, format string) error {
	bar := e.progress("batch", "frames")
	o.Planned = func(scene string, frames int64) { bar.update(scene, 0, frames) }
	o.Started = func(scene string) (render.Progress, func(render.Row)) {
		return func(done, total int64) { bar.update(scene, done, total) },
			func(r render.Row) {
				if r.Status == render.Rendered {
					bar.update(scene, r.Result.Frames, r.Result.Frames)
				}
				if r.Status != render.Cancelled {
					bar.say("%s: %s", scene, r.Status)
				}
			}
	}
	rows, err := p.Batch(ctx, o)
	bar.done()
	if err != nil {
		return err
	}
	failed := false
	for _, r := range rows {
		e.warn(r.Scene, r.Result.Warnings)
		if r.Status == render.Failed {
			failed = true
			report(e.stderr, fmt.Errorf("scene %s: %w", r.Scene, r.Err))
		}
	}
	if format == "json" {
		err = writeBatchJSON(e.stdout, rows)
	} else {
		err = writeBatchTable(e.stdout, rows)
	}
	switch {
	case err != nil:
		return err
	case ctx.Err() != nil:
		return ctx.Err()
	case failed:
		return errReported
	}
	return nil
}

func writeBatchTable(w io.Writer, rows []render.Row) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "scene\tresult\tframes\tlength\tsize\ttook\tclip")
	for _, r := range rows {
		switch r.Status {
		case render.Rendered:
			fmt.Fprintf(t, "%s\t%s\t%d\t%.2f s\t%s\t%.1f s\t%s\n", r.Scene, r.Status, r.Result.Frames, r.Result.Length.Seconds(), bytes(r.Result.Bytes), r.Result.Took.Seconds(), r.Out)
		case render.UpToDate:
			fmt.Fprintf(t, "%s\t%s\t\t\t\t\t%s\n", r.Scene, r.Status, r.Out)
		default:
			fmt.Fprintf(t, "%s\t%s\t\t\t\t\t\n", r.Scene, r.Status)
		}
	}
	return t.Flush()
}

// batchJSON is the shape of batch --format json, version 1.
type batchJSON struct {
	Version int            `json:"version"`
	Scenes  []batchRowJSON `json:"scenes"`
}

type batchRowJSON struct {
	Scene    string   `json:"scene"`
	Result   string   `json:"result"` // "rendered", "up to date", "failed" or "not done"
	Clip     string   `json:"clip,omitempty"`
	Frames   int64    `json:"frames,omitempty"`
	Seconds  float64  `json:"length_s,omitempty"`
	Bytes    int64    `json:"bytes,omitempty"`
	Took     float64  `json:"took_s,omitempty"`
	Warnings []string `json:"warnings,omitempty"`
	Error    string   `json:"error,omitempty"`
	Hints    []string `json:"hints,omitempty"`
}

func writeBatchJSON(w io.Writer, rows []render.Row) error {
	doc := batchJSON{Version: 1, Scenes: []batchRowJSON{}}
	for _, r := range rows {
		row := batchRowJSON{Scene: r.Scene, Result: string(r.Status), Warnings: r.Result.Warnings}
		switch r.Status {
		case render.Rendered:
			row.Clip, row.Frames, row.Seconds, row.Bytes, row.Took = r.Out, r.Result.Frames, r.Result.Length.Seconds(), r.Result.Bytes, r.Result.Took.Seconds()
		case render.UpToDate:
			row.Clip = r.Out
		case render.Failed:
			row.Error, row.Hints = r.Err.Error(), hints(r.Err)
		}
		doc.Scenes = append(doc.Scenes, row)
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	return enc.Encode(doc)
}
