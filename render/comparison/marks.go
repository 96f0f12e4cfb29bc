package comparison

import (
	"slices"
	"time"
)

// marks gives a scene its marks: its own, or else those under defaults, of which
// it leaves out what belongs to captures that it does not show.
func (r *resolver) marks(s *Scene, own *list[annotation], base *sceneKeys) {
	marks, inherited := own, false
	if !own.present() {
		marks, inherited = &base.Marks, true
	}
	for i := range marks.items {
		doc := &marks.items[i]
		m, ok := r.mark(s, doc)
		if !ok {
			continue
		}
		if key := doc.Capture; key.present() && len(s.Captures) > 0 &&
			!slices.Contains(s.Captures, key.string) {
			if !inherited || !slices.Contains(r.keys, key.string) {
				r.inScene([]place{{key.string, key.mark}}, "capture", s.Captures)
			}
			continue
		}
		s.Marks = append(s.Marks, m)
	}
}

// mark resolves one mark.
func (r *resolver) mark(s *Scene, doc *annotation) (m Mark, ok bool) {
	if !doc.ok {
		return m, false
	}
	m = Mark{Note: doc.Note.string, Capture: doc.Capture.string}
	shapes := 0
	for _, one := range []struct {
		mark
		shape string
		a, b  Point
	}{
		{doc.Box.mark, MarkBox, doc.Box.Min, doc.Box.Max},
		{doc.Arrow.mark, MarkArrow, doc.Arrow.Tail.Point, doc.Arrow.Tip.Point},
		{doc.At.mark, MarkNote, doc.At.Point, doc.At.Point},
	} {
		if one.present() {
			shapes++
			m.Shape, m.A, m.B = one.shape, one.a, one.b
		}
	}
	const forms = "such as {box: [0.4, 0.4, 0.2, 0.2]}, {arrow: [[0.2, 0.8], [0.4, 0.5]]} " +
		"or {note: Haze, at: [0.5, 0.3]}"
	switch {
	case shapes == 0:
		return m, r.failAt(doc.mark, forms, "a mark has a place: box, arrow or at")
	case shapes > 1:
		return m, r.failAt(doc.mark, "write two marks", "a mark has one place: box, arrow or at")
	case m.Shape == MarkNote && m.Note == "":
		return m, r.failAt(doc.mark, forms, "a mark that is only at a place needs a note")
	}
	return m, r.when(s, doc, &m)
}

// when resolves the stretch of the scene in which a mark is shown.
func (r *resolver) when(s *Scene, doc *annotation, m *Mark) bool {
	if s.Length == 0 || r.doc.Output.Rate.present() && !r.doc.Output.Rate.ok {
		return true // that is the mistake to mend
	}
	for _, one := range []struct {
		moment
		to *time.Duration
	}{{doc.From, &m.From}, {doc.To, &m.To}} {
		if !one.present() {
			continue
		}
		d, err := one.Time.at(r.f.Output.Rate)
		if err != nil {
			return r.failAt(one.mark, err.Hint, "%s", err.Msg)
		}
		*one.to = d
	}
	switch {
	case m.From >= s.Length:
		return r.failAt(doc.From.mark, "the times of marks count from the scene's start",
			"from: the scene ends at %s, before the mark appears", s.Length)
	case doc.To.present() && m.To <= m.From:
		return r.failAt(doc.To.mark, "", "to: the mark goes before it appears")
	}
	return true
}
