package measure

import (
	"fmt"
	"image"
	"math"
	"slices"
	"testing"

	"fairframe/render/pacing"
)

var captureRate = pacing.Rate{Num: fixtureHz, Den: 1}

// measured is what a meter made of a capture.
type measured struct {
	frames []pacing.Frame
	sum    Summary
}

// starts returns the captured frame and row at which each frame began.
func (m measured) starts(h int) []start {
	var out []start
	for _, f := range m.frames {
		n := captureRate.FrameAt(f.Begin)
		out = append(out, start{n, f.Tear})
	}
	return out
}

func measureFile(t testing.TB, path string, e encoding, w, h int, s Settings) measured {
	t.Helper()
	var m measured
	meter, err := New(Source{Size: image.Pt(w, h), Rate: captureRate, Codec: e.codec, Forward: e.forward()}, s, func(f pacing.Frame) error { m.frames = append(m.frames, f); return nil })
	if err != nil {
		t.Fatal(err)
	}
	decode(t, path, w, h, func(_ int64, luma []byte) error { return meter.Add(luma) })
	if m.sum, err = meter.Finish(); err != nil {
		t.Fatal(err)
	}
	return m
}

// A score compares what was measured with the truth.
type score struct {
	decisions int     // captured frames after the first
	unseen    int     // of all frames, those left out because their pictures can't tell
	wrong     int     // of them: called new but repeated, or the reverse
	sure      int     // of the wrong, or of the missed: those that touch no frame marked doubtful
	guarded   int     // right ones that touch a frame marked doubtful
	where     []int64 // the wrong ones
	torn      int     // true tears
	missed    int     // true tears without a measured one within 8 rows
	invented  int     // measured tears without a true one within 8 rows
}

func (a *score) add(b score) {
	a.decisions += b.decisions
	a.unseen += b.unseen
	a.wrong += b.wrong
	a.sure += b.sure
	a.guarded += b.guarded
	a.torn += b.torn
	a.missed += b.missed
	a.invented += b.invented
}

func (m measured) score(f *fixture) score { return m.scoreBut(f, nil) }

// scoreBut leaves the frames out that unseen names.
func (m measured) scoreBut(f *fixture, unseen map[int64]bool) score {
	s := score{decisions: f.frames - 1 - len(unseen), unseen: len(unseen)}
	got := m.starts(f.h)
	has := func(list []start, n int64) bool {
		return slices.ContainsFunc(list, func(x start) bool { return x.n == n })
	}
	doubt := func(n int64) bool {
		at := captureRate.TimeOf(n)
		for _, x := range m.frames {
			if x.Doubtful && x.Begin <= at+captureRate.TimeOf(1) && x.End() >= at {
				return true
			}
		}
		return false
	}
	for n := int64(1); n < int64(f.frames); n++ {
		if unseen[n] {
			continue
		}
		if has(got, n) != has(f.starts, n) {
			s.wrong++
			s.where = append(s.where, n)
			if !doubt(n) {
				s.sure++
			}
		} else if doubt(n) {
			s.guarded++
		}
	}
	near := func(list []start, x start) bool {
		return slices.ContainsFunc(list, func(y start) bool {
			return math.Abs(float64((x.n-y.n)*int64(f.h)+int64(x.row-y.row))) <= 8
		})
	}
	for _, x := range f.starts {
		if x.row > 0 {
			s.torn++
		}
	}
	if s.torn > 0 {
		// Where a start may lie on either side of a captured frame's edge,
		// distances in rows say more than frame numbers.
		s.wrong, s.sure = 0, 0
	}
	for _, x := range f.starts {
		if s.torn > 0 && !near(got, x) {
			s.missed++
			if !doubt(x.n) {
				s.sure++
			}
		}
	}
	for _, x := range got {
		if (s.torn > 0 || x.row > 0) && !near(f.starts, x) {
			s.invented++
		}
	}
	return s
}

// reliability says how many of the decisions that are not marked are wrong.
func (s score) reliability() string {
	sure := s.decisions - s.guarded - (s.wrong - s.sure)
	return fmt.Sprintf("of %d that are sure %.2f in 1000 are wrong", sure, 1000*float64(s.sure)/float64(max(sure, 1)))
}

func (s score) String() string {
	return fmt.Sprintf("%5d decisions (%d unseen besides) %4d wrong (%4d not marked doubtful) %4d right but marked; %3d tears %3d missed %3d invented",
		s.decisions, s.unseen, s.wrong, s.sure, s.guarded, s.torn, s.missed, s.invented)
}
