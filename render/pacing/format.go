package pacing

import (
	"fmt"
	"strings"
	"time"
)

// Columns of the tool's own logs.
const (
	TimeColumn      = "time_s"
	FrameTimeColumn = "frame_time_ms"
)

// Format says how to read a pacing log: any delimited text with a header line.
// The zero value is the tool's own log, whose columns are
//
//	time_s         when the frame appeared, capture time in s
//	frame_time_ms  how long it stayed, in ms
//	tear           optional: capture row from which it was first shown; 0 or
//	               empty: not torn
//	note           optional: words; "still", "doubtful" and "ceiling" set
//	               Frame.Kind, Doubtful and Ceiling, others are free remarks
type Format struct {
	// Column names the one column that counts; empty for the tool's own log.
	Column string
	// Means says what the column's values are.
	Means Meaning
	// Unit is the values' unit; zero stands for ms when Means is FrameTime and
	// for s when it is TimeStamp. NewFrame has none.
	Unit Unit
	// Starts is the capture time of the log's own zero: where the first row of
	// frame times or of new-frame flags begins, and what is added to time
	// stamps.
	Starts time.Duration
}

// Meaning says what the values in a log's column are.
type Meaning uint8

const (
	// FrameTime: how long each frame stayed. Frames follow each other without
	// gaps from Format.Starts on.
	FrameTime Meaning = iota + 1
	// TimeStamp: when each frame appeared. A frame lasts until the next one;
	// when the last one ended is not known, so it is left out.
	TimeStamp
	// NewFrame: a row for each captured frame, 1 where it showed a new frame of
	// the game and 0 where it repeated the one before. The game's frames at both
	// ends are doubtful, because they may reach beyond the capture.
	NewFrame
)

var meaningNames = [...]string{FrameTime: "frame-time", TimeStamp: "time-stamp", NewFrame: "new-frame"}

// String returns the meaning's name, as ParseMeaning reads it.
func (m Meaning) String() string {
	if m >= FrameTime && int(m) < len(meaningNames) {
		return meaningNames[m]
	}
	return fmt.Sprintf("Meaning(%d)", uint8(m))
}

// ParseMeaning reads "frame-time", "time-stamp" or "new-frame".
func ParseMeaning(s string) (Meaning, error) {
	for m := FrameTime; int(m) < len(meaningNames); m++ {
		if s == meaningNames[m] {
			return m, nil
		}
	}
	return 0, unknownName("meaning", s, meaningNames[FrameTime:])
}

// Unit is a unit of time in a log.
type Unit uint8

// The units of time, by their SI symbols.
const (
	Seconds      Unit = iota + 1 // s
	Milliseconds                 // ms
	Microseconds                 // us
	Nanoseconds                  // ns
)

var unitNames = [...]string{Seconds: "s", Milliseconds: "ms", Microseconds: "us", Nanoseconds: "ns"}

// String returns the unit's symbol, as ParseUnit reads it.
func (u Unit) String() string {
	if u >= Seconds && int(u) < len(unitNames) {
		return unitNames[u]
	}
	return fmt.Sprintf("Unit(%d)", uint8(u))
}

// ParseUnit reads "s", "ms", "us" or "ns"; "µs" is taken for "us".
func ParseUnit(s string) (Unit, error) {
	if s == "\u00b5s" || s == "\u03bcs" { // micro sign; Greek mu
		return Microseconds, nil
	}
	for u := Seconds; int(u) < len(unitNames); u++ {
		if s == unitNames[u] {
			return u, nil
		}
	}
	return 0, unknownName("unit", s, unitNames[Seconds:])
}

// exponent returns the power of ten that turns the unit into ns.
func (u Unit) exponent() int { return 3 * int(Nanoseconds-u) }

// complete returns the format with its defaults filled in.
func (f Format) complete() (Format, error) {
	if f.Starts < -maxTime || f.Starts > maxTime {
		return f, fmt.Errorf("pacing: log starts at %v, which is out of range", f.Starts)
	}
	if f.Column == "" {
		if f.Means != 0 || f.Unit != 0 {
			return f, fmt.Errorf("pacing: format has a meaning or a unit, but names no column")
		}
		return f, nil
	}
	switch f.Means {
	case FrameTime:
		if f.Unit == 0 {
			f.Unit = Milliseconds
		}
	case TimeStamp:
		if f.Unit == 0 {
			f.Unit = Seconds
		}
	case NewFrame:
		if f.Unit != 0 {
			return f, fmt.Errorf("pacing: new-frame flags have no unit (%v)", f.Unit)
		}
		return f, nil
	case 0:
		return f, fmt.Errorf("pacing: format does not say what column %q means: %s",
			f.Column, strings.Join(meaningNames[FrameTime:], ", "))
	default:
		return f, fmt.Errorf("pacing: format has an unknown meaning (%v)", f.Means)
	}
	if f.Unit > Nanoseconds {
		return f, fmt.Errorf("pacing: format has an unknown unit (%v)", f.Unit)
	}
	return f, nil
}

// unknownName is the error for s where one of valid was due.
func unknownName(what, s string, valid []string) error {
	hint := ""
	if near := nearest(s, valid); near != "" {
		hint = fmt.Sprintf("; did you mean %q?", near)
	}
	return fmt.Errorf("pacing: unknown %s %q, valid are %s%s", what, s, strings.Join(valid, ", "), hint)
}

// nearest returns the name that s was probably meant to be, or "".
func nearest(s string, names []string) string {
	best, least := "", len(s)/3+2
	for _, n := range names {
		if d := distance(strings.ToLower(s), strings.ToLower(n)); d < least {
			best, least = n, d
		}
	}
	if best == "" {
		// "ms" for "frame_ms": part of a name, too far for counting letters.
		for _, n := range names {
			if s != "" && n != "" && (strings.Contains(strings.ToLower(n), strings.ToLower(s)) ||
				strings.Contains(strings.ToLower(s), strings.ToLower(n))) {
				return n
			}
		}
	}
	return best
}

// distance returns how many letters must be put in, left out or changed to
// turn a into b (Levenshtein 1966).
func distance(a, b string) int {
	if len(a) > 200 || len(b) > 200 { // the cost is their product
		return max(len(a), len(b))
	}
	ra, rb := []rune(a), []rune(b)
	row := make([]int, len(rb)+1)
	for j := range row {
		row[j] = j
	}
	for i := range ra {
		diagonal := row[0]
		row[0] = i + 1
		for j := range rb {
			cost := diagonal
			if ra[i] != rb[j] {
				cost++
			}
			diagonal = row[j+1]
			row[j+1] = min(cost, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(rb)]
}
