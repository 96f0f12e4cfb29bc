package align

import (
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"fairframe/render/media"
	"fairframe/render/pacing"
)

// TestProposedStart: a start just beside the beginning of a frame is that
// frame's; anything else stays, to the microsecond.
func TestProposedStart(t *testing.T) {
	for _, c := range []struct {
		start  time.Duration
		offset float64
		rate   pacing.Rate
		want   string
		frame  int64 // shown at the written start
	}{
		{2 * time.Second, 1, pacing.Rate{Num: 60, Den: 1}, "3s", 180},
		{2 * time.Second, 0.9998, pacing.Rate{Num: 60, Den: 1}, "3s", 180},
		{2 * time.Second, 1.0002, pacing.Rate{Num: 60, Den: 1}, "3s", 180},
		{0, 100.0 / 60, pacing.Rate{Num: 60, Den: 1}, "1.666667s", 100},
		{0, 100.0/60 - 0.0003, pacing.Rate{Num: 60, Den: 1}, "1.666667s", 100},
		{0, 100.5 / 60, pacing.Rate{Num: 60, Den: 1}, "1.675s", 100},
		{time.Second, -0.45034, pacing.Rate{Num: 60, Den: 1}, "0.55s", 33},
		{0, 1001.0 / 60000 * 7, pacing.Rate{Num: 60000, Den: 1001}, "0.116784s", 7},
	} {
		p := Pair{StartA: c.start, CaptureB: media.Capture{Rate: c.rate}, Result: &Result{Offset: c.offset}}
		at := p.ProposedB()
		if got := startText(at); got != c.want || c.rate.FrameAt(at) != c.frame {
			t.Errorf("%v %+.5f s at %v: %s, frame %d; want %s, frame %d", c.start, c.offset, c.rate, got, c.rate.FrameAt(at), c.want, c.frame)
		}
	}
}

// TestStartsRefused: what may not be relied on, or leads out of a capture, is no
// start.
func TestStartsRefused(t *testing.T) {
	sure := func(offset, confidence float64) *Result {
		return &Result{Offset: offset, Confidence: confidence, Best: 0, Stretches: make([]Stretch, 1)}
	}
	b := media.Capture{Rate: pacing.Rate{Num: 60, Den: 1}, Frames: 600}
	for name, r := range map[string]*Result{"unsure": sure(1, 0.49), "before the beginning": sure(-3, 1), "after the end": sure(9, 1)} {
		a := Aligned{Pairs: []Pair{{A: "a", B: "b", StartA: time.Second, CaptureB: b, Result: r}}}
		if starts, err := a.Starts(); err == nil {
			t.Errorf("%s: starts %v", name, starts)
		}
	}
	a := Aligned{Pairs: []Pair{{A: "a", B: "b", StartA: time.Second, CaptureB: b, Result: sure(2, 0.9)}}}
	if starts, err := a.Starts(); err != nil || starts["b"] != "3s" {
		t.Errorf("starts %v, %v", starts, err)
	}
}

// TestReplaceThroughLink: a comparison file that is a link stays one, keeps its
// rights, and its backup never replaces another.
func TestReplaceThroughLink(t *testing.T) {
	dir := t.TempDir()
	real, link := filepath.Join(dir, "real.yaml"), filepath.Join(dir, "c.yaml")
	if err := os.WriteFile(real, []byte("old"), 0o640); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(real, link); err != nil {
		t.Skip(err)
	}
	if err := os.WriteFile(link+".bak", []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	name, err := keep(link, []byte("old"))
	if err != nil || name != link+".bak2" {
		t.Fatalf("backup %s, %v", name, err)
	}
	if err := replace(link, []byte("new")); err != nil {
		t.Fatal(err)
	}
	text, _ := os.ReadFile(real)
	info, _ := os.Stat(real)
	if l, err := os.Readlink(link); err != nil || l != real || string(text) != "new" || info.Mode().Perm() != 0o640 {
		t.Errorf("link to %q, %v; text %q, rights %v", l, err, text, info.Mode())
	}
	if b, _ := os.ReadFile(link + ".bak"); string(b) != "mine" {
		t.Errorf("another's backup became %q", b)
	}
}

// TestLoop: of three offsets that do not agree none is relied on; those of other
// stretches are left alone.
func TestLoop(t *testing.T) {
	stretch := func(from, to, offset float64) Stretch {
		return Stretch{From: from, To: to, Offset: offset, Drift: math.NaN(), Confidence: 0.9}
	}
	result := func(list ...Stretch) *Result {
		return &Result{Offset: list[0].Offset, Confidence: 0.9, Stretches: list, Block: 2}
	}
	for name, c := range map[string]struct {
		bc       []Stretch
		compared bool
		agrees   bool
		gap      float64
		matched  bool
	}{
		// C shows what A shows 1.5 s later, B 1 s later: B to C is half a second.
		"agree":              {[]Stretch{stretch(1, 20, 0.5)}, true, true, 0, true},
		"within half":        {[]Stretch{stretch(1, 20, 0.508)}, true, true, 0.008, true},
		"more than half":     {[]Stretch{stretch(1, 20, 0.509)}, true, false, 0.009, false},
		"far off":            {[]Stretch{stretch(1, 20, -7)}, true, false, -7.5, false},
		"hardly overlapping": {[]Stretch{stretch(18, 40, 3)}, false, false, 0, true},
		"elsewhere":          {[]Stretch{stretch(60, 90, 3)}, false, false, 0, true},
	} {
		ab := Pair{A: "a", B: "b", Result: result(stretch(0, 18, 1), stretch(30, 40, 2))}
		ac := Pair{A: "a", B: "c", Result: result(stretch(0, 18, 1.5))}
		l := &Loop{B: "b", C: "c", Result: result(c.bc...), frame: 1.0 / 60}
		for i := range ab.Stretches {
			for j := range ac.Stretches {
				l.compare(&ab, &ac, i, j)
			}
		}
		if l.Compared != c.compared || l.Agrees() != c.agrees || math.Abs(l.Gap-c.gap) > 1e-9 || ab.Matched() != c.matched || ac.Matched() != c.matched {
			t.Errorf("%s: compared %v, agrees %v, gap %v; matched %v and %v", name, l.Compared, l.Agrees(), l.Gap, ab.Matched(), ac.Matched())
		}
		if (len(ab.Notes) > 0) == c.matched || ab.Stretches[1].Confidence != 0.9 {
			t.Errorf("%s: notes %q, the other stretch's confidence %v", name, ab.Notes, ab.Stretches[1].Confidence)
		}
	}
}
