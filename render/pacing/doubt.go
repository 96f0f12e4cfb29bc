package pacing

import (
	"fmt"
	"time"
)

// Uncertain is the share of a stretch that may rest on doubtful frames before its
// pacing is called uncertain.
const Uncertain = 0.05

// Doubt says how much of a stretch rests on frames for which the evidence was weak.
type Doubt struct {
	Time time.Duration // in which a doubtful frame was on screen
	Seen time.Duration // in which any frame was
}

// Doubt returns the doubt of [from, to). Whatever tells of doubt reads it here.
func (t *Trace) Doubt(from, to time.Duration) Doubt {
	if !t.doubtful {
		seen, _ := t.between(from, to)
		return Doubt{Seen: seen}
	}
	doubtful, seen := t.Spent(from, to, func(f Frame) bool { return f.Doubtful })
	return Doubt{doubtful, seen}
}

// Spent returns for how much of [from, to) frames of a kind were on screen, and
// frames of any kind. Still stretches and gaps are neither.
func (t *Trace) Spent(from, to time.Duration, kind func(Frame) bool) (of, seen time.Duration) {
	base := t.over(from)
	for i, f := range t.Over(from, to) {
		if f.Kind == Still {
			continue
		}
		d := min(f.Begin+t.onScreen(base+i), to) - max(f.Begin, from)
		seen += d
		if kind(f) {
			of += d
		}
	}
	return of, seen
}

// Part is the doubtful share of the time in which frames were seen, 0 to 1.
func (d Doubt) Part() float64 {
	if d.Seen <= 0 {
		return 0
	}
	return float64(d.Time) / float64(d.Seen)
}

// Uncertain reports whether so much is doubtful that the pacing as a whole is.
func (d Doubt) Uncertain() bool { return d.Part() > Uncertain }

// Percent writes the doubtful share: "14 %", or with a decimal where it is small.
func (d Doubt) Percent() string {
	switch p := 100 * d.Part(); {
	case p > 0 && p < 0.1:
		return "< 0.1 %"
	case p > 0 && p < 9.95:
		return fmt.Sprintf("%.1f %%", p)
	case p < 100:
		return fmt.Sprintf("%.0f %%", min(p, 99))
	}
	return "100 %"
}
