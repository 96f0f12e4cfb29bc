package main

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"fairframe/render"
	"fairframe/render/align"
	"fairframe/render/pacing"
	"fairframe/render/scene"
)

// logFlags are the flags of align that are about pacing logs.
type logFlags struct {
	log, column, means, unit string
	all                      bool
}

func addLogFlags(flags *pflag.FlagSet) *logFlags {
	l := &logFlags{}
	flags.StringVar(&l.log, "log", "", "find where this pacing `LOG` of CAPTURE starts")
	flags.BoolVar(&l.all, "logs", false, "find where the pacing logs of FILE's captures start")
	flags.StringVar(&l.column, "column", "", "with --log: the `COLUMN` that counts (default: the tool's own)")
	flags.StringVar(&l.means, "means", "", "with --log: what it holds: frame-time, time-stamp or new-frame")
	flags.StringVar(&l.unit, "unit", "", "with --log: its unit: s, ms, us or ns")
	return l
}

// isComparison reports whether a name is that of a comparison file.
func isComparison(name string) bool {
	ext := strings.ToLower(filepath.Ext(name))
	return ext == ".yaml" || ext == ".yml"
}

// wanted reports whether logs are to be aligned, after checking that the flags go
// together.
func (l *logFlags) wanted(args []string, scene string, writes bool) (bool, error) {
	isFile := len(args) == 1 && isComparison(args[0])
	switch {
	case l.log == "" && (l.column != "" || l.means != "" || l.unit != ""):
		return false, usagef("name the log with --log LOG", "--column, --means and --unit are about a log")
	case l.log == "" && !l.all:
		return false, nil
	case l.log != "" && l.all:
		return false, usagef("--log LOG takes a capture, --logs a comparison file",
			"--log and --logs were both given")
	case scene != "":
		return false, usagef("leave --scene away: a log belongs to a capture, in all scenes",
			"logs are not aligned by scene")
	case len(args) != 1:
		return false, usagef("write fairframe align CAPTURE --log LOG, or fairframe align FILE --logs",
			"one name was expected with --log or --logs, %d were given", len(args))
	case l.all && !isFile:
		return false, usagef("for one capture write --log LOG",
			"--logs takes a comparison file, and %s does not end in .yaml", args[0])
	case l.log != "" && isFile:
		return false, usagef("write fairframe align "+args[0]+" --logs for the logs that the file names",
			"--log takes a capture, and %s is a comparison file", args[0])
	case l.log != "" && writes:
		return false, usagef("write fairframe align FILE --logs --write, or put the line into the "+
			"file by hand", "--write needs a comparison file")
	}
	return true, nil
}

func (l *logFlags) format() (f pacing.Format, err error) {
	f.Column = l.column
	if l.means != "" {
		if f.Means, err = pacing.ParseMeaning(l.means); err != nil {
			return f, oneOf("meaning", l.means, "frame-time", "time-stamp", "new-frame")
		}
	}
	if l.unit != "" {
		if f.Unit, err = pacing.ParseUnit(l.unit); err != nil {
			return f, oneOf("unit", l.unit, "s", "ms", "us", "ns")
		}
	}
	switch {
	case f.Column == "" && (f.Means != 0 || f.Unit != 0):
		return f, usagef("name the column with --column", "--means and --unit say nothing without a column")
	case f.Column != "" && f.Means == 0:
		return f, usagef("add --means frame-time, time-stamp or new-frame",
			"nothing says what column %q means", f.Column)
	}
	return f, nil
}

