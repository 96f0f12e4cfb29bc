package graph

import (
	"image"
	"testing"
)

// TestPartsOverParts: where parts overlap, what is under a translucent one shows
// through as the over operator says (Porter and Duff 1984).
func TestPartsOverParts(t *testing.T) {
	size := image.Pt(4, 4)
	p := make([]byte, LayerBytes(Alpha, size))
	blank(p, size)
	grey := func(y, a byte) []byte {
		src := make([]byte, LayerBytes(Alpha, size))
		for i := range 16 {
			src[i], src[24+i] = y, a
		}
		for i := range 8 {
			src[16+i] = 128
		}
		return src
	}
	whole := image.Rectangle{Max: size}
	lay(p, size, grey(100, 128), Alpha, whole)
	if p[0] != 100 || p[24] != 128 {
		t.Errorf("over nothing: luma %d alpha %d", p[0], p[24])
	}
	lay(p, size, grey(200, 128), Alpha, whole)
	// a = b = 128/255: A = a + b(1-a) = 0.7519, luma = (200a + 100b(1-a))/A = 166.8.
	if p[0] != 167 || p[24] != 192 {
		t.Errorf("over a translucent part: luma %d alpha %d", p[0], p[24])
	}
}
