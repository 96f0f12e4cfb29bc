package measure

import "math"

// findSeams returns, for every row of every frame, by how much more it stands
// off from the row over it than where either is taken from the picture before or
// after, beside the rows around it and the same row at other times, in spreads
// of that measure. Two rows of one moment differ by what the texture does, and
// rows of two moments by the motion as well: at a tear these meet in one picture,
// elsewhere only across pictures.
func (w *window) findSeams() [][]float32 {
	n, rows := len(w.obs), len(w.obs[0].step)
	out := make([][]float32, n)
	sharp := make([][]float32, n)
	log := func(v float32) float32 { return float32(math.Log2(float64(v) + 0.5)) }
	for i, o := range w.obs {
		out[i] = make([]float32, rows)
		sharp[i] = make([]float32, rows)
		meets := out[i]
		for y := 1; y < rows; y++ {
			least := o.cross[y]
			if i+1 < n {
				least = min(least, w.obs[i+1].cross[y])
			}
			meets[y] = log(o.step[y]) - log(least)
		}
		for y := 2; y+2 < rows; y++ {
			// Beside the nearest of them: where something that moves begins or ends,
			// the rows on one side stand still. Textures may alternate.
			sharp[i][y] = meets[y] - max((meets[y-1]+meets[y+1])/2, (meets[y-2]+meets[y+2])/2)
		}
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
	near := func(i, y int) float32 {
		if i < 0 || i >= n {
			return 0
		}
		return max(sharp[i][max(y-2, 0)], sharp[i][y-1], sharp[i][y], sharp[i][min(y+1, rows-1)], sharp[i][min(y+2, rows-1)], 0)
	}
	for i := range out {
		for y := range out[i] {
			out[i][y] = 0
			if y >= 2 && y+1 < rows && w.changes(i, y) {
				out[i][y] = sharp[i][y] - max(usual[y], (near(i-1, y)+near(i+1, y))/2, 0)
			}
		}
	}
	clear(out[n-1]) // what comes after it would have to be known
	// One spread for all: the median of amounts.
	sample = sample[:0]
	for i := 0; i < n; i++ {
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

// changes reports whether a row of frame i changed to a degree that counts beside
// what it does before and after: from a tear on, rows do.
func (w *window) changes(i, y int) bool {
	most := float32(0)
	for _, k := range [...]int{i - 1, i + 1} {
		if k >= 0 && k < len(w.obs) {
			most = max(most, w.obs[k].row[y])
		}
	}
	return w.obs[i].row[y] > most/4
}

// ratio returns by how many octaves a row changed more to frame i than from it.
func (w *window) ratio(i, y int) float32 {
	r := math.Log2((float64(w.obs[i].row[y]) + leastChange) / (float64(w.obs[i+1].row[y]) + leastChange))
	return float32(min(max(r, -2), 2))
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
		for y := range rows {
			sum[y+1] = sum[y] + w.ratio(i, y)
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
