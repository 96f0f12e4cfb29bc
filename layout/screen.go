package layout

import (
	"image"
	"slices"
)

// OnTop are the panes that lie over another one, with the bars around them.
func (s Screen) OnTop() []image.Rectangle {
	var list []image.Rectangle
	for i, p := range s.Panes {
		if slices.ContainsFunc(s.Panes[:i],
			func(q Pane) bool { return q.Area != p.Area && q.Area.Overlaps(p.Area) }) {
			list = append(list, p.Area)
		}
	}
	if list != nil {
		list = append(list, s.Dividers...)
	}
	return list
}
