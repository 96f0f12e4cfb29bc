package pacing

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
)

// MinSpan is the shortest time that is told as a span.
const MinSpan = 500 * time.Millisecond

const (
	minSpanFrames  = 4     // so that a span is more than a few long frames
	maxCadence     = 6     // frames in the longest repeating pattern looked for
	minCadences    = 3     // how often it must repeat
	holdTolerance  = 0.005 // of the frame time: a mean farther off is no hold
	mostMultiples  = 3     // that are listed for mixed frame times
	rare           = 0.05  // of the frames: these are strays among mixed frame times
	unlockedInTime = 0.5   // part of the time off the grid that is told as such
)

// SpanKind says what a capture does during a span.
type SpanKind uint8

const (
	// Hold: all frames take the same number of refreshes, but for the strays.
	Hold SpanKind = iota + 1
	// Cadence: the frames' numbers of refreshes repeat in a short pattern, as in
	// 3:2 for 24 fps at 60 Hz.
	Cadence
	// Mixed: the frames take whole numbers of refreshes, of two or three lengths
	// in no short pattern, but for the strays.
	Mixed
	// Unlocked: for at least half the time the frame times are no multiples of
	// the refresh.
	Unlocked
	// Varying: anything else.
	Varying
	// StillSpan: the picture did not change.
	StillSpan
)

var spanKindNames = [...]string{Hold: "hold", Cadence: "cadence", Mixed: "mixed", Unlocked: "unlocked",
	Varying: "varying", StillSpan: "still"}

// String returns the kind's name.
func (k SpanKind) String() string {
	if k >= Hold && int(k) < len(spanKindNames) {
		return spanKindNames[k]
	}
	return fmt.Sprintf("SpanKind(%d)", uint8(k))
}

// Span is a stretch of time in which a capture keeps to one way of pacing.
type Span struct {
	Kind SpanKind
	// From and To bound the span in capture time.
	From, To time.Duration
	// Refresh is that of the display.
	Refresh Rate
	// Frames is how many frames begin in the span, strays included.
	Frames int
	// Multiples are, in refreshes: for Hold the one frame time, for Cadence the
	// pattern from the span's first frame on, for Mixed the frame times that
	// occur, upwards. Empty for the other kinds.
	Multiples []int
	// Strays are the frames that break a Hold, or are of other lengths than those
	// of a Mixed span, at most one in twenty.
	Strays []Frame
	// Shortest and Longest are the extremes of the frame times. 0 for StillSpan.
	Shortest, Longest time.Duration
	// MeanRate is frames over time in fps, cut frames counted by part. 0 for
	// StillSpan.
	MeanRate float64
}

// piece is what a stretch of frames is cut into: a frame, or the part of it in
// the range.
type piece struct {
	Frame
	from, to time.Duration // when it is on screen in the range
	counts   bool          // begins in the range
	multiple int           // in refreshes, 0: none
}

// Spans tells in which stretches of [from, to) the capture keeps to one way of
// pacing, in order and without overlap. Each lasts at least MinSpan, except still
// ones; what fits in none is not told.
//
// A Hold is a run of at least MinSpan and four frames with the same refresh
// multiple, the mean frame time being within 0.5 % of it (a game that runs free at
// 61 fps does not hold 60). Two such runs that only a single frame keeps apart are
// one Hold with a stray. Between the holds the longest patterns of up to six
// frames that repeat at least three times are Cadences, and what is left is Mixed,
// Unlocked or Varying. A gap in the trace ends a span.
func (t *Trace) Spans(from, to time.Duration, refresh Rate) []Span {
	var spans []Span
	var run []piece // Normal frames without gaps
	flush := func() {
		spans = appendSpans(spans, run, refresh)
		run = run[:0]
	}
	base := t.over(from)
	for i, f := range t.Over(from, to) {
		p := piece{Frame: f, from: max(f.Begin, from), to: min(f.Begin+t.onScreen(base+i), to),
			counts: f.Begin >= from}
		if f.Kind == Still {
			flush()
			spans = append(spans, Span{Kind: StillSpan, From: p.from, To: p.to, Refresh: refresh})
			continue
		}
		if k, ok := Multiple(f.Time, refresh); ok {
			p.multiple = k
		}
		if n := len(run); n > 0 && p.from > run[n-1].to+Slack {
			flush()
		}
		run = append(run, p)
	}
	flush()
	return spans
}

// appendSpans cuts a run of frames into holds and what lies between them.
func appendSpans(spans []Span, run []piece, refresh Rate) []Span {
	holds := findHolds(run, refresh)
	at := 0
	for _, h := range holds {
		spans = appendOthers(spans, run[at:h.begin], refresh)
		s := describe(Hold, run[h.begin:h.end], refresh)
		s.Multiples = []int{run[h.begin].multiple}
		for _, i := range h.strays {
			s.Strays = append(s.Strays, run[i].Frame)
		}
		spans = append(spans, s)
		at = h.end
	}
	return appendOthers(spans, run[at:], refresh)
}

