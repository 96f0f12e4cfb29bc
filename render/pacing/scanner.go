package pacing

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"time"
)

// Limits of a believable frame time. What lies beyond is a mistake of the log,
// such as a wrong unit or a counter that wrapped.
const (
	minFrameTime = 20 * time.Microsecond // 50 000 fps
	maxFrameTime = 10 * time.Minute
	maxStillTime = 24 * time.Hour
)

// maxLine bounds the memory for a line: a file without line ends is no log.
const maxLine = 1 << 16

// maxTear bounds a tear's row; no picture has more.
const maxTear = 1 << 16

// Problem names what is wrong with a row, or with a log.
type Problem uint8

// The problems of a row come first, those of a log after them.
const (
	Unreadable  Problem = iota + 1 // not a number, a field missing, quotes that do not pair up
	NotPositive                    // a frame time of 0 or less
	Absurd                         // a frame time or a time that no capture has
	Backwards                      // begins no later than the frame before
	Overlap                        // begins before the frame before has ended
	Gap                            // time that no row covers
	Coarse                         // rounded so coarsely that the times drift
	BeginsLate                     // begins after the time asked for
	EndsEarly                      // ends before the time asked for
	WrongUnit                      // readable, but not believable
)

// RowError is a bad row of a log.
type RowError struct {
	File    string
	Line    int // the first line is 1
	Problem Problem
	Found   string // what is wrong, with the text that was found
}

// Error returns "file:line: what was found".
func (e *RowError) Error() string { return fmt.Sprintf("%s:%d: %s", e.File, e.Line, e.Found) }

// Record is one row of a log, or what it takes several rows to know.
type Record struct {
	// Frame is valid when Err is nil.
	Frame Frame
	// Line is where the frame or the bad row stands; the first line is 1.
	Line int
	// Err is a *RowError for a bad row, which does not end the log.
	Err error
}

// A Scanner reads a pacing log as a stream of records, in constant memory. It
// serves one goroutine. Records come in the order of the log; the tool's own
// logs are not checked for order, see ReadTrace.
type Scanner struct {
	in     *bufio.Reader
	name   string
	format Format
	begins func(n int64) time.Duration // NewFrame: when captured frame n does
	head   *header
	column [4]int // indices of the columns, -1: absent; the counting one is the first
	fields [][]byte
	line   int
	rec    Record
	err    error
	done   bool

	clock   time.Duration // FrameTime: when the next row begins
	finest  int           // FrameTime: smallest power of ten of ns that was written
	row     int64         // NewFrame: captured frames so far
	last    time.Duration // TimeStamp: the latest good stamp
	some    bool          // TimeStamp: there was a good stamp
	pending Record        // TimeStamp, NewFrame: the frame whose end is not known yet
	waiting bool          // there is such a frame
}

// preamble is how many lines may stand before a log's header.
const preamble = 100

const (
	ownTime = iota
	ownFrameTime
	ownTear
	ownNote
)

// NewScanner returns a scanner over the log in r; name stands for it in errors.
// The rate of the capture counts for logs of new-frame flags only.
func NewScanner(r io.Reader, name string, f Format, capture Rate) *Scanner {
	s := &Scanner{in: bufio.NewReaderSize(r, maxLine), name: name, begins: capture.TimeOf, finest: 18}
	s.format, s.err = f.complete()
	if s.err == nil && s.format.Means == NewFrame && !capture.Valid() {
		s.err = fmt.Errorf("pacing: %s holds new-frame flags, but the capture's rate is unknown", name)
	}
	s.clock = s.format.Starts
	return s
}

// Count says when captured frame n begins, for captures whose frames do not follow each
// other at one rate. It counts for logs of new-frame flags only.
func (s *Scanner) Count(begins func(n int64) time.Duration) { s.begins = begins }

// Record returns what the last call of Scan found.
func (s *Scanner) Record() Record { return s.rec }

// Err returns why the scan stopped, nil at the end of the log. Bad rows are not
// errors of the scan.
func (s *Scanner) Err() error { return s.err }

// Scan reads on to the next record, and reports whether there is one.
func (s *Scanner) Scan() bool {
	s.rec = Record{}
	if s.err != nil || s.done {
		return false
	}
	if s.head == nil {
		if s.err = s.readHeader(); s.err != nil {
			return false
		}
	}
	for {
		line, err := s.next()
		switch {
		case err == io.EOF:
			s.done = true
			return s.finish()
		case err == errLongLine:
			s.forget()
			s.bad(Unreadable, "is longer than %d bytes", maxLine)
			return true
		case err != nil:
			s.err = fmt.Errorf("%s:%d: %w", s.name, s.line, err)
			return false
		}
		if s.parse(line) {
			return true
		}
	}
}

