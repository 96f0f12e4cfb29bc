package measure

import "math"

// startRow returns the row of the capture at which the frame that began at
// step s was first shown, 0 at the top, and the evidence in nats that it is there
// rather than anywhere near.
func (v *verdict) startRow(s int, w *window, c *comparer) (row int, sure float64) {
	n, step := s/v.steps, s%v.steps
	if step == 0 {
		return 0, math.Inf(1)
	}
	// The rows about the step's top are parted where they begin to change more to
	// this captured frame than from it: the parting with the least squares.
	guess := (step - v.top) * v.rows
	from, to := max(0, guess-2*v.rows-2), min(len(w.obs[n].row), guess+2*v.rows+2)
	if to-from < 4 {
		return min(max(1, c.region.Min.Y+guess), c.size.Y-1), 0
	}
	size := to - from
	levels := make([]float64, size)
	for y := range levels {
		if n+1 < len(w.obs) {
			levels[y] = float64(w.obs[n].followedBy(w.obs[n+1]).ratio[from+y])
		} else {
			levels[y] = math.Log2(float64(w.obs[n].row[from+y]) + leastChange)
		}
	}
	_, total := meanSpread(levels)
	total *= total * float64(size)
	between, most := make([]float64, size), 0.0
	for cut := 1; cut < size; cut++ {
		rise := max(mean(levels[cut:])-mean(levels[:cut]), 0)
		between[cut] = rise * rise * float64(cut) * float64(size-cut) / float64(size)
		most = max(most, between[cut])
	}
	// The likelihood of two normal groups on either side of the cut, with what
	// the best cut leaves as their spread, and the seam and the turn beside it.
	variance := (total-most)/float64(size) + leastRowSpread*leastRowSpread
	best, at := math.Inf(-1), guess-from
	for cut := 1; cut < size; cut++ {
		l := between[cut] / (2 * variance)
		l += seamNats*max(float64(v.seams[n][from+cut]), 0) + turnNats*max(float64(v.turns[n][from+cut]), 0)
		if l > best {
			best, at = l, cut
		}
	}
	if n+1 < len(w.obs) && !followed(w.obs[n].row[:from+at], w.obs[n+1].row[:from+at]) {
		best = 0
	}
	return min(max(1, c.region.Min.Y+from+at), c.size.Y-1), best
}

// leastRowSpread is the spread, in octaves, that the ratios of neighbouring rows
// have at least; seamNats and turnNats are what a spread of a seam and of a turn
// is worth. Turns, being of many rows, say little of which.
const (
	leastRowSpread = 0.12
	seamNats       = 6
	turnNats       = 1
)

// followed reports whether the rows above a tear change to the next picture, as they
// must: by what they changed to this one, here, and then, next. Else they only change
// less than those below, like a still edge of the picture.
func followed(here, next []float32) bool {
	const near = 32 // rows
	from := max(0, len(here)-near)
	var now, then float32
	for y := from; y < len(here); y++ {
		now += here[y]
		then += next[y]
	}
	return 2*then >= now
}
