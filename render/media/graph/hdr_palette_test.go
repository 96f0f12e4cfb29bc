package graph

import (
	"image"
	"testing"

	"fairframe/render/media"
)

// BenchmarkInks turns a deck's worth of drawn codes, of few colours, into PQ.
func BenchmarkInks(b *testing.B) {
	size := image.Pt(1920, 320)
	part := Layer{Kind: Opaque, Area: image.Rectangle{Max: size}}
	src := make([]byte, LayerBytes(Opaque, size))
	for i := range src {
		src[i] = byte(16 + i%200)
		if i >= size.X*size.Y {
			src[i] = byte(120 + i/640%8)
		}
	}
	s := atlasOf([]Layer{part}, media.HDR(media.PQ))
	dst := make([]byte, s.bytes())
	for b.Loop() {
		s.put(dst, 0, part, src)
	}
}