var errLongLine = errors.New("line is too long")

// next returns the next line that is neither blank nor a comment, without its
// end. It is valid until the next call.
func (s *Scanner) next() ([]byte, error) {
	for {
		line, err := s.in.ReadSlice('\n')
		if len(line) > 0 {
			s.line++
		}
		if err == bufio.ErrBufferFull {
			for err == bufio.ErrBufferFull {
				_, err = s.in.ReadSlice('\n')
			}
			if err == nil || err == io.EOF {
				err = errLongLine
			}
			return nil, err
		}
		if err != nil && (err != io.EOF || len(line) == 0) {
			return nil, err
		}
		if s.line == 1 {
			line = bytes.TrimPrefix(line, []byte("\ufeff"))
		}
		line = bytes.TrimRight(line, "\r\n")
		if len(line) > 0 && line[0] != '#' && len(bytes.TrimSpace(line)) > 0 {
			return line, nil
		}
	}
}

func (s *Scanner) readHeader() error {
	line, err := s.next()
	switch {
	case err == io.EOF:
		return fmt.Errorf("%s: is empty: a log needs a header line", s.name)
	case err != nil:
		return fmt.Errorf("%s:%d: header: %w", s.name, s.line, err)
	case bytes.HasPrefix(line, []byte{0xff, 0xfe}) || bytes.HasPrefix(line, []byte{0xfe, 0xff}):
		return fmt.Errorf("%s: is in UTF-16: save it as UTF-8", s.name)
	}
	wanted, optional := []string{s.format.Column}, []string(nil)
	if s.format.Column == "" {
		wanted, optional = []string{TimeColumn, FrameTimeColumn}, []string{"tear", "note"}
	}
	head, err := readHeader(line, wanted, optional)
	for at, tries := s.line, 0; err != nil; tries++ {
		// Recorders write lines of their own before the header.
		line, none := s.next()
		if none != nil || tries == preamble {
			return fmt.Errorf("%s:%d: %w", s.name, at, err)
		}
		if later, missing := readHeader(line, wanted, optional); missing == nil {
			head, err = later, nil
		}
	}
	for i, name := range append(wanted, optional...) {
		at, ok := head.index[name]
		if !ok {
			at = -1
		}
		s.column[i] = at
	}
	// Optional fields may be missing at the end of a row, but must be looked for.
	s.head = head
	return nil
}

// field returns the field of the n-th column, and false when the row has none.
func (s *Scanner) field(n int) ([]byte, bool) {
	i := s.column[n]
	if i < 0 || i >= len(s.fields) {
		return nil, false
	}
	return s.fields[i], true
}

// parse takes in one row, and reports whether that makes a record.
func (s *Scanner) parse(line []byte) bool {
	var err error
	s.fields, err = s.head.split(s.fields[:0], line)
	if err != nil {
		s.forget()
		return s.bad(Unreadable, "%v: %.60q", err, line)
	}
	switch s.format.Means {
	case FrameTime:
		return s.parseFrameTime()
	case TimeStamp:
		return s.parseTimeStamp()
	case NewFrame:
		return s.parseNewFrame()
	}
	return s.parseOwn()
}

// bad makes the record a bad row.
func (s *Scanner) bad(p Problem, format string, a ...any) bool {
	s.rec = Record{Line: s.line,
		Err: &RowError{File: s.name, Line: s.line, Problem: p, Found: fmt.Sprintf(format, a...)}}
	return true
}

// number reads the field of the n-th column as a time; if it cannot, the record
// is a bad row.
func (s *Scanner) number(n, exponent int, column string) (d time.Duration, last int, ok bool) {
	b, ok := s.field(n)
	if !ok {
		s.bad(Unreadable, "has %d fields, column %q is number %d", len(s.fields), column, s.column[n]+1)
		return 0, 0, false
	}
	d, last, fault := parseTime(b, exponent)
	switch fault {
	case notNumber:
		s.bad(Unreadable, "%s %.40q is not a number", column, b)
	case outOfRange:
		s.bad(Absurd, "%s %.40q is out of range", column, b)
	}
	return d, last, fault == parsed
}

// believable checks a frame time; if it fails, the record is a bad row.
func (s *Scanner) believable(d, longest time.Duration) bool {
	switch {
	case d <= 0:
		s.bad(NotPositive, "frame time %v is not above 0", d)
	case d < minFrameTime || d > longest:
		s.bad(Absurd, "frame time %v is not between %v and %v", d, minFrameTime, longest)
	default:
		return true
	}
	return false
}

