package pacing

import (
	"testing"
	"time"
)

// A freeze of 0.72 s between moving pictures is one frame and a hitch; what is long,
// at an edge or without movement beside it stays a still stretch, unless a rule says
// otherwise.
func TestStills(t *testing.T) {
	second := time.Second
	for name, one := range map[string]struct {
		before, still, after int // refreshes of 60 Hz; frames of two refreshes around it
		judged               bool
	}{
		"freeze":            {120, 43, 120, true},
		"freeze, two sides": {16, 43, 16, true},
		"menu":              {120, 200, 120, false},
		"just a freeze":     {120, 120, 120, true},
		"longer":            {120, 121, 120, false},
		"at the start":      {0, 43, 120, false},
		"near the start":    {8, 43, 120, false},
		"at the end":        {120, 43, 0, false},
	} {
		frames := onGrid(at60, 0, repeat(one.before/2, 2)...)
		begin := at60.TimeOf(int64(one.before))
		end := at60.TimeOf(int64(one.before + one.still))
		frames = append(frames, Frame{Begin: begin, Time: end - begin, Kind: Still})
		frames = append(frames, onGrid(at60, int64(one.before+one.still), repeat(one.after/2, 2)...)...)
		trace, err := NewTrace(frames)
		if err != nil {
			t.Fatal(err)
		}
		to := trace.End()
		for rule, counts := range map[StillRule]bool{JudgeStill: one.judged, CountStill: true, LeaveOutStill: false} {
			got, judged := trace.Stills(rule, 0, to)
			g := got.Figures(0, to, at60)
			hitches, still := 0, end-begin
			if counts {
				hitches, still = 1, 0
			}
			if len(g.Hitches) != hitches || g.Still != still || g.Seen != to-still {
				t.Errorf("%s, rule %v: %d hitches, %v still, %v seen", name, rule, len(g.Hitches), g.Still, g.Seen)
			}
			if counts && (g.Longest != end-begin || g.MeanRate >= 30) {
				t.Errorf("%s, rule %v: the longest frame lasts %v, mean rate %v", name, rule, g.Longest, g.MeanRate)
			}
			if want := rule == JudgeStill; want != (len(judged) == 1) || want && (judged[0].Counts != counts || judged[0].Why == "") {
				t.Errorf("%s, rule %v: judged %+v", name, rule, judged)
			}
		}
		if g := trace.Figures(0, to, at60); g.Still != end-begin {
			t.Errorf("%s: the trace itself was changed", name)
		}
	}
	// Between two still stretches with hardly a frame nothing is told.
	frames := []Frame{{0, second, 0, Still, false, false}, {second, 100 * time.Millisecond, 0, Normal, false, false},
		{second * 11 / 10, second, 0, Still, false, false}}
	frames = append(frames, onGrid(at60, 126, repeat(30, 2)...)...)
	trace, err := NewTrace(frames)
	if err != nil {
		t.Fatal(err)
	}
	if _, judged := trace.Stills(JudgeStill, 0, trace.End()); len(judged) != 2 || judged[0].Counts || judged[1].Counts {
		t.Errorf("judged %+v", judged)
	}
}
