package comparison

import (
	"reflect"
	"slices"

	"go.yaml.in/yaml/v3"
)

// readMark reads a mark: its place is a box, an arrow or a point, its note or both.
func readMark(d *decoder, m *Mark, n *yaml.Node, name string, _ reflect.StructTag) bool {
	var a annotation
	if !d.into(&a, n, name, "") {
		return false
	}
	*m = Mark{Note: a.Note, Capture: a.Capture, From: a.From, To: a.To}
	d.at[&m.Capture], d.at[&m.From], d.at[&m.To] = d.at[&a.Capture], d.at[&a.From], d.at[&a.To]
	shapes := 0
	for _, one := range []struct {
		pos
		shape string
		at    [2]Point
	}{
		{d.at[&a.Box], MarkBox, a.Box}, {d.at[&a.Arrow], MarkArrow, a.Arrow},
		{d.at[&a.At], MarkNote, [2]Point{a.At, a.At}},
	} {
		if one.present() {
			shapes++
			m.Shape, m.A, m.B = one.shape, one.at[0], one.at[1]
		}
	}
	const forms = "such as {box: [0.4, 0.4, 0.2, 0.2]}, {arrow: [[0.2, 0.8], [0.4, 0.5]]} " +
		"or {note: Haze, at: [0.5, 0.3]}"
	switch {
	case shapes == 0:
		return d.fail(n, forms, "a mark has a place: box, arrow or at")
	case shapes > 1:
		return d.fail(n, "write two marks", "a mark has one place: box, arrow or at")
	case m.Shape == MarkNote && m.Note == "":
		return d.fail(n, forms, "a mark that is only at a place needs a note")
	}
	return true
}

// marks keeps the marks of the captures shown. Marks under defaults may name captures
// that only other scenes show.
func (r *sceneResolver) marks() {
	s := r.s
	marks := s.Marks
	s.Marks = nil
	for i := range marks {
		m := &marks[i]
		switch at := r.at[&m.Capture]; {
		case !r.ok(m) || !r.whenShown(m):
		case !at.present() || len(s.Captures) == 0 || slices.Contains(s.Captures, m.Capture):
			s.Marks = append(s.Marks, *m)
		case r.own("marks") || !slices.Contains(r.keys, m.Capture):
			r.shows(at, "capture", m.Capture)
		}
	}
}

// whenShown checks the stretch of the scene in which a mark is shown.
func (r *sceneResolver) whenShown(m *Mark) bool {
	from, to := r.at[&m.From], r.at[&m.To]
	switch {
	case r.s.Length == 0: // which is the mistake to mend
	case m.From >= r.s.Length:
		return r.failAt(from, "the times of marks count from the scene's start",
			"from: the scene ends at %s, before the mark appears", r.s.Length)
	case to.present() && m.To <= m.From:
		return r.failAt(to, "", "to: the mark goes before it appears")
	}
	return true
}
