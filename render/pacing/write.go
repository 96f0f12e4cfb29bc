package pacing

import (
	"bufio"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"
)

// WriteLog writes frames as the tool's own log, which ReadTrace reads back to
// the nanosecond. The comments come first, as lines that begin with "#"; the
// column note is written only if a frame has one.
func WriteLog(w io.Writer, comments []string, frames []Frame) error {
	notes := false
	for _, f := range frames {
		notes = notes || f.Noted()
	}
	out := bufio.NewWriter(w)
	out.Write(AppendHeader(nil, comments, notes))
	var b []byte
	for _, f := range frames {
		b = AppendRow(b[:0], f, notes)
		out.Write(b)
	}
	if err := out.Flush(); err != nil { // bufio keeps the first error
		return fmt.Errorf("pacing: write log: %w", err)
	}
	return nil
}

// Noted reports whether a frame has something to say in the column note.
func (f Frame) Noted() bool { return len(f.notes()) > 0 }

// The words of the column note that have a meaning.
const (
	noteStill    = "still"
	noteDoubtful = "doubtful"
	noteCeiling  = "ceiling"
)

// notes are the words that the column note says of a frame.
func (f Frame) notes() (words []string) {
	if f.Kind == Still {
		words = append(words, noteStill)
	}
	if f.Doubtful {
		words = append(words, noteDoubtful)
	}
	if f.Ceiling {
		words = append(words, noteCeiling)
	}
	return words
}

// AppendHeader appends the beginning of the tool's own log: the comments and
// the line that names the columns, with or without the column note. Together
// with AppendRow it serves logs that are too long to be held in memory.
func AppendHeader(b []byte, comments []string, notes bool) []byte {
	for _, c := range comments {
		for _, line := range strings.FieldsFunc(c, func(r rune) bool { return r == '\n' || r == '\r' }) {
			b = fmt.Appendf(b, "# %s\n", line)
		}
	}
	b = append(b, "time_s,frame_time_ms,tear"...)
	if notes {
		b = append(b, ",note"...)
	}
	return append(b, '\n')
}

// AppendRow appends a frame's row of the tool's own log.
func AppendRow(b []byte, f Frame, notes bool) []byte {
	b = appendDecimal(b, f.Begin, 9)
	b = append(b, ',')
	b = appendDecimal(b, f.Time, 6)
	b = append(b, ',')
	b = strconv.AppendInt(b, int64(f.Tear), 10)
	if notes {
		b = append(b, ',')
		b = append(b, strings.Join(f.notes(), " ")...)
	}
	return append(b, '\n')
}

// appendDecimal appends d in units of 10^decimals ns, with that many decimals.
func appendDecimal(b []byte, d time.Duration, decimals int) []byte {
	u := uint64(d)
	if d < 0 {
		b = append(b, '-')
		u = -u
	}
	unit := pow10[decimals]
	b = strconv.AppendUint(b, u/unit, 10)
	b = append(b, '.')
	fraction := strconv.AppendUint(nil, unit+u%unit, 10) // a leading 1 keeps the zeros
	return append(b, fraction[1:]...)
}
