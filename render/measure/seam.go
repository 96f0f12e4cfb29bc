package measure

import (
	"math"
	"slices"
)

// findSeams returns, for every row of every frame, by how much more it stands
// off from the row over it than where either is taken from the picture before or
// after, beside the rows around it and the same row at other times, in spreads
// of that measure. Two rows of one moment differ by what the texture does, and
// rows of two moments by the motion as well: at a tear these meet in one picture,
// elsewhere only across pictures.
func (w *window) findSeams() [][]float32 {
	n, rows := len(w.obs), len(w.obs[0].step)
	out := make([][]float32, n)
	// Of the last frame nothing can be said: what comes after it would have to be known.
	nothing := make([]float32, rows)
	sharp := slices.Repeat([][]float32{nothing}, n)
	for i := range n - 1 {
		sharp[i] = w.obs[i].followedBy(w.obs[i+1]).sharp
	}
	// What is sharp in the same row at most times belongs to the picture: the
	// edge of a HUD, a bar.
	usual := make([]float32, rows)
	sample := make([]float32, 0, n)
	for y := range usual {
		sample = sample[:0]
		for i := 0; i < n; i += 1 + (i*7)%5 {
			sample = append(sample, sharp[i][y])
		}
		usual[y] = quantile(sample, 0.5)
	}
	out[n-1] = make([]float32, rows)
	here := nothing
	for i := range n - 1 {
		out[i] = make([]float32, rows)
		last, next := here, w.obs[i+1].row
		here = w.obs[i].row
		for y := 2; y+1 < rows; y++ {
			// To a degree that counts beside what it does before and after, a row
			// changes from a tear on.
			if here[y] > max(last[y], next[y])/4 {
				out[i][y] = sharp[i][y] - max(usual[y], 0)
			}
		}
	}
	// One spread for all: the median of amounts.
	sample = sample[:0]
	for i := range n - 1 {
		for y := 2 + i%3; y+1 < rows; y += 3 {
			v := sharp[i][y] - usual[y]
			if v != 0 { // where nothing moves, nothing meets
				sample = append(sample, max(v, -v))
			}
		}
	}
	inSpreads(out, sample, 0.02)
	return out
}

// inSpreads divides values by their spread, taken from a sample of their amounts:
// 1.4826 times the median, which is the standard deviation of what is normally
// distributed, and a least one more. An empty sample leaves them as they are.
func inSpreads(values [][]float32, amounts []float32, least float32) {
	if len(amounts) == 0 {
		return
	}
	spread := quantile(amounts, 0.5)*1.4826 + least
	for _, row := range values {
		for y := range row {
			row[y] /= spread
		}
	}
}

// A succession is what two differences, one after the other, say of each row.
type succession struct {
	// sharp is by how many octaves the row stands off more from the row over it in
	// this picture than across the pictures, beside the rows around it.
	sharp []float32
	// ratio is by how many octaves the row changed more to this frame than from it.
	ratio []float32
}

// followedBy returns what o and the next frame's observation say together. It is
// worked out once: a frame belongs to two windows.
func (o *observation) followedBy(next *observation) *succession {
	if o.succession != nil {
		return o.succession
	}
	rows := len(o.row)
	s := &succession{sharp: make([]float32, rows), ratio: make([]float32, rows)}
	meets := make([]float32, rows)
	for y := 1; y < rows; y++ {
		meets[y] = log2((o.step[y] + 0.5) / (min(o.cross[y], next.cross[y]) + 0.5))
	}
	for y := 2; y+2 < rows; y++ {
		// Beside the nearest of them: where something that moves begins or ends,
		// the rows on one side stand still. Textures may alternate.
		s.sharp[y] = meets[y] - max((meets[y-1]+meets[y+1])/2, (meets[y-2]+meets[y+2])/2)
	}
	for y := range s.ratio {
		s.ratio[y] = min(max(log2((o.row[y]+leastChange)/(next.row[y]+leastChange)), -2), 2)
	}
	o.succession = s
	return s
}

// leastChange is what changes of rows are granted, in levels, before they are
// set against each other.
const leastChange = 0.25

// findTurns returns, for every row of every frame, by how much more the rows
// from there on changed to this frame than from it, beside those above, in
// spreads of that measure. Above a tear it is the next captured frame that goes
// one frame of the game further, below it this one; and that a row moves more
// than another does not count, since it does so in both. Where either side stands
// still at that, it tells nothing.
func (w *window) findTurns() [][]float32 {
	n, rows := len(w.obs), len(w.obs[0].row)
	out := make([][]float32, n)
	reach := max(rows/90, 4)
	sum, here, next := make([]float32, rows+1), make([]float32, rows+1), make([]float32, rows+1)
	var sample []float32
	for i := range out {
		out[i] = make([]float32, rows)
		if i+1 == n {
			break
		}
		ratio := w.obs[i].followedBy(w.obs[i+1]).ratio
		for y := range rows {
			sum[y+1] = sum[y] + ratio[y]
			here[y+1] = here[y] + w.obs[i].row[y]
			next[y+1] = next[y] + w.obs[i+1].row[y]
		}
		for y := reach; y+reach <= rows; y++ {
			below, above := here[y+reach]-here[y], next[y]-next[y-reach]
			if min(below, above) > max(below, above)/8 {
				out[i][y] = (sum[y+reach] - 2*sum[y] + sum[y-reach]) / float32(reach)
			}
		}
		for y := reach + i%5; y+reach <= rows; y += 5 {
			sample = append(sample, max(out[i][y], -out[i][y]))
		}
	}
	inSpreads(out, sample, 0.1)
	return out
}

// seamFrom is how many spreads a row must stand off for anything to be made of
// it: of the rows of a picture that long, hardly one does by chance.
const seamFrom = 3

// seamEvidence returns the seams' evidence by step, in nats.
func (r *rowWindow) seamEvidence() []float64 {
	out := make([]float64, len(r.obs)*r.steps)
	for n, rows := range r.seams {
		for y, z := range rows[:r.bands*r.group] {
			// A start belongs to the step that begins nearest to its row.
			g := min((y+r.group/2)/r.group, r.bands-1)
			at := n*r.steps + r.above + g
			both := math.Hypot(float64(max(z, 0)), float64(max(r.turns[n][y], 0)))
			out[at] = max(out[at], min(3*(both-seamFrom), 12))
		}
	}
	return out
}