// hold is run[begin:end] at one multiple, but for the strays.
type hold struct {
	begin, end int
	strays     []int
}

func findHolds(run []piece, refresh Rate) []hold {
	var holds []hold
	for i := 0; i < len(run); {
		j := i + 1
		for j < len(run) && run[j].multiple == run[i].multiple {
			j++
		}
		if isHold(run[i:j], refresh) {
			if n := len(holds); n > 0 && holds[n-1].end == i-1 &&
				run[holds[n-1].begin].multiple == run[i].multiple && run[i-1].Time < MinSpan {
				holds[n-1].end = j
				holds[n-1].strays = append(holds[n-1].strays, i-1)
			} else {
				holds = append(holds, hold{begin: i, end: j})
			}
		}
		i = j
	}
	return holds
}

// isHold reports whether pieces of one multiple make a hold.
func isHold(run []piece, refresh Rate) bool {
	k := run[0].multiple
	if k == 0 || !longEnough(run) {
		return false
	}
	var sum time.Duration
	for _, p := range run {
		sum += p.Time
	}
	due := float64(k) / refresh.Hz()
	return math.Abs(sum.Seconds()/float64(len(run))-due) <= holdTolerance*due
}

// longEnough allows 2 ms for the rounding of stamps.
func longEnough(run []piece) bool {
	return len(run) >= minSpanFrames && run[len(run)-1].to-run[0].from >= MinSpan-2*Slack
}

// appendOthers tells what a run without holds does.
func appendOthers(spans []Span, run []piece, refresh Rate) []Span {
	reach := cadenceReach(run)
	at := 0
	for i := 0; i < len(run); {
		n, period := longestCadence(run[i:], i, reach, refresh)
		if n == 0 {
			i++
			continue
		}
		spans = appendRest(spans, run[at:i], refresh)
		s := describe(Cadence, run[i:i+n], refresh)
		for _, p := range run[i : i+period] {
			s.Multiples = append(s.Multiples, p.multiple)
		}
		spans = append(spans, s)
		i += n
		at = i
	}
	return appendRest(spans, run[at:], refresh)
}

// cadenceReach returns, for each piece i and each period p, how many pieces from
// i on take as many refreshes as the piece p before them.
func cadenceReach(run []piece) (reach [maxCadence + 1][]int32) {
	for p := 2; p <= maxCadence; p++ {
		reach[p] = make([]int32, len(run)+1)
		for i := len(run) - 1; i >= p; i-- {
			if run[i].multiple > 0 && run[i].multiple == run[i-p].multiple {
				reach[p][i] = reach[p][i+1] + 1
			}
		}
	}
	return reach
}

// longestCadence returns how many pieces from the first on (the run's i-th)
// repeat with a period of at most maxCadence, 0 if too few. The shortest period
// wins.
func longestCadence(rest []piece, i int, reach [maxCadence + 1][]int32, refresh Rate) (n, period int) {
	for p := 2; p <= maxCadence && i+p < len(reach[p]); p++ {
		m := p + int(reach[p][i+p])
		if m > n && m >= minCadences*p && longEnough(rest[:m]) && isCadence(rest[:p], refresh) {
			n, period = m, p
		}
	}
	return n, period
}

// isCadence reports whether one period of a pattern is more than a single frame
// time, and as long as its refreshes within holdTolerance.
func isCadence(period []piece, refresh Rate) bool {
	sum, same := 0, true
	var d time.Duration
	for _, p := range period {
		sum += p.multiple
		d += p.Time
		same = same && p.multiple == period[0].multiple
	}
	due := float64(sum) / refresh.Hz()
	return !same && math.Abs(d.Seconds()-due) <= max(holdTolerance*due, Slack.Seconds())
}

// appendRest tells of a run that has neither hold nor cadence.
func appendRest(spans []Span, run []piece, refresh Rate) []Span {
	if !longEnough(run) {
		return spans
	}
	count := map[int]int{}
	var offGrid time.Duration
	for _, p := range run {
		count[p.multiple]++
		if p.multiple == 0 {
			offGrid += p.to - p.from
		}
	}
	if refresh.Valid() && float64(offGrid) >= unlockedInTime*float64(run[len(run)-1].to-run[0].from) {
		return append(spans, describe(Unlocked, run, refresh))
	}
	var multiples []int // without the rare ones
	strays := len(run)
	for k, n := range count {
		if k > 0 && float64(n) > rare*float64(len(run)) {
			multiples = append(multiples, k)
			strays -= n
		}
	}
	slices.Sort(multiples)
	if len(multiples) < 2 || len(multiples) > mostMultiples || float64(strays) > rare*float64(len(run)) {
		return append(spans, describe(Varying, run, refresh))
	}
	s := describe(Mixed, run, refresh)
	s.Multiples = multiples
	for _, p := range run {
		if !slices.Contains(multiples, p.multiple) {
			s.Strays = append(s.Strays, p.Frame)
		}
	}
	return append(spans, s)
}

