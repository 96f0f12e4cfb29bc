package measure

// An encoder may code a picture as a mix of those it predicts it from, which costs it
// next to nothing. A repeated frame that is coded half-way to the next one then changes
// as much as a new one, and a new one as little as a repeated one: no difference of
// pictures tells them apart, and such pictures are marked.
const (
	leastWay  = 0.1  // of the way from the picture before to the one after that a mix has come
	mixDetour = 1.2  // times as far by way of the mix as without
	mixDetail = 0.93 // of the detail of either neighbour that a mix has at most
)

// blend reports whether the second of three pictures is a mix of the others: each of its
// cells, be it more of one or of the other, lies between them, and it has less detail than
// both where it changes. A frame of its own lies elsewhere, and has detail of its own.
func blend(a, b, c *difference) bool {
	var to, from, way int
	for i := 0; i < len(b.mean); i += 3 {
		u, v, w := int(a.mean[i]), int(b.mean[i]), int(c.mean[i])
		to += max(v-u, u-v)
		from += max(w-v, v-w)
		way += max(w-u, u-w)
	}
	if least := leastWay * float64(way); float64(to) <= least || float64(from) <= least || float64(to+from) > mixDetour*float64(way) {
		return false
	}
	var usual, detail, before, after float32
	for y := range b.row {
		usual += b.row[y] / float32(len(b.row))
	}
	for y, v := range b.row {
		if 2*v >= usual {
			detail += b.step[y]
			before += a.step[y]
			after += c.step[y]
		}
	}
	return detail < mixDetail*min(before, after)
}
