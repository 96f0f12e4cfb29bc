package measure

import "fmt"

// A tally gathers what the summary states about the evidence.
type tally struct {
	same, fresh    float64 // differences of repeated and of new frames, in levels a pixel
	sames, freshes int64
	most, least    float64 // greatest and least of those without doubt
	found          bool
	exact          int64
}

// tally adds the window's frame i to t.
func (w *window) tally(i int, fresh, sure bool, t *tally) {
	v := w.wholeRaw[meanView][i]
	if fresh {
		t.fresh += v
		t.freshes++
		if sure && (!t.found || v < t.least) {
			t.least, t.found = v, true
		}
	} else {
		t.same += v
		t.sames++
		if sure {
			t.most = max(t.most, v)
		}
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
	s.MostRepeated, s.LeastNew, s.Threshold = t.most, t.least, (t.most+t.least)/2
	s.Exact = t.exact
}

// warn adds what the reader should know.
func (s *Summary) warn() {
	if s.Frames > 0 && s.Doubtful*20 > s.Frames {
		s.Warnings = append(s.Warnings, fmt.Errorf("measure: %d of %d frames are doubtful; new and repeated pictures of this capture can hardly be told apart", s.Doubtful, s.Frames))
	}
	if s.New <= 1 {
		s.Warnings = append(s.Warnings, fmt.Errorf("measure: the picture never changes"))
	}
}