func runAlignLogs(ctx context.Context, e *env, arg string, l *logFlags, writes bool,
	around, format string) error {
	t, err := e.tools()
	if err != nil {
		return err
	}
	bar := e.progress("align", "frames")
	var found []align.LogAligned
	var project *scene.Project
	if l.all {
		if project, err = e.open(arg); err != nil {
			return err
		}
		found, err = align.Logs(ctx, project, func(capture string) render.Progress {
			return func(done, total int64) { bar.update(capture, done, total) }
		})
	} else {
		var o align.LogOptions
		if o.Format, err = l.format(); err != nil {
			return err
		}
		if o.Around, err = aroundTime(ctx, t, arg, around); err != nil {
			return err
		}
		var one align.LogAligned
		one, err = align.Log(ctx, t, arg, l.log, o,
			func(done, total int64) { bar.update("", done, total) })
		found = append(found, one)
	}
	bar.done()
	if err != nil {
		return err
	}
	if format == "json" {
		err = writeLogsJSON(e.stdout, found)
	} else {
		err = writeLogsText(e.stdout, found)
	}
	if err != nil || !writes {
		return err
	}
	backup, err := align.WriteLogStarts(project.File, found)
	switch {
	case err != nil:
		return err
	case backup == "":
		line(e.stderr, "written", "nothing: no starts may be relied on")
	default:
		line(e.stderr, "written", fmt.Sprintf("the logs' starts in %s; as it was: %s", arg, backup))
	}
	return nil
}

// startsText writes a log's starts as a comparison file has it.
func startsText(one align.LogAligned) string {
	s := strconv.FormatFloat(one.Starts.Seconds(), 'f', 6, 64)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".") + "s"
}

func writeLogsText(w io.Writer, found []align.LogAligned) error {
	for _, one := range found {
		fmt.Fprintf(w, "%s → %s\n", one.Log, one.Capture)
		fmt.Fprintf(w, "  measured    %.2f s to %.2f s of the capture\n",
			one.From.Seconds(), one.To.Seconds())
		if one.Matched() {
			fmt.Fprintf(w, "  starts: %s\n", startsText(one))
			fmt.Fprintf(w, "  was         %.6gs\n", one.Was.Seconds())
			fmt.Fprintf(w, "  matches     %d of %d new frames of the pictures are in the log there\n",
				one.Agree, one.Begun)
		} else {
			fmt.Fprintf(w, "  nothing matches: no starts may be relied on\n")
			if one.Correlation > 0 {
				fmt.Fprintf(w, "  likeliest   %.6gs, correlation %.2f\n",
					one.Shift.Seconds(), one.Correlation)
			}
		}
		fmt.Fprintf(w, "  confidence  %.2f\n", one.Confidence)
		if r := one.Runner; r != nil && r.Share >= 0.5 {
			fmt.Fprintf(w, "  next best   %+.3f s, with %.0f %% of the correlation\n", r.Offset, 100*r.Share)
		}
		for _, n := range one.Notes {
			fmt.Fprintf(w, "  note        %s\n", n)
		}
	}
	return nil
}

// logsJSON is the shape of align --log and --logs with --format json, version 1.
type logsJSON struct {
	Version int           `json:"version"`
	Logs    []alignedJSON `json:"logs"`
}

type alignedJSON struct {
	Capture     string   `json:"capture"` // its path, or its key in FILE
	Log         string   `json:"log"`
	Starts      *float64 `json:"starts_s"` // null: nothing may be relied on
	Was         float64  `json:"was_s"`
	Confidence  float64  `json:"confidence"`
	Matched     bool     `json:"matched"`
	Correlation float64  `json:"correlation"`
	Begun       int      `json:"frames"` // new frames in the pictures
	Agree       int      `json:"agree"`  // of these, those that the log has there
	From        float64  `json:"from_s"`
	To          float64  `json:"to_s"`
	Notes       []string `json:"notes"`
}

func writeLogsJSON(w io.Writer, found []align.LogAligned) error {
	doc := logsJSON{Version: 1, Logs: []alignedJSON{}}
	for _, one := range found {
		js := alignedJSON{Capture: one.Capture, Log: one.Log, Was: micro(one.Was.Seconds()),
			Confidence: micro(one.Confidence), Matched: one.Matched(),
			Correlation: micro(one.Correlation), Begun: one.Begun, Agree: one.Agree,
			From: micro(one.From.Seconds()), To: micro(one.To.Seconds()),
			Notes: append([]string{}, one.Notes...)}
		if one.Matched() {
			s := micro(one.Starts.Seconds())
			js.Starts = &s
		}
		doc.Logs = append(doc.Logs, js)
	}
	return encodeJSON(w, doc)
}
