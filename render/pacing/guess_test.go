package pacing

import (
	"fmt"
	"strings"
	"testing"
)

func lines(head string, n int, row func(i int) string) string {
	s := head + "\n"
	for i := range n {
		s += row(i) + "\n"
	}
	return s
}

// Logs as programs write them: other names, units, delimiters, and lines before the header.
func TestGuessFormat(t *testing.T) {
	ms := func(i int) string { return fmt.Sprint(16.667 * float64(1+i%2)) }
	for name, c := range map[string]struct{ text, want string }{
		"frame times":     {lines("frame,ms", 40, func(i int) string { return fmt.Sprintf("%d,%s", i, ms(i)) }), `1 {file: a.csv, column: "ms", means: frame-time, unit: ms}`},
		"microseconds":    {lines("Took (us);Busy", 40, func(i int) string { return fmt.Sprintf("%d;0.5", 16667*(1+i%3)) }), `1 {file: a.csv, column: "Took (us)", means: frame-time, unit: us}`},
		"stamps":          {lines("at\tname", 40, func(i int) string { return fmt.Sprintf("%.3f\tx", 5+float64(i)*0.0334) }), `1 {file: a.csv, column: "at", means: time-stamp, unit: s}`},
		"flags":           {lines("n,new", 40, func(i int) string { return fmt.Sprintf("%d,%d", i, i%2) }), `1 {file: a.csv, column: "new", means: new-frame}`},
		"after a heading": {"Made by hand\nMachine: Alder, 2 buffers\n\n" + lines("frame,ms", 40, func(i int) string { return fmt.Sprintf("%d,%s", i, ms(i)) }), `4 {file: a.csv, column: "ms", means: frame-time, unit: ms}`},
		"no frames":       {lines("a,b", 40, func(i int) string { return fmt.Sprintf("%d,x", i) }), `1 `},
		"prose":           {"Once upon a time\nthere was a log\nwith no numbers\n", `0 `},
		"empty":           {"", `0 `},
	} {
		g, err := GuessFormat(strings.NewReader(c.text))
		if got := fmt.Sprintf("%d %s", g.Line, g.Mapping("a.csv")); err != nil || got != c.want {
			t.Errorf("%s: %s (%v), want %s", name, got, err, c.want)
		}
	}
}

func TestWrongFactor(t *testing.T) {
	log := lines("ms", 100, func(i int) string { return "16.7" })
	for _, c := range []struct {
		text string
		f    Format
		want string
	}{
		{log, Format{Column: "ms", Means: FrameTime}, ""},
		{log, Format{Column: "ms", Means: FrameTime, Unit: Seconds}, "frame times are 1000 times too long, read as s: ms"},
		{log, Format{Column: "ms", Means: FrameTime, Unit: Microseconds}, "frame times are 1000 times too short, read as us: ms"},
		{log, Format{Column: "ms", Means: FrameTime, Unit: Nanoseconds}, "frame times are 1000000 times too short, read as ns: ms"},
		{lines("t", 100, func(i int) string { return fmt.Sprint(i * 16667) }), Format{Column: "t", Means: TimeStamp}, "frame times are 1000000 times too long, read as s: us"},
		{lines("n", 100, func(i int) string { return fmt.Sprint(i % 2) }), Format{Column: "n", Means: NewFrame}, ""},
		{log, Format{}, ""},
	} {
		factor, unit, ok := WrongFactor(strings.NewReader(c.text), c.f)
		f, _ := c.f.complete()
		got := ""
		if ok {
			got = fmt.Sprintf("%s: %v", WrongUnitText(factor, f.Unit), unit)
		}
		if got != c.want {
			t.Errorf("%+v: %q, want %q", c.f, got, c.want)
		}
	}
}

// Lines before the header are passed over.
func TestPreamble(t *testing.T) {
	text := "Recorded on Alder\n2 buffers, v-sync\n\nframe,ms\n1,16.7\n2,33.3\n"
	s := NewScanner(strings.NewReader(text), "a.csv", Format{Column: "ms", Means: FrameTime}, Rate{})
	n := 0
	for s.Scan() {
		if s.Record().Err == nil {
			n++
		}
	}
	if s.Err() != nil || n != 2 {
		t.Errorf("%d frames, error %v", n, s.Err())
	}
}
