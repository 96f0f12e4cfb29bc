package align

import "math"

const (
	entry    = 0.2 // evidence that a proposal costs, so that none beats a poor one
	changing = 0.6 // evidence that another offset costs
	longGap  = 3   // blocks without an offset that end a stretch
)

// compatible reports whether two blocks' proposals may be one offset, allowing
// for clocks that drift apart by up to 500 parts per million.
func compatible(p, q proposal, between float64) bool {
	slack := 0.035
	if p.soundly && q.soundly {
		slack = 0.005
	}
	return math.Abs(p.offset-q.offset) <= slack+500e-6*math.Abs(between)
}

// path chooses for each block one of its proposals, or none (-1), so that the
// sum of evidence less what entries and changes cost is greatest. A block without
// a choice does not let the offset change for nothing.
func path(blocks []block) []int {
	type state struct {
		score float64
		block int // of the last choice
		pick  int // -1: nothing chosen so far
		prev  *state
		here  int // what this block chose
	}
	ended := []*state{{pick: -1, here: -1}}
	for i := range blocks {
		// Of the states that chose nothing here, all survive: they remember
		// different offsets. The best few are enough.
		next := append([]*state(nil), ended...)
		for k := range next {
			next[k] = &state{next[k].score, next[k].block, next[k].pick, ended[k], -1}
		}
		for k, p := range blocks[i].found {
			best := (*state)(nil)
			score := math.Inf(-1)
			for _, s := range ended {
				v := s.score + p.evidence - entry
				if s.pick >= 0 && !compatible(blocks[s.block].found[s.pick], p, blocks[i].from-blocks[s.block].from) {
					v -= changing
				}
				if v > score {
					best, score = s, v
				}
			}
			next = append(next, &state{score, i, k, best, k})
		}
		ended = prune(next, func(s *state) float64 { return s.score }, 24)
	}
	best := ended[0]
	for _, s := range ended {
		if s.score > best.score {
			best = s
		}
	}
	picks := make([]int, len(blocks))
	for i := len(blocks) - 1; i >= 0; i-- {
		picks[i] = best.here
		best = best.prev
	}
	return picks
}

// prune keeps the most best ones.
func prune[T any](list []T, score func(T) float64, most int) []T {
	for len(list) > most {
		worst := 0
		for i := range list {
			if score(list[i]) < score(list[worst]) {
				worst = i
			}
		}
		list[worst] = list[len(list)-1]
		list = list[:len(list)-1]
	}
	return list
}

// run is a row of blocks in which one offset holds.
type run struct{ blocks []int }

// runs cuts a path where the offset changes, or nothing is known for long.
func runs(blocks []block, picks []int) []run {
	var list []run
	last := -1
	for i, k := range picks {
		if k < 0 {
			continue
		}
		if last < 0 || i-last > longGap || !compatible(blocks[last].found[picks[last]], blocks[i].found[k], blocks[i].from-blocks[last].from) {
			list = append(list, run{})
		}
		r := &list[len(list)-1]
		r.blocks = append(r.blocks, i)
		last = i
	}
	return list
}
