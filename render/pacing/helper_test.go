package pacing

import (
	"strconv"
	"strings"
	"testing"
	"time"
)

// at60 is the refresh of most tests.
var at60 = Rate{60, 1}

func number(t *testing.T, s string) float64 {
	t.Helper()
	s, _, _ = strings.Cut(s, " ") // "0.1 exact"
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// onGrid returns frames that take the given numbers of refreshes, without gaps.
func onGrid(refresh Rate, begin int64, counts ...int) []Frame {
	var frames []Frame
	n := begin
	for _, k := range counts {
		a, b := refresh.TimeOf(n), refresh.TimeOf(n+int64(k))
		frames = append(frames, Frame{Begin: a, Time: b - a})
		n += int64(k)
	}
	return frames
}

// inRow returns frames of the given frame times, one after the other from begin on.
func inRow(begin time.Duration, times ...time.Duration) []Frame {
	var frames []Frame
	for _, d := range times {
		frames = append(frames, Frame{Begin: begin, Time: d})
		begin += d
	}
	return frames
}

// repeat returns the pattern repeated n times.
func repeat[T any](n int, pattern ...T) []T {
	var out []T
	for range n {
		out = append(out, pattern...)
	}
	return out
}

func mustTrace(t testing.TB, frames []Frame) *Trace {
	t.Helper()
	tr, err := NewTrace(frames)
	if err != nil {
		t.Fatal(err)
	}
	return tr
}

// ints reads "3 2".
func ints(t *testing.T, s string) []int {
	t.Helper()
	var out []int
	for _, f := range strings.Fields(s) {
		v, err := strconv.Atoi(f)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, v)
	}
	return out
}
