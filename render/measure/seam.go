package measure

import "math"

// findSeams returns, for every row of every frame, how much more the row stands
// off from the row over it than rows do around it and before and after, in
// units of the spread of that measure: where a picture is torn, two moments
// meet in one step.
func (w *window) findSeams() [][]float32 {
	n, rows := len(w.obs), len(w.obs[0].step)
	out := make([][]float32, n)
	sharp := make([][]float32, n)
	for i, o := range w.obs {
		out[i] = make([]float32, rows)
		sharp[i] = make([]float32, rows)
		logs := out[i]
		for y, v := range o.step {
			logs[y] = float32(math.Log2(float64(v) + 0.5))
		}
		for y := 2; y+1 < rows; y++ {
			sharp[i][y] = logs[y] - (logs[y-1]+logs[y+1])/2
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
			if y >= 2 && y+1 < rows {
				out[i][y] = sharp[i][y] - max(usual[y], (near(i-1, y)+near(i+1, y))/2, 0)
			}
		}
	}
	// One spread for all: the median of amounts.
	sample = sample[:0]
	for i := 0; i < n; i++ {
		for y := 2 + i%3; y+1 < rows; y += 3 {
			v := sharp[i][y] - usual[y]
			sample = append(sample, max(v, -v))
		}
	}
	spread := quantile(sample, 0.5)*1.4826 + 0.02
	for i := range out {
		for y := range out[i] {
			out[i][y] /= spread
		}
	}
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
			out[at] = max(out[at], min(3*(float64(z)-seamFrom), 12))
		}
	}
	return out
}
