package pacing

import (
	"slices"
	"time"
)

// StillRule says what becomes of still stretches, in which the picture did not
// change for long.
type StillRule uint8

const (
	// JudgeStill takes a short stretch between moving pictures for a freeze, which
	// counts as one frame, and leaves out all others: menus, pauses, loading screens.
	JudgeStill StillRule = iota
	// CountStill takes every stretch for one frame.
	CountStill
	// LeaveOutStill leaves all out.
	LeaveOutStill
)

const (
	// LongestFreeze is the longest still stretch that is taken for a freeze. A menu
	// that is opened and closed takes longer, as a rule.
	LongestFreeze = 2 * time.Second
	// besideFreeze is how much of the half second on either side must move.
	besideFreeze = 250 * time.Millisecond
)

// StillJudged is a still stretch of a range and what became of it.
type StillJudged struct {
	Frame
	Counts bool
	Why    string // in words
}

// Stills applies a rule to the still stretches of [from, to), the stretch that a
// scene shows. The trace that comes back has a normal frame for each that counts.
// Nothing in a log tells a freeze from a menu for sure: judged stretches are
// returned, to be told.
func (t *Trace) Stills(rule StillRule, from, to time.Duration) (*Trace, []StillJudged) {
	var judged []StillJudged
	frames := slices.Clone(t.frames)
	for i := range frames {
		f := &frames[i]
		if f.Kind != Still || f.Begin >= to || f.End() <= from {
			continue
		}
		one := StillJudged{*f, rule == CountStill, ""}
		if rule == JudgeStill {
			one.Counts, one.Why = t.freeze(*f, from, to)
			judged = append(judged, one)
		}
		if one.Counts {
			f.Kind = Normal
		}
	}
	return newTrace(frames), judged
}

// freeze judges whether a still stretch of [from, to) is a freeze, and why.
func (t *Trace) freeze(f Frame, from, to time.Duration) (bool, string) {
	const near = 500 * time.Millisecond
	moves := func(from, to time.Duration) bool {
		_, seen := t.Spent(from, to, func(Frame) bool { return false })
		return seen >= besideFreeze
	}
	switch {
	case f.Time > LongestFreeze:
		return false, "it is longer than " + seconds(LongestFreeze) + ", as a menu is"
	case f.Begin < from+besideFreeze || f.End() > to-besideFreeze:
		return false, "it lies at an edge of the scene, where a freeze cannot be told from a menu"
	case !moves(max(from, f.Begin-near), f.Begin) || !moves(f.End(), min(to, f.End()+near)):
		return false, "the picture does not move on both sides of it"
	}
	return true, "the picture moves before and after it"
}
