package pacing

import (
	"fmt"
	"slices"
	"sort"
	"time"
)

// Slack is how far a time stamp may be off without any harm: logs and
// containers round stamps to the millisecond, and a frame that begins at
// 16.667 ms may be logged at 17.
const Slack = time.Millisecond

// Kind tells what a Frame stands for.
type Kind uint8

const (
	// Normal is a frame of the game, and its Time is a frame time.
	Normal Kind = iota
	// Still is a stretch in which the picture did not change for long (a menu,
	// a pause, a loading screen). Its Time says how long, but is not a frame
	// time: nothing tells whether frames were shown.
	Still
)

// String returns "normal" or "still".
func (k Kind) String() string {
	switch k {
	case Normal:
		return "normal"
	case Still:
		return "still"
	}
	return fmt.Sprintf("Kind(%d)", uint8(k))
}

// Frame is one frame of the game, as it reached the screen.
type Frame struct {
	// Begin is the capture time at which the frame appeared; 0 is the
	// capture's first video frame.
	Begin time.Duration
	// Time is how long it stayed: its frame time, above 0.
	Time time.Duration
	// Tear is the row of the capture from which the frame was first shown, when
	// it appeared in mid-picture; 0 means that it was not torn.
	Tear int
	// Kind is Normal, or Still for a stretch without change.
	Kind Kind
	// Doubtful says that the evidence for the frame's Begin or Time was weak.
	Doubtful bool
	// Ceiling says that every picture around the frame was a new one: the capture
	// cannot show more, so that 1/Time is only the least that the rate was.
	Ceiling bool
}

// End returns Begin + Time.
func (f Frame) End() time.Duration { return f.Begin + f.Time }

// maxTime bounds all times to ±73 years, so that sums and differences of two
// cannot overflow.
const maxTime = time.Duration(1) << 61

// A Trace is the pacing of one capture: its frames in order. It is immutable,
// and safe for use by several goroutines. The zero value holds no frames.
type Trace struct {
	frames []Frame
	// seen[i] and shown[i] sum up the normal frames before frame i: the time
	// they were on screen, and their number, frames cut short by part.
	seen  []time.Duration
	shown []float64

	doubtful bool // some frame is
}

// NewTrace returns a trace of the frames, which it copies. There must be at
// least one; each must begin later than the one before, last more than 0, and
// reach at most Slack into the next. Time between frames is a gap: nothing is
// known of it.
func NewTrace(frames []Frame) (*Trace, error) {
	if len(frames) == 0 {
		return nil, fmt.Errorf("pacing: a trace needs at least one frame")
	}
	for i, f := range frames {
		switch {
		case f.Time <= 0 || f.Time > maxTime || f.Begin < -maxTime || f.Begin > maxTime:
			return nil, fmt.Errorf("pacing: frame %d at %v lasts %v", i, f.Begin, f.Time)
		case f.Tear < 0:
			return nil, fmt.Errorf("pacing: frame %d at %v tears at row %d", i, f.Begin, f.Tear)
		case f.Kind > Still:
			return nil, fmt.Errorf("pacing: frame %d at %v is of unknown kind (%v)", i, f.Begin, f.Kind)
		case i > 0 && f.Begin <= frames[i-1].Begin:
			return nil, fmt.Errorf("pacing: frame %d at %v does not begin after the one before (%v)",
				i, f.Begin, frames[i-1].Begin)
		case i > 0 && frames[i-1].End() > f.Begin+Slack:
			return nil, fmt.Errorf("pacing: frame %d at %v begins before the one before has ended (%v)",
				i, f.Begin, frames[i-1].End())
		}
	}
	return newTrace(slices.Clone(frames)), nil
}

// newTrace takes over frames that are known to be good.
func newTrace(frames []Frame) *Trace {
	t := &Trace{
		frames: frames,
		seen:   make([]time.Duration, len(frames)+1),
		shown:  make([]float64, len(frames)+1),
	}
	for i := range frames {
		seen, shown := t.part(i, t.onScreen(i))
		t.seen[i+1] = t.seen[i] + seen
		t.shown[i+1] = t.shown[i] + shown
		t.doubtful = t.doubtful || frames[i].Doubtful
	}
	return t
}

