package pacing

import (
	"fmt"
	"io"
	"math"
	"time"
)

// Warning is something about a log that its reader should know, told once
// however often it occurs.
type Warning struct {
	File    string
	Problem Problem
	Line    int // the first line concerned, 0 for none
	Count   int // rows or places concerned
	// At is a capture time: where the first gap or overlap begins, or the log's
	// begin or end for BeginsLate and EndsEarly.
	At time.Duration
	// Text says what was found, for people.
	Text string
}

// String returns "file:line: text", or "file: text" without a line.
func (w Warning) String() string {
	if w.Line == 0 {
		return w.File + ": " + w.Text
	}
	return fmt.Sprintf("%s:%d: %s", w.File, w.Line, w.Text)
}

// ReadTrace reads the frames of a log that are on screen at some time in
// [from, to). It stops reading at to, and its memory grows with the frames kept,
// not with the log. The capture's rate may be unknown, unless the log holds
// new-frame flags; begins, if given, says when captured frame n begins, see Scanner.Count.
//
// Bad rows, frames out of order, overlaps and gaps of more than Slack, and a
// log that does not cover [max(from, 0), to) are warnings, each told once; a to
// beyond 70 years asks for all there is. A frame that the next one overlaps is
// cut short, or left out when hardly anything of it remains. It is an error when the log cannot be read, has
// no frame in [from, to), or when more than a tenth of its rows (and more than two) are bad.
//
// Frame times written with few decimals drift when they are added up: 60 times
// 16.7 ms is 1.002 s. When the drift may reach half a refresh by the end of the
// range, a warning says so. If all frame times are, within their rounding,
// whole multiples of the capture's refresh, they are set to these multiples.
func ReadTrace(r io.Reader, name string, f Format, capture Rate,
	from, to time.Duration, begins ...func(n int64) time.Duration) (*Trace, []Warning, error) {
	if from >= to {
		return nil, nil, fmt.Errorf("pacing: no time from %v to %v", from, to)
	}
	from, to = max(from, -maxTime), min(to, maxTime)
	s := NewScanner(r, name, f, capture)
	for _, b := range begins {
		s.Count(b)
	}
	c := collector{name: name, from: from, to: to}
	var snap *snapper
	if f.Means == FrameTime && capture.Valid() {
		snap = &snapper{capture: capture, starts: f.Starts, from: from, to: to}
	}
	var firstBad error
	var rows, bad int
	for s.Scan() {
		rec := s.Record()
		rows++
		if rec.Err != nil {
			bad++
			if firstBad == nil {
				firstBad = rec.Err
			}
			c.badRow(rec.Err.(*RowError), f.Means)
		} else {
			if !c.add(rec.Frame, rec.Line) {
				bad++
				if firstBad == nil {
					firstBad = &RowError{File: name, Line: rec.Line, Problem: Backwards,
						Found: fmt.Sprintf("time %v is not after %v", rec.Frame.Begin, c.last.Begin)}
				}
			}
			if snap != nil && !snap.add(rec.Frame.Time, s.finest) {
				snap = nil
			}
		}
		if bad > 1000 && bad > rows/10 {
			break // it will not get better
		}
		if c.beyond && (snap == nil || snap.beyond) {
			break
		}
	}
	if err := s.Err(); err != nil {
		return nil, c.warnings, err
	}
	if bad > 2 && bad > rows/10 {
		return nil, c.warnings, fmt.Errorf("%w (and %d more of %d rows are bad)", firstBad, bad-1, rows)
	}
	if c.rows == 0 {
		return nil, c.warnings, fmt.Errorf("%s: holds no frames", name)
	}
	if f.Means == FrameTime {
		c.settle(snap, s.finest, capture)
	}
	if len(c.frames) == 0 {
		what := fmt.Sprintf("covers %v to %v", seconds(c.begin), seconds(c.last.End()))
		if c.beyond { // the log was not read to its end
			what = fmt.Sprintf("goes on at %v", seconds(c.last.Begin))
		}
		return nil, c.warnings, fmt.Errorf("%s: %s, and has nothing from %v to %v",
			name, what, seconds(from), seconds(to))
	}
	c.judge()
	return newTrace(c.frames), c.warnings, nil
}

// TraceOf is ReadTrace for frames that no log holds; name stands for the log's in
// warnings. Times are rounded to the nanosecond already, as a log keeps them.
func TraceOf(name string, frames []Frame, from, to time.Duration) (*Trace, []Warning, error) {
	c := collector{name: name, from: from, to: to}
	for _, f := range frames {
		if c.add(f, 0); c.beyond {
			break
		}
	}
	if len(c.frames) == 0 {
		return nil, c.warnings, fmt.Errorf("%s: has nothing from %v to %v", name, seconds(from), seconds(to))
	}
	c.judge()
	return newTrace(c.frames), c.warnings, nil
}

// collector keeps the frames of a range, in order, and what is wrong with them.
type collector struct {
	name     string
	from, to time.Duration
	frames   []Frame
	warnings []Warning
	rows     int           // frames read
	begin    time.Duration // of the first frame
	last     Frame         // the latest frame in order
	beyond   bool          // the range has been read
}

// warn tells of a problem, the first time with a text, then by counting.
func (c *collector) warn(p Problem, line int, at time.Duration, format string, a ...any) {
	for i := range c.warnings {
		if c.warnings[i].Problem == p {
			c.warnings[i].Count++
			return
		}
	}
	c.warnings = append(c.warnings,
		Warning{File: c.name, Problem: p, Line: line, Count: 1, At: at, Text: fmt.Sprintf(format, a...)})
}

