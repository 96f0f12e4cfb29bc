package pacing

import (
	"slices"
	"sort"
	"time"
)

// A RateLine is the frame rate of one capture over time, as a mean over a window.
// It is immutable, and safe for use by several goroutines.
type RateLine struct {
	trace   *Trace
	window  time.Duration
	borders []time.Duration // where spans begin and end, rising; nil: the window crosses them
}

// TrailingRate returns the line whose value at τ is [Trace.RateAt]: the mean over
// the window before τ, whatever happens in it.
func (t *Trace) TrailingRate(window time.Duration) RateLine {
	return RateLine{trace: t, window: window}
}

// SpanRate returns the line whose window stays inside one span of [Trace.Spans];
// a stretch between two spans counts as a span of its own. A change from one steady
// rate to another is then a step, at the frame where it happens: a rate that no
// stretch has is never shown.
func (t *Trace) SpanRate(window time.Duration, refresh Rate) RateLine {
	var borders []time.Duration
	for _, s := range t.Spans(t.Begin(), t.End(), refresh) {
		borders = append(borders, s.From, s.To)
	}
	borders = append(borders, t.Begin(), t.End())
	for i, f := range t.frames {
		// What is not known is a stretch of its own too.
		if i > 0 && f.Begin > t.frames[i-1].End()+Slack {
			borders = append(borders, t.frames[i-1].End(), f.Begin)
		}
	}
	slices.Sort(borders)
	return RateLine{t, window, slices.Compact(borders)}
}

// At returns the frame rate at capture time τ in frames a second, or false where the
// trace says nothing.
//
// In a line by spans the window ends at τ. Where less than a window of the span has
// passed, the window begins with the span and reaches ahead, to the span's end at
// most.
func (l RateLine) At(τ time.Duration) (fps float64, ok bool) {
	if _, known := l.trace.At(τ); !known {
		return 0, false
	}
	if l.borders == nil {
		return l.trace.RateAt(τ, l.window)
	}
	if seen, shown := l.trace.between(l.over(τ)); seen > 0 {
		return shown / seen.Seconds(), true
	}
	return 0, false
}

// over is the stretch over which the rate at τ is a mean.
func (l RateLine) over(τ time.Duration) (from, to time.Duration) {
	if l.borders == nil {
		return τ - l.window, τ
	}
	// A stamp may be late by rounding; see [Trace.At].
	i := sort.Search(len(l.borders), func(i int) bool { return l.borders[i] > τ+Slack })
	i = min(max(i, 1), len(l.borders)-1) // rounding may put τ just outside
	from = max(l.borders[i-1], τ-l.window)
	return from, min(l.borders[i], from+l.window)
}

// Doubt says how much of the rate at τ rests on doubtful frames.
func (l RateLine) Doubt(τ time.Duration) Doubt { return l.trace.Doubt(l.over(τ)) }

// Ceiling reports whether the rate at τ is only the least that it was, because the
// capture can show no more.
func (l RateLine) Ceiling(τ time.Duration) bool {
	from, to := l.over(τ)
	most, _ := l.trace.Spent(from, to, func(f Frame) bool { return f.Ceiling })
	return most > 0
}
