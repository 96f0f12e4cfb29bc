// Package logs writes the pacing logs of captures that are measured, keeps them beside
// the captures, and reads logs for what the reader of a scene does not tell.
package logs

import (
	"bufio"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/measure"
	"fairframe/render/media"
	"fairframe/render/pacing"
	"fairframe/render/record"
	"fairframe/render/scratch"
)

// Options say what of a capture is measured. The zero value is all of it.
type Options struct {
	Settings measure.Settings
	From, To time.Duration // capture time; To 0: the capture's end
}

// Measured is what a measurement found.
type Measured struct {
	Log     string // path of the pacing log that was written
	Capture media.Capture
	Summary measure.Summary
}

// Write works out the pacing of a capture from its pictures and writes it as a
// pacing log, which appears under its name only when it is complete. Memory does
// not grow with the capture. progress is told captured frames done, of how many
// (0: the capture does not say).
func Write(ctx context.Context, tools *media.Tools, path, log string, o Options,
	progress func(done, total int64)) (m Measured, err error) {
	if media.SameFile(path, log) {
		return m, &finding.Error{Msg: fmt.Sprintf("the log %s is the capture itself", log),
			Hint: "choose another name with -o"}
	}
	if err := scratch.Replaceable(log); err != nil {
		return m, &finding.Error{Msg: "the log " + err.Error(), Hint: "choose another name with -o"}
	}
	m.Log = log
	if log == comparison.MeasuredLog(path) || log == comparison.FullMeasuredLog(path) {
		if err := ownLog(log); err != nil {
			return m, err
		}
	}
	if m.Capture, err = tools.Probe(ctx, path); err != nil {
		return m, err
	}
	var origin string
	if o.From == 0 && o.To == 0 {
		// Taken before the pictures are read: a capture that changes meanwhile
		// must not pass for the measured one.
		if origin, err = originOf(path, o.Settings, &record.Files{}); err != nil {
			return m, err
		}
	}
	rows, err := scratch.Create(filepath.Dir(log), ".fairframe.*.part")
	if err != nil {
		return m, &finding.Error{Msg: fmt.Sprintf("cannot write beside %s: %v", log, scratch.Cause(err)),
			Hint: "choose another place for the log with -o"}
	}
	defer os.Remove(rows.Name())
	defer rows.Close()
	// What heads the log is known only at its end, so the rows wait in a file.
	out := bufio.NewWriterSize(rows, 1<<16)
	var buf []byte
	notes := false
	m.Summary, err = m.measure(ctx, tools, o, progress, func(f pacing.Frame) error {
		notes = notes || f.Noted()
		buf = pacing.AppendRow(buf[:0], f, true)
		_, err := out.Write(buf)
		return err
	}, func() error {
		out.Reset(rows)
		_, err := rows.Seek(0, io.SeekStart)
		return errors.Join(err, rows.Truncate(0))
	})
	if err == nil {
		err = out.Flush()
	}
	if err != nil {
		return m, err
	}
	return m, scratch.Write(log, func(w io.Writer) error { return m.writeLog(w, rows, notes, o, origin) })
}

// measure measures a capture, or a stretch of it. again is called before it begins anew:
// where the stamps turn out not to be those of the rate that the container names.
func (m *Measured) measure(ctx context.Context, tools *media.Tools, o Options, progress func(done, total int64),
	emit func(pacing.Frame) error, again func() error) (measure.Summary, error) {
	run := func() (measure.Summary, error) {
		total := m.Capture.Frames
		if o.To > 0 {
			total = m.Capture.FramesIn(o.To) - m.Capture.FrameAt(o.From)
		}
		return measure.Capture(ctx, tools, m.Capture, o.Settings, o.From, o.To, emit, func(done int64) {
			if progress != nil {
				progress(done, max(done, total))
			}
		})
	}
	sum, err := run()
	if err != nil || !sum.Uneven {
		return sum, err
	}
	read, err := tools.Reread(ctx, m.Capture.Path)
	if err != nil || !read.Variable() {
		return sum, err
	}
	m.Capture = read
	if err := again(); err != nil {
		return sum, err
	}
	return run()
}

// byUs begins the first comment line of every log that was measured.
const byUs = "pacing measured from pictures by fairframe "

// headOf are the first comments of a measured log.
func headOf(c media.Capture) []string {
	return []string{byUs + record.Version(),
		fmt.Sprintf("capture: %s, %dx%d, %s", filepath.Base(c.Path), c.Size.X, c.Size.Y, RateText(c))}
}

