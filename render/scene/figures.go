package scene

import (
	"fairframe/render/comparison"
	"fairframe/render/pacing"
)

// FiguresOf are the figures of a scene's captures, whose hitches are counted by one
// measure.
func FiguresOf(s *comparison.Scene, takes []Take) []pacing.Figures {
	list := make([]pacing.Figures, len(takes))
	for i, t := range takes {
		list[i] = t.Trace.Figures(t.Start, t.Start+s.Length, t.Probed.Refresh())
	}
	longest := pacing.OneHitchTime(list)
	for i, t := range takes {
		list[i].SetHitchTime(t.Trace, longest)
	}
	return list
}
