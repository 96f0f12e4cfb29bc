package scene

import (
	"strings"
	"testing"
	"time"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
)

// Success criterion 2.3.1 of WCAG 2.2 and ITU-R BT.1702 allow three flashes, pairs of
// opposing changes, in any one second.
func TestFlashesOfTurns(t *testing.T) {
	for _, c := range []struct {
		every  time.Duration
		panes  int
		length int64 // frames at 60 Hz
		want   string
	}{
		{100 * time.Millisecond, 2, 120, "10 times"},
		{150 * time.Millisecond, 2, 120, "7 times"},
		{150 * time.Millisecond, 3, 120, "7 times"},
		{170 * time.Millisecond, 2, 120, ""}, // ten frames: six changes a second are three flashes
		{100 * time.Millisecond, 2, 36, ""},  // too short for seven changes
		{2 * time.Second, 2, 600, ""},
	} {
		r := pacing.Rate{Num: 60, Den: 1}
		each := r.FramesIn(c.every)
		s := &comparison.Scene{View: comparison.ViewAlternate}
		var panes []graph.Pane
		for i := range int64(c.panes) {
			panes = append(panes, graph.Pane{Turn: &graph.Turn{Cycle: int64(c.panes) * each, Spans: []graph.Span{{From: i * each, To: (i + 1) * each}}}})
		}
		f, flashes := ofFlashes(s, panes, r, c.length)
		if flashes != (c.want != "") || !strings.Contains(f.Evidence, c.want) {
			t.Errorf("every %s: %v, %s", c.every, flashes, f.Evidence)
		}
		if flashes && (f.Severity != finding.Harms || !strings.Contains(f.Warning(), "certified test")) {
			t.Errorf("%+v", f)
		}
	}
}

func TestFlashesOfSwings(t *testing.T) {
	for _, c := range []struct {
		swing    time.Duration
		captures int
		flashes  bool
	}{{500 * time.Millisecond, 2, false}, {500 * time.Millisecond, 3, true}, {time.Second, 3, false}, {700 * time.Millisecond, 4, true}, {0, 4, false}} {
		s := &comparison.Scene{View: comparison.ViewWipe, Captures: make([]string, c.captures), Wipe: comparison.Wipe{Swing: c.swing}}
		if _, flashes := ofFlashes(s, nil, pacing.Rate{Num: 60, Den: 1}, 600); flashes != c.flashes {
			t.Errorf("%s, %d captures: %v", c.swing, c.captures, flashes)
		}
	}
}
