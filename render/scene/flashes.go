package scene

import (
	"fmt"
	"time"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
)

// flashesAllowed is how many flashes any one second may hold, by success criterion 2.3.1
// of WCAG 2.2 and by ITU-R BT.1702.
const flashesAllowed = 3

// flashCaution is what to do about flashes.
const flashCaution = "a caution only: flashing can harm people with photosensitive epilepsy; change less often, " +
	"or warn the audience; the broadcaster's own rules and a certified test decide"

// ofFlashes makes a finding of a clip whose panes change place so often that a bright and a
// dark one would flash, whatever they show. A flash is a pair of opposing changes.
func ofFlashes(s *comparison.Scene, panes []graph.Pane, r pacing.Rate, frames int64) (f finding.Finding, flashes bool) {
	most, times := 0.0, ""
	switch {
	case s.View == comparison.ViewAlternate:
		changes := changesASecond(panes, r, frames)
		most, times = float64(changes)/2, fmt.Sprintf("the picture changes %d times within a second", changes)
	case s.View == comparison.ViewWipe && s.Wipe.Swing > 0:
		// Each line passes a place twice in a period.
		lines := len(s.Captures) - 1
		most = float64(lines) * float64(time.Second) / float64(s.Wipe.Swing)
		times = fmt.Sprintf("%d lines pass a place twice in %s", lines, s.Wipe.Swing)
	}
	if most <= flashesAllowed {
		return f, false
	}
	f = finding.Finding{Severity: finding.Harms, What: "the clip may flash", Remedy: flashCaution,
		Evidence: fmt.Sprintf("%s, which allows more than %d flashes a second (WCAG 2.3.1, ITU-R BT.1702)", times, flashesAllowed)}
	f.Words = f.What + ": " + f.Evidence + "; " + f.Remedy
	return f, true
}

// changesASecond is the most changes of the pane on screen that any second holds.
func changesASecond(panes []graph.Pane, r pacing.Rate, frames int64) (most int) {
	shown := func(k int64) int {
		for i, p := range panes {
			if p.Turn != nil && p.Turn.Shown(k) {
				return i
			}
		}
		return -1
	}
	var changes []int64
	before := shown(0)
	for k := int64(1); k < frames; k++ {
		if now := shown(k); now != before {
			changes, before = append(changes, k), now
			for r.TimeOf(k)-r.TimeOf(changes[0]) >= time.Second {
				changes = changes[1:]
			}
			most = max(most, len(changes))
		}
	}
	return most
}
