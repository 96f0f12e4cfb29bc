package measure

import "fmt"

// A tally gathers what the summary states about the evidence.
type tally struct {
	same, fresh    float64 // differences of repeated and of new frames, in levels a pixel
	sames, freshes int64
	exact          int64
}

// tally adds the window's frame i to t.
func (w *window) tally(i int, fresh bool, t *tally) {
	v := w.wholeRaw[meanView][i]
	if fresh {
		t.fresh += v
		t.freshes++
	} else {
		t.same += v
		t.sames++
	}
	if w.exact {
		t.exact++
	}
}

func (t *tally) into(s *Summary) {
	if t.sames > 0 {
		s.Noise = t.same / float64(t.sames)
	}
	if t.freshes > 0 {
		s.Motion = t.fresh / float64(t.freshes)
	}
	s.Exact = t.exact
}

// warn adds what the reader should know.
func (s *Summary) warn() {
	if s.Frames > 0 && s.Doubtful*20 > s.Frames {
		s.Warnings = append(s.Warnings, fmt.Errorf("measure: %d of %d frames are doubtful; the capture hardly tells new pictures from repeated ones", s.Doubtful, s.Frames))
	}
	if s.Frames <= 1 {
		s.Warnings = append(s.Warnings, fmt.Errorf("measure: the picture never changes"))
	}
}