// writeLog writes the head and then the rows, without their empty last column
// when no row has a note.
func (m *Measured) writeLog(w io.Writer, rows io.ReadSeeker, notes bool, o Options, origin string) error {
	s := m.Summary
	c := m.Capture
	comments := append(headOf(c),
		"method: neighbouring pictures compared by rows and cells; noise estimated from the capture "+
			"itself, decided over time",
		fmt.Sprintf("noise: %.3f grey levels between pictures of one frame; motion: %.3f to a new "+
			"frame; between them: %.3f on average", s.Noise, s.Motion, s.Threshold),
		fmt.Sprintf("frames: %d captured, %d new, %d repeated, %d torn, %d doubtful; still for %.3f "+
			"s; at the capture's limit for %.3f s",
			s.Captured, s.New, s.Repeated, s.Torn, s.Doubtful, s.Still.Seconds(), s.Ceiling.Seconds()),
		"tear: the capture row from which a frame was first shown")
	comments = append(comments, o.describe()...)
	if s.LeftOut {
		comments = append(comments, leavesOut)
	}
	if s.Gaps > 0 {
		comments = append(comments,
			fmt.Sprintf("gaps: the recorder dropped %d pictures in %d places, %.3f s in all, in "+
				"which a new frame began; when is not known", s.Dropped, s.Gaps, s.Gap.Seconds()))
	}
	return writeRows(w, comments, rows, notes, origin)
}

// writeRows writes comments and rows, which are as if there were notes. A log that is kept
// has an origin.
func writeRows(w io.Writer, comments []string, rows io.ReadSeeker, notes bool, origin string) error {
	if origin != "" {
		h := sha256.New()
		if err := copyRows(h, rows, notes); err != nil {
			return err
		}
		comments = append(comments, origin, fmt.Sprintf("%s%x", record.RowsSHA, h.Sum(nil)))
	}
	head, columns := pacing.AppendHeader(nil, comments, notes), pacing.AppendHeader(nil, nil, notes)
	if _, err := w.Write(head[:len(head)-len(columns)]); err != nil {
		return err
	}
	return copyRows(w, rows, notes)
}

// copyRows copies rows below the names of their columns, without the last column if there
// are no notes.
func copyRows(w io.Writer, rows io.ReadSeeker, notes bool) error {
	if _, err := rows.Seek(0, io.SeekStart); err != nil {
		return err
	}
	out := bufio.NewWriterSize(w, 1<<16)
	out.Write(pacing.AppendHeader(nil, nil, notes))
	lines := bufio.NewScanner(rows)
	for lines.Scan() {
		row := lines.Text()
		if !notes {
			row = strings.TrimSuffix(row, ",")
		}
		out.WriteString(row)
		out.WriteByte('\n')
	}
	if err := lines.Err(); err != nil {
		return err
	}
	return out.Flush()
}

// leavesOut is the comment of a log whose recorder writes no repeated pictures.
const leavesOut = "recorder: leaves repeated pictures out; " +
	"the step from stamp to stamp is how long a picture was on screen"

// RateText tells of a capture's rate in words.
func RateText(c media.Capture) string {
	if s := c.Stamping(); s != nil {
		if s.Grid {
			return fmt.Sprintf("variable rate on a grid of %s Hz, %.2f pictures a second", c.Rate, s.Mean)
		}
		return fmt.Sprintf("variable rate, %.2f pictures a second", s.Mean)
	}
	return c.Rate.String() + " frames a second"
}

// describe says what was measured, where it is not the whole capture.
func (o Options) describe() []string {
	var list []string
	if r := o.Settings.Region; !r.Empty() {
		list = append(list, fmt.Sprintf("region: %d,%d,%d,%d", r.Min.X, r.Min.Y, r.Dx(), r.Dy()))
	}
	for _, r := range o.Settings.Ignore {
		list = append(list, fmt.Sprintf("ignored: %d,%d,%d,%d", r.Min.X, r.Min.Y, r.Dx(), r.Dy()))
	}
	if o.Settings.Whole {
		list = append(list, "tears: none, as stated")
	}
	if o.From > 0 || o.To > 0 {
		to := "the end"
		if o.To > 0 {
			to = fmt.Sprintf("%.3f s", o.To.Seconds())
		}
		list = append(list, fmt.Sprintf("part: from %.3f s to %s", o.From.Seconds(), to))
	}
	return list
}
