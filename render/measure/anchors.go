package measure

// Frames are decided in stretches between anchors, each with the frames around it as
// context. An anchor is a frame that the pictures near it choose, not its number: so a
// frame is decided in the same way wherever a measurement begins and ends, if it holds
// what lies around the frame. A grid of frame numbers would give a part of a capture,
// stored as a file of its own, other windows than the whole has.
const (
	// anchorReach is how many frames on either side an anchor is chosen from. Anchors
	// are then more than that apart, and about twice as far on average.
	anchorReach = 44
	// margin is the context on either side of the frames that are decided.
	margin = 44
	// longest is the most frames that are decided together: pictures that come back
	// again and again have no anchors.
	longest = 176
	// reach is how far what decides a frame may lie from it, but for such pictures.
	reach = longest
)

// key sets o's key, which stands for its picture: a hash of the cells' means.
func (o *observation) setKey() {
	var h, k uint64
	for _, v := range o.mean {
		k += 0x9e3779b97f4a7c15 // the golden ratio, as in Knuth's multiplicative hashing
		h += uint64(v) * (k | 1)
	}
	h ^= h >> 29
	h *= 0xbf58476d1ce4e5b9
	o.key = h ^ h>>32
}

// anchor reports whether the window's frame i is an anchor: its key is greater than
// those of all near it. In a picture that stands still it is every so many frames from
// the first, and the frame that ends it is one.
func (m *Meter) anchor(i int) bool {
	if still := m.window[i].still; still > 0 {
		return still%longest == 0
	}
	if i > 0 && m.window[i-1].still >= longest {
		return true
	}
	for k := max(0, i-anchorReach); k < min(len(m.window), i+anchorReach+1); k++ {
		if k != i && m.window[k].key >= m.window[i].key && (k < i || m.window[k].key > m.window[i].key) {
			return false
		}
	}
	return true
}
