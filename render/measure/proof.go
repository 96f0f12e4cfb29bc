package measure

// A torn frame is proven by the rows beside its first one: those above show nothing new
// in its own captured picture and as much as new frames do in the next, and those below
// the reverse. What coding leaves in a picture that repeats is less than a new frame's
// change, and it does not come to rest where a tear needs it.
const (
	leastContrast = 1  // octaves by which the change of such rows exceeds their rest
	leastLoud     = -1 // octaves, beside what new frames usually change there
	provenShare   = 0.7
)

// contrast adds up, over the rows of steps from to to, by how many octaves they change
// more to frame loud than to frame quiet, and how loud they are then. It reports whether
// that is what a new frame and its repetition do; tested is false where the rows are none,
// or never rest.
func (r *rowWindow) contrast(from, to, quiet, loud int) (tested, ok bool) {
	var n, contrast, level float64
	for g := max(from-r.above, 0); g < min(to-r.above, r.bands); g++ {
		if r.dips[g] {
			x := r.level[meanView][g]
			contrast += x[loud] - x[quiet]
			level += x[loud]
			n++
		}
	}
	return n > 0, contrast >= leastContrast*n && level >= leastLoud*n
}

// proven reports whether the rows on both sides of start i prove that it is torn.
func (r *rowWindow) proven(starts []int, i int) (tested, ok bool) {
	n := starts[i] / r.steps
	if n+1 >= len(r.obs) {
		return false, false
	}
	base, row := n*r.steps, starts[i]%r.steps
	rest, next := 0, r.steps // rows above that rest from, and rows below that rest to
	if i > 0 {
		rest = max(starts[i-1]+r.steps-base, 0)
	}
	if i+1 < len(starts) {
		next = min(starts[i+1]-base-r.steps, r.steps)
	}
	above, rises := r.contrast(rest, row, n, n+1)
	below, falls := r.contrast(row, next, n+1, n)
	return above && below, rises && falls && !r.obs[n].blended
}

// proofs marks those torn frames of v that nothing proves, and reports whether enough of
// them are proven for any to be believed.
func (r *rowWindow) proofs(v *verdict) bool {
	tested, proven := 0, 0
	for i, s := range v.starts {
		if s%r.steps == 0 {
			continue
		}
		had, ok := r.proven(v.starts, i)
		if had {
			tested++
		}
		if had && ok {
			proven++
		} else {
			v.sure[s/r.steps] = min(v.sure[s/r.steps], 0)
		}
	}
	return 2*tested >= v.torn && float64(proven) >= provenShare*float64(tested)
}