func (s *Scanner) parseFrameTime() bool {
	d, last, ok := s.number(0, s.format.Unit.exponent(), s.format.Column)
	if !ok || !s.believable(d, maxFrameTime) {
		return true
	}
	s.finest = min(s.finest, last)
	if s.clock > maxTime {
		return s.bad(Absurd, "time %v is out of range", s.clock)
	}
	s.rec = Record{Frame: Frame{Begin: s.clock, Time: d}, Line: s.line}
	s.clock += d
	return true
}

func (s *Scanner) parseTimeStamp() bool {
	t, _, ok := s.number(0, s.format.Unit.exponent(), s.format.Column)
	if !ok {
		s.forget()
		return true
	}
	t += s.format.Starts
	if s.some && t <= s.last {
		return s.bad(Backwards, "time %v is not after %v", t, s.last)
	}
	before, was := s.pending, s.waiting
	s.last, s.some = t, true
	s.pending, s.waiting = Record{Frame: Frame{Begin: t}, Line: s.line}, true
	if !was {
		return false
	}
	before.Frame.Time = t - before.Frame.Begin
	if !s.believable(before.Frame.Time, maxFrameTime) {
		return true
	}
	s.rec = before
	return true
}

func (s *Scanner) parseNewFrame() bool {
	b, ok := s.field(0)
	b = bytes.TrimSpace(b)
	at := s.row
	s.row++
	switch {
	case ok && len(b) == 1 && b[0] == '0':
		if !s.waiting {
			s.pending, s.waiting = Record{Frame: Frame{Begin: s.format.Starts + s.begins(at),
				Doubtful: true}, Line: s.line}, true
		}
		return false
	case ok && len(b) == 1 && b[0] == '1':
		// Starts is added after rounding, so that it shifts the log as a whole.
		before, was := s.pending, s.waiting
		begin := s.format.Starts + s.begins(at)
		s.pending, s.waiting = Record{Frame: Frame{Begin: begin, Doubtful: at == 0}, Line: s.line}, true
		if !was {
			return false
		}
		before.Frame.Time = begin - before.Frame.Begin
		s.rec = before
		return true
	case !ok:
		s.bad(Unreadable, "has %d fields, column %q is number %d",
			len(s.fields), s.format.Column, s.column[0]+1)
	default:
		s.bad(Unreadable, "%s %.40q is neither 0 nor 1", s.format.Column, b)
	}
	// The row may have begun a frame: the pending one may be two.
	s.pending.Frame.Doubtful = true
	return true
}

// forget drops the frame whose end a bad row hides: to stretch it to the next
// good stamp would make up a hitch.
func (s *Scanner) forget() {
	switch s.format.Means {
	case TimeStamp:
		s.waiting = false
	case NewFrame: // the row still stood for a captured frame
		s.row++
		s.pending.Frame.Doubtful = true
	}
}

// finish makes a record of what was pending at the end of the log.
func (s *Scanner) finish() bool {
	if s.format.Means != NewFrame || !s.waiting {
		return false
	}
	s.rec = s.pending
	s.rec.Frame.Time = s.format.Starts + s.begins(s.row) - s.rec.Frame.Begin
	s.rec.Frame.Doubtful = true
	return s.rec.Frame.Time > 0
}

func (s *Scanner) parseOwn() bool {
	t, _, ok := s.number(ownTime, Seconds.exponent(), TimeColumn)
	if !ok {
		return true
	}
	d, _, ok := s.number(ownFrameTime, Milliseconds.exponent(), FrameTimeColumn)
	if !ok {
		return true
	}
	f := Frame{Begin: t + s.format.Starts, Time: d}
	if b, ok := s.field(ownTear); ok {
		if b = bytes.TrimSpace(b); len(b) > 0 {
			if f.Tear, ok = smallInt(b); !ok {
				return s.bad(Unreadable, "tear %.40q is not a row", b)
			}
		}
	}
	if b, ok := s.field(ownNote); ok && len(b) > 0 {
		for word := range bytes.FieldsSeq(b) {
			switch string(word) {
			case noteStill:
				f.Kind = Still
			case noteDoubtful:
				f.Doubtful = true
			case noteCeiling:
				f.Ceiling = true
			}
		}
	}
	longest := time.Duration(maxFrameTime)
	if f.Kind == Still {
		longest = maxStillTime
	}
	if !s.believable(d, longest) {
		return true
	}
	if f.Begin < -maxTime || f.Begin > maxTime {
		return s.bad(Absurd, "time %v is out of range", f.Begin)
	}
	s.rec = Record{Frame: f, Line: s.line}
	return true
}

// smallInt reads a row number.
func smallInt(b []byte) (n int, ok bool) {
	if len(b) > 5 {
		return 0, false
	}
	for _, c := range b {
		if c < '0' || c > '9' {
			return 0, false
		}
		n = n*10 + int(c-'0')
	}
	return n, n <= maxTear
}