// describe fills in what spans of all kinds tell.
func describe(k SpanKind, run []piece, refresh Rate) Span {
	s := Span{Kind: k, From: run[0].from, To: run[len(run)-1].to, Refresh: refresh, Shortest: run[0].Time,
		Longest: run[0].Time}
	var frames float64
	var seen time.Duration
	for _, p := range run {
		if p.counts {
			s.Frames++
		}
		frames += float64(p.to-p.from) / float64(p.Time)
		seen += p.to - p.from
		s.Shortest = min(s.Shortest, p.Time)
		s.Longest = max(s.Longest, p.Time)
	}
	s.MeanRate = frames / seen.Seconds()
	return s
}

// String returns the span in words, in capture time: "holds 30 fps from 3.10 s to
// 7.00 s (117 frames of 33.3 ms)".
func (s Span) String() string { return s.words(0) }

// Sentence returns the span in words with its subject, and times counted from
// zero: "Alder holds 30 fps from 3.10 s to 7.00 s (117 frames of 33.3 ms)".
func (s Span) Sentence(name string, zero time.Duration) string { return name + " " + s.words(zero) }

func (s Span) words(zero time.Duration) string {
	when := fmt.Sprintf("from %.2f s to %.2f s", (s.From - zero).Seconds(), (s.To - zero).Seconds())
	but, others := "", ""
	if n := len(s.Strays); n > 0 {
		but = " but for " + frames(n)
		others = ", " + listStrays(s.Strays)
	}
	switch s.Kind {
	case Hold:
		if len(s.Multiples) != 1 {
			break
		}
		k := s.Multiples[0]
		return fmt.Sprintf("holds %s fps %s%s (%s of %s ms%s)",
			s.fps(1, k), when, but, frames(s.regular()), s.ms(k), others)
	case Cadence:
		sum := 0
		for _, k := range s.Multiples {
			sum += k
		}
		if sum == 0 {
			break
		}
		return fmt.Sprintf("keeps a %s cadence %s (%s fps, %s of %s ms)",
			join(s.Multiples, strconv.Itoa, ":", ":"), when,
			s.fps(len(s.Multiples), sum), frames(s.Frames), join(distinct(s.Multiples), s.ms, ", ", " and "))
	case Mixed:
		return fmt.Sprintf("mixes frames of %s ms %s%s (%.1f fps on average, %s%s)",
			join(s.Multiples, s.ms, ", ", " and "), when, but, s.MeanRate, frames(s.regular()), others)
	case Unlocked:
		return fmt.Sprintf("runs off the refresh grid %s (%.1f fps on average, %s of %s ms)",
			when, s.MeanRate, frames(s.Frames), s.extremes())
	case Varying:
		return fmt.Sprintf("varies %s (%.1f fps on average, %s of %s ms)",
			when, s.MeanRate, frames(s.Frames), s.extremes())
	case StillSpan:
		return "is still " + when
	}
	return fmt.Sprintf("%v %s", s.Kind, when)
}

// regular returns how many of the Frames are no strays.
func (s Span) regular() int {
	n := s.Frames
	for _, f := range s.Strays {
		if f.Begin >= s.From { // else it is not among the Frames
			n--
		}
	}
	return n
}

// fps returns the rate of n frames in k refreshes, with as many decimals (up to
// two) as it needs.
func (s Span) fps(n, k int) string {
	v := strconv.FormatFloat(s.Refresh.Hz()*float64(n)/float64(k), 'f', 2, 64)
	return strings.TrimSuffix(strings.TrimRight(v, "0"), ".")
}

// ms returns the frame time of k refreshes.
func (s Span) ms(k int) string { return ms(s.Refresh.TimeOf(int64(k))) }

func ms(d time.Duration) string { return fmt.Sprintf("%.1f", d.Seconds()*1000) }

// extremes returns "16.7 to 33.3", or one number where both read the same.
func (s Span) extremes() string {
	a, b := ms(s.Shortest), ms(s.Longest)
	if a == b {
		return a
	}
	return a + " to " + b
}

func frames(n int) string {
	if n == 1 {
		return "1 frame"
	}
	return strconv.Itoa(n) + " frames"
}

func distinct(k []int) []int {
	k = slices.Clone(k)
	slices.Sort(k)
	return slices.Compact(k)
}

func join(k []int, text func(int) string, comma, last string) string {
	var b strings.Builder
	for i, v := range k {
		switch {
		case i == 0:
		case i == len(k)-1:
			b.WriteString(last)
		default:
			b.WriteString(comma)
		}
		b.WriteString(text(v))
	}
	return b.String()
}

// listStrays returns "1 of 50.0 ms", for many only the longest.
func listStrays(strays []Frame) string {
	longest := strays[0].Time
	same := true
	for _, f := range strays {
		same = same && ms(f.Time) == ms(longest)
		longest = max(longest, f.Time)
	}
	if same {
		return fmt.Sprintf("%d of %s ms", len(strays), ms(longest))
	}
	return fmt.Sprintf("%d others of up to %s ms", len(strays), ms(longest))
}
