package pacing

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
)

// Guess is what a log seems to hold.
type Guess struct {
	Line    int      // of the header; 0: none was found
	Columns []string // its columns
	Format  Format   // how a column that seems to hold pacing reads; without a Column none does
}

// Mapping writes the guess as a comparison file has it, "" without one.
func (g Guess) Mapping(file string) string {
	f := g.Format
	if f.Column == "" {
		return ""
	}
	s := fmt.Sprintf("{file: %s, column: %q, means: %v", file, f.Column, f.Means)
	if f.Unit != 0 {
		s += fmt.Sprintf(", unit: %v", f.Unit)
	}
	return s + "}"
}

// GuessFormat looks at the beginning of a log of unknown columns: which line is its
// header, and which column reads as stamps that rise, as frame times, or as flags
// of new frames. It is for hints, not for reading by.
func GuessFormat(r io.Reader) (Guess, error) {
	const rows = 200
	var lines [][]byte
	var numbers []int
	in := bufio.NewReaderSize(io.LimitReader(r, 1<<20), maxLine)
	for n := 1; len(lines) < preamble+rows; n++ {
		line, err := in.ReadBytes('\n')
		if t := bytes.TrimSpace(bytes.TrimPrefix(line, []byte("\ufeff"))); len(t) > 0 && t[0] != '#' {
			lines, numbers = append(lines, bytes.Clone(t)), append(numbers, n)
		}
		if err == io.EOF {
			break
		}
		if err != nil {
			return Guess{}, err
		}
	}
	for i := 0; i+2 < len(lines) && i <= preamble; i++ {
		for _, d := range []byte(delimiters) {
			h := &header{delimiter: d}
			names := fieldsOf(h, lines[i])
			if !slices.ContainsFunc(fieldsOf(h, lines[i+1]), numeric) ||
				slices.ContainsFunc(names, func(s string) bool { return s == "" || numeric(s) }) {
				continue
			}
			if g, ok := guessColumns(h, names, lines[i+1:]); ok {
				g.Line = numbers[i]
				return g, nil
			}
		}
	}
	return Guess{}, nil
}

func fieldsOf(h *header, line []byte) (list []string) {
	fields, err := h.split(nil, line)
	if err != nil {
		return nil
	}
	for _, f := range fields {
		list = append(list, string(bytes.TrimSpace(f)))
	}
	return list
}

func numeric(s string) bool {
	_, err := strconv.ParseFloat(s, 64)
	return err == nil
}

// guessColumns reports whether rows below a header have as many fields, and numbers
// among them, and picks the column that reads best: flags and frame times come before
// stamps, which other things than frames have too.
func guessColumns(h *header, names []string, lines [][]byte) (g Guess, ok bool) {
	values := make([][]float64, len(names))
	for _, line := range lines {
		fields := fieldsOf(h, line)
		if len(fields) != len(names) {
			continue
		}
		for i, f := range fields {
			if v, err := strconv.ParseFloat(f, 64); err == nil {
				values[i] = append(values[i], v)
			}
		}
	}
	g.Columns = names
	for _, means := range []Meaning{NewFrame, FrameTime, TimeStamp} {
		for i, list := range values {
			ok = ok || len(list) >= 2
			if f, fits := readsAs(means, list); fits && g.Format.Column == "" {
				f.Column = names[i]
				g.Format = f
			}
		}
	}
	return g, ok
}

// readsAs reports whether values read as one meaning, in the unit that makes
// frames of them.
func readsAs(means Meaning, list []float64) (f Format, ok bool) {
	if len(list) < 2 {
		return f, false
	}
	f.Means = means
	steps := slices.Clone(list)
	switch means {
	case NewFrame:
		ones := 0
		for _, v := range list {
			if v != 0 && v != 1 {
				return f, false
			}
			ones += int(v)
		}
		return f, ones > 0 && len(list) >= 8
	case TimeStamp:
		for i := 1; i < len(list); i++ {
			if steps[i-1] = list[i] - list[i-1]; steps[i-1] <= 0 {
				return f, false
			}
		}
		steps = steps[:len(list)-1]
		if steps[0] == 1 && slices.Min(steps) == 1 && slices.Max(steps) == 1 {
			return f, false // a count
		}
	default:
		if slices.Min(list) <= 0 || rising(list) {
			return f, false
		}
	}
	slices.Sort(steps)
	f.Unit = unitOf(steps[len(steps)/2])
	return f, f.Unit != 0
}

// rising reports whether each value is above the one before, as stamps and counts are.
func rising(list []float64) bool {
	for i, v := range list[1:] {
		if v <= list[i] {
			return false
		}
	}
	return true
}

// unitOf returns the unit in which a number is a frame time between 1 ms and 1 s;
// 0: in none.
func unitOf(v float64) Unit {
	for u := Seconds; u <= Nanoseconds; u++ {
		if ns := v * math.Pow10(u.exponent()); ns >= 1e6 && ns < 1e9 {
			return u
		}
	}
	return 0
}

// WrongFactor returns by which power of a thousand the frame times of a log are too
// long (above 1) or too short, and the unit that mends it; ok is false where they
// are as long as frames are. It reads the beginning of the log.
func WrongFactor(r io.Reader, f Format) (factor float64, unit Unit, ok bool) {
	f, err := f.complete()
	if err != nil || f.Unit == 0 {
		return 0, 0, false
	}
	read := f
	read.Unit = Seconds // no number is too small for it, few are too large
	if f.Means == FrameTime {
		read.Means = TimeStamp // which lets any value pass; they are not used as stamps
	}
	s := NewScanner(r, "", read, Rate{})
	if s.readHeader() != nil {
		return 0, 0, false
	}
	var list []float64
	for len(list) < 2000 {
		line, err := s.next()
		if err != nil {
			break
		}
		fields := fieldsOf(s.head, line)
		if i := s.column[0]; i < len(fields) {
			if v, err := strconv.ParseFloat(fields[i], 64); err == nil {
				list = append(list, v)
			}
		}
	}
	if f.Means == TimeStamp {
		for i := 1; i < len(list); i++ {
			list[i-1] = list[i] - list[i-1]
		}
		list = list[:max(0, len(list)-1)]
	}
	if len(list) == 0 {
		return 0, 0, false
	}
	slices.Sort(list)
	if unit = unitOf(list[len(list)/2]); unit == 0 || unit == f.Unit {
		return 0, 0, false
	}
	return math.Pow(1000, float64(int(unit)-int(f.Unit))), unit, true
}

// WrongUnitText says so in a sentence.
func WrongUnitText(factor float64, read Unit) string {
	way := "too long"
	if factor < 1 {
		way, factor = "too short", 1/factor
	}
	return fmt.Sprintf("frame times are %s times %s, read as %v",
		strconv.FormatFloat(factor, 'f', -1, 64), way, read)
}
