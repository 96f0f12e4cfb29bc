package render

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/measure"
	"fairframe/render/media"
	"fairframe/render/pacing"
	"fairframe/render/record"
	"fairframe/render/scratch"
)

// MeasureOptions say what of a capture is measured. The zero value is all of it.
type MeasureOptions struct {
	Settings measure.Settings
	From, To time.Duration // capture time; To 0: the capture's end
}

// Measured is what a measurement found.
type Measured struct {
	Log     string // path of the pacing log that was written
	Capture media.Capture
	Summary measure.Summary
}

// LogOf returns where the log of a measured capture is kept: beside the capture, as
// NAME.pacing.csv, or with the capture's ending where that is another capture's.
func LogOf(capture string) string {
	log := comparison.MeasuredLog(capture)
	f, err := scratch.Open(log)
	if err != nil {
		return log
	}
	defer f.Close()
	comments, err := pacing.Comments(f)
	if err != nil || len(comments) < 2 || !strings.HasPrefix(comments[0], byUs) ||
		strings.HasPrefix(comments[1], "capture: "+filepath.Base(capture)+", ") {
		return log
	}
	return comparison.FullMeasuredLog(capture)
}

// Measure works out the pacing of a capture from its pictures and writes it as a
// pacing log, which appears under its name only when it is complete. Memory does
// not grow with the capture. progress is told captured frames done, of how many
// (0: the capture does not say).
func Measure(ctx context.Context, tools *media.Tools, path, log string, o MeasureOptions,
	progress Progress) (m Measured, err error) {
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
	var mark string
	if o.From == 0 && o.To == 0 {
		// Taken before the pictures are read: a capture that changes meanwhile
		// must not pass for the measured one.
		if mark, err = origin(path, o.Settings, &record.Files{}); err != nil {
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
	run := func() (measure.Summary, error) {
		total := m.Capture.Frames
		if o.To > 0 {
			total = m.Capture.FramesIn(o.To) - m.Capture.FrameAt(o.From)
		}
		return measure.Capture(ctx, tools, m.Capture, o.Settings, o.From, o.To, func(f pacing.Frame) error {
			notes = notes || f.Noted()
			buf = pacing.AppendRow(buf[:0], f, true)
			_, err := out.Write(buf)
			return err
		}, func(done int64) {
			if progress != nil {
				progress(done, max(done, total))
			}
		})
	}
	m.Summary, err = run()
	if err == nil && m.Summary.Uneven {
		// Its stamps are not those of the rate that its container names: once more, by
		// the stamps.
		if m.Capture, err = tools.Reread(ctx, path); err == nil && m.Capture.Variable() {
			out.Reset(rows)
			if _, err = rows.Seek(0, io.SeekStart); err == nil {
				err = rows.Truncate(0)
			}
			if err == nil {
				m.Summary, err = run()
			}
		}
	}
	if err == nil {
		err = out.Flush()
	}
	if err != nil {
		return m, err
	}
	if _, err := rows.Seek(0, io.SeekStart); err != nil {
		return m, fmt.Errorf("render: %w", err)
	}
	return m, scratch.Write(log, func(w io.Writer) error { return m.writeLog(w, rows, notes, o, mark) })
}

// byUs begins the first comment line of every log that was measured.
const byUs = "pacing measured from pictures by fairframe "

// ownLog refuses the place of a measured log where something else lies.
func ownLog(log string) error {
	f, err := scratch.Open(log)
	if err != nil && !errors.Is(err, scratch.ErrNotRegular) {
		return nil // none, or one that writing will complain of
	}
	var comments []string
	if err == nil {
		defer f.Close()
		comments, err = pacing.Comments(f)
	}
	if err == nil && len(comments) > 0 && strings.HasPrefix(comments[0], byUs) {
		return nil
	}
	return &finding.Error{Msg: fmt.Sprintf("the log %s would be overwritten, but this program did not write it", log),
		Hint: "choose another name with -o, or move the file"}
}

// madeFrom begins the comment line that says what a log of a whole capture was
// made from, by which a later run knows whether it still holds.
const madeFrom = "made from: "

// origin is that line.
func origin(capture string, s measure.Settings, known *record.Files) (string, error) {
	identity, err := known.Capture(capture)
	if err != nil {
		return "", err
	}
	settings, err := json.Marshal(s)
	if err != nil {
		return "", fmt.Errorf("render: %w", err)
	}
	return madeFrom + identity + " " + string(settings) + " " + record.Version(), nil
}

// writeLog writes the head and then the rows, without their empty last column
// when no row has a note.
func (m *Measured) writeLog(w io.Writer, rows io.Reader, notes bool, o MeasureOptions, mark string) error {
	s := m.Summary
	c := m.Capture
	comments := append([]string{
		byUs + record.Version(),
		fmt.Sprintf("capture: %s, %dx%d, %s", filepath.Base(c.Path), c.Size.X, c.Size.Y, RateText(c)),
		"method: neighbouring pictures compared by rows and cells; noise estimated from the capture " +
			"itself, decided over time",
		fmt.Sprintf("noise: %.3f grey levels between pictures of one frame; motion: %.3f to a new "+
			"frame; between them: %.3f on average", s.Noise, s.Motion, s.Threshold),
		fmt.Sprintf("frames: %d captured, %d new, %d repeated, %d torn, %d doubtful; still for %.3f "+
			"s; at the capture's limit for %.3f s",
			s.Captured, s.New, s.Repeated, s.Torn, s.Doubtful, s.Still.Seconds(), s.Ceiling.Seconds()),
		"tear: the capture row from which a frame was first shown",
	}, o.describe()...)
	if s.LeftOut {
		comments = append(comments, leavesOut)
	}
	if s.Gaps > 0 {
		comments = append(comments,
			fmt.Sprintf("gaps: the recorder dropped %d pictures in %d places, %.3f s in all, in "+
				"which a new frame began; when is not known", s.Dropped, s.Gaps, s.Gap.Seconds()))
	}
	if mark != "" {
		comments = append(comments, mark)
	}
	if _, err := w.Write(pacing.AppendHeader(nil, comments, notes)); err != nil {
		return err
	}
	lines := bufio.NewScanner(rows)
	out := bufio.NewWriterSize(w, 1<<16)
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
func (o MeasureOptions) describe() []string {
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

// measurements keeps captures from being measured twice at once.
type measurements struct {
	mu  sync.Mutex
	one map[string]*sync.Mutex
}

func (m *measurements) lock(path string) (unlock func()) {
	m.mu.Lock()
	if m.one == nil {
		m.one = map[string]*sync.Mutex{}
	}
	l := m.one[path]
	if l == nil {
		l = &sync.Mutex{}
		m.one[path] = l
	}
	m.mu.Unlock()
	l.Lock()
	return l.Unlock
}

// measured returns the path of a capture's measured log. A log that is there is
// used again while the capture and the settings are those it was made from.
func (p *Project) measured(ctx context.Context, c *comparison.Capture) (string, error) {
	defer p.measuring.lock(c.Video)()
	if kept, err := p.keptLog(c); kept || err != nil {
		return c.Pacing.Log, err
	}
	var progress Progress
	if p.Measuring != nil {
		var ended func()
		progress, ended = p.Measuring(c.Key)
		defer ended()
	}
	log := c.Pacing.Log
	_, err := Measure(ctx, p.Tools, c.Video, log, MeasureOptions{Settings: settingsOf(c)}, progress)
	p.identify.Forget(log)
	return log, err
}

func settingsOf(c *comparison.Capture) measure.Settings {
	return measure.Settings{Region: c.Pacing.Region, Ignore: c.Pacing.Ignore, Whole: c.Pacing.Tears == "none"}
}

// keptLog reports whether a capture's measured log is there and still holds. A
// log of that name that this program did not keep there is an error.
func (p *Project) keptLog(c *comparison.Capture) (bool, error) {
	mark, err := origin(c.Video, settingsOf(c), &p.identify)
	if err != nil {
		return false, err
	}
	log := c.Pacing.Log
	f, err := scratch.Open(log)
	if err != nil {
		return false, nil // none, or one that writing will complain of
	}
	comments, err := pacing.Comments(f)
	f.Close()
	if err != nil {
		return false, nil
	}
	kept := false
	for _, line := range comments {
		if line == mark {
			return true, nil
		}
		kept = kept || strings.HasPrefix(line, madeFrom)
	}
	if !kept {
		return false, &finding.Error{Msg: fmt.Sprintf(
			"capture %s: %s would be overwritten, but this program did not write it", c.Key, log),
			Hint: "write its path after pacing: to use it, or move it"}
	}
	return false, nil
}