func (c *collector) badRow(e *RowError, m Meaning) {
	text := e.Found
	if m == FrameTime {
		text += "; without it, all later frames begin too early"
	}
	c.warn(e.Problem, e.Line, 0, "%s", text)
}

// add takes in a frame, and returns false when it is out of order.
func (c *collector) add(f Frame, line int) bool {
	if c.rows > 0 && f.Begin <= c.last.Begin {
		c.warn(Backwards, line, f.Begin, "time %v is not after %v", seconds(f.Begin), seconds(c.last.Begin))
		return false
	}
	if f.Begin >= c.to {
		c.beyond = true
	}
	if c.rows == 0 {
		c.begin = f.Begin
	} else if d := f.Begin - c.last.End(); d < -Slack {
		if f.Begin > c.from {
			c.warn(Overlap, line, f.Begin, "frame begins at %v, before the one before it has ended (%v)",
				seconds(f.Begin), seconds(c.last.End()))
		}
		c.last.Time = f.Begin - c.last.Begin
		if n := len(c.frames); n > 0 && c.frames[n-1].Begin == c.last.Begin {
			c.frames[n-1].Time = c.last.Time
			if c.frames[n-1].End() <= c.from || c.last.Time < minFrameTime {
				c.frames = c.frames[:n-1]
			}
		}
	} else if d > Slack && f.Begin > c.from && c.last.End() < c.to {
		c.warn(Gap, line, c.last.End(), "nothing is known from %v to %v",
			seconds(c.last.End()), seconds(f.Begin))
	}
	c.rows++
	c.last = f
	if f.Begin < c.to && f.End() > c.from {
		c.frames = append(c.frames, f)
	}
	return true
}

// judge adds the warnings that need the whole range, and completes the texts.
func (c *collector) judge() {
	for i := range c.warnings {
		if w := &c.warnings[i]; w.Count > 1 {
			w.Text += fmt.Sprintf(" (and %d more)", w.Count-1)
		}
	}
	if begin := c.frames[0].Begin; begin == c.begin && begin > max(c.from, 0)+Slack {
		c.warn(BeginsLate, 0, begin, "begins at %v, after %v", seconds(begin), seconds(max(c.from, 0)))
	}
	if end := c.frames[len(c.frames)-1].End(); !c.beyond && end < c.to-Slack && c.to < maxTime {
		c.warn(EndsEarly, 0, end, "ends at %v, before %v", seconds(end), seconds(c.to))
	}
	var sum time.Duration
	n := 0
	for _, f := range c.frames {
		if f.Kind == Normal && sum < maxTime {
			sum += f.Time
			n++
		}
	}
	if n > 0 {
		if mean := sum / time.Duration(n); mean > 2*time.Second || mean < 500*time.Microsecond {
			c.warn(WrongUnit, 0, 0, "frames last %v on average: is the unit right?", mean)
		}
	}
}

// settle warns of frame times that drift, and replaces them if snap holds better
// ones.
func (c *collector) settle(snap *snapper, finest int, capture Rate) {
	half := (c.last.End() - c.begin) / time.Duration(2*c.rows) // of the mean frame time
	if capture.Valid() {
		half = capture.TimeOf(1) / 2
	}
	step := resolution(finest)
	drift := float64(c.rows) * float64(step) / 2
	if drift < float64(half) {
		return
	}
	text := fmt.Sprintf("frame times are written to %v only: added up over %d frames they may be off by %v",
		step, c.rows, time.Duration(min(drift, float64(maxTime))).Round(100*time.Microsecond))
	if snap != nil && snap.fits(step) {
		c.frames, c.begin, c.last, c.beyond = snap.frames, snap.starts, snap.last, snap.beyond
		text += fmt.Sprintf("; all are whole multiples of the refresh at %v Hz within that rounding, "+
			"and were set to these", capture)
	}
	c.warn(Coarse, 0, 0, "%s", text)
}

// resolution returns 10^last ns, at least 1 ns: the step of numbers so written.
func resolution(last int) time.Duration {
	return time.Duration(pow10[min(max(last, 0), 18)])
}

// snapper takes frame times for whole multiples of the refresh, as long as the
// rounding of the log allows.
type snapper struct {
	capture  Rate
	starts   time.Duration
	from, to time.Duration
	frames   []Frame
	refresh  int64
	worst    time.Duration // largest distance from a multiple
	last     Frame
	beyond   bool
}

// add takes in a frame time, and returns false when it is no multiple.
func (s *snapper) add(d time.Duration, finest int) bool {
	k := int64(math.Round(d.Seconds() * s.capture.Hz()))
	if k < 1 {
		return false
	}
	s.worst = max(s.worst, (d - s.capture.TimeOf(k)).Abs())
	if !s.fits(resolution(finest)) {
		return false
	}
	begin := s.capture.TimeOf(s.refresh)
	s.refresh += k
	f := Frame{Begin: s.starts + begin, Time: s.capture.TimeOf(s.refresh) - begin}
	s.last = f
	if f.Begin >= s.to {
		s.beyond = true
	} else if f.End() > s.from {
		s.frames = append(s.frames, f)
	}
	return true
}

// fits reports whether all frame times were multiples as far as their rounding to
// step allows, and so fine that this is no accident: at 60 Hz whole ms will do.
func (s *snapper) fits(step time.Duration) bool {
	return s.worst <= step/2+1 && step <= s.capture.TimeOf(1)/16
}

// seconds formats a time for messages: "12.345 s".
func seconds(t time.Duration) string { return fmt.Sprintf("%.3f s", t.Seconds()) }
