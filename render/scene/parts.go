package scene

import (
	"cmp"
	"slices"
	"time"
)

// Part is a stretch of a capture's time; To 0 is its end.
type Part struct{ From, To time.Duration }

// nearParts is how far parts may lie apart that are read as one: a decoder starts less
// often then.
const nearParts = 2 * time.Second

// MergeParts returns what parts cover, in order, with those that nearly meet as one.
func MergeParts(list []Part) []Part {
	list = slices.Clone(list)
	slices.SortFunc(list, func(a, b Part) int { return cmp.Compare(a.From, b.From) })
	var out []Part
	for _, p := range list {
		if n := len(out); n > 0 && (out[n-1].To == 0 || p.From <= out[n-1].To+nearParts) {
			if last := &out[n-1]; last.To != 0 && (p.To == 0 || p.To > last.To) {
				last.To = p.To
			}
			continue
		}
		out = append(out, p)
	}
	return out
}