// onScreen returns how long frame i was on screen: its Time, unless rounded
// stamps let it reach into the next one.
func (t *Trace) onScreen(i int) time.Duration {
	d := t.frames[i].Time
	if i+1 < len(t.frames) {
		d = min(d, t.frames[i+1].Begin-t.frames[i].Begin)
	}
	return d
}

// part returns what the first d of frame i count for: time and frames.
func (t *Trace) part(i int, d time.Duration) (seen time.Duration, shown float64) {
	f := &t.frames[i]
	if f.Kind != Normal {
		return 0, 0
	}
	if d == f.Time {
		return d, 1
	}
	return d, float64(d) / float64(f.Time)
}

// Frames returns the frames in order. They must not be changed.
func (t *Trace) Frames() []Frame { return t.frames }

// Begin returns when the first frame begins, 0 for an empty trace.
func (t *Trace) Begin() time.Duration {
	if len(t.frames) == 0 {
		return 0
	}
	return t.frames[0].Begin
}

// End returns when the last frame ends, 0 for an empty trace.
func (t *Trace) End() time.Duration {
	if len(t.frames) == 0 {
		return 0
	}
	return t.frames[len(t.frames)-1].End()
}

// index returns the last frame that begins at or before τ, -1 for none.
func (t *Trace) index(τ time.Duration) int {
	return sort.Search(len(t.frames), func(i int) bool { return t.frames[i].Begin > τ }) - 1
}

// At returns the frame on screen at capture time τ, and false where the trace
// knows of none. A frame whose stamp is late by up to Slack counts as begun,
// and lasts up to Slack longer where nothing follows, because stamps may be
// rounded.
func (t *Trace) At(τ time.Duration) (Frame, bool) {
	i := t.index(τ + Slack)
	if i < 0 || τ >= t.frames[i].End()+Slack {
		return Frame{}, false
	}
	return t.frames[i], true
}

// RateAt returns the frame rate at capture time τ, in frames per second: the
// time-mean of 1/d over [τ-window, τ), where d is the frame time of the frame
// on screen. That is the count of frames in the window, the two cut ones
// counted by the part that lies inside, over the time they took; a steady
// cadence so reads the same at every instant.
//
// Time of which the trace knows nothing (before its begin, after its end, in
// its gaps) and still stretches do not enter the mean. Where nothing is left,
// as at the instant of the first frame, the rate is the limit just after τ: 1/d
// of the frame on screen; and where there is no such frame, ok is false.
func (t *Trace) RateAt(τ, window time.Duration) (fps float64, ok bool) {
	if window > 0 {
		if seen, shown := t.between(τ-window, τ); seen > 0 {
			return shown / seen.Seconds(), true
		}
	}
	if f, ok := t.At(τ); ok && f.Kind == Normal {
		return 1 / f.Time.Seconds(), true
	}
	return 0, false
}

// between returns time and number of the normal frames in [from, to). The cut
// frames are counted apart from the whole ones between them, because the
// difference of two long sums would lose the digits of a short window.
func (t *Trace) between(from, to time.Duration) (seen time.Duration, shown float64) {
	i, j := t.index(from), t.index(to)
	if j < 0 {
		return 0, 0
	}
	upTo := min(to-t.frames[j].Begin, t.onScreen(j))
	if i == j {
		done := min(from-t.frames[i].Begin, t.onScreen(i))
		return t.part(i, upTo-done)
	}
	seen, shown = t.part(j, upTo)
	if i >= 0 {
		if d := t.onScreen(i) - (from - t.frames[i].Begin); d > 0 {
			s, n := t.part(i, d)
			seen, shown = seen+s, shown+n
		}
	}
	return seen + (t.seen[j] - t.seen[i+1]), shown + (t.shown[j] - t.shown[i+1])
}

// Over returns the frames that are on screen at some time in [from, to), in
// order. They must not be changed.
func (t *Trace) Over(from, to time.Duration) []Frame {
	if from >= to {
		return nil
	}
	i := t.over(from)
	j := max(t.index(to-1)+1, i)
	return t.frames[i:j:j]
}

// over returns the index of the first frame of Over.
func (t *Trace) over(from time.Duration) int {
	i := max(t.index(from), 0)
	if i < len(t.frames) && t.frames[i].Begin+t.onScreen(i) <= from {
		i++
	}
	return i
}
