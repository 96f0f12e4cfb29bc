package demo

import (
	"image"
	"testing"
)

// BenchmarkShoot draws frames of each machine as captured at 1920x1080.
func BenchmarkShoot(b *testing.B) {
	w := smallWorld()
	size := image.Pt(1920, 1080)
	for _, m := range machines() {
		b.Run(m.key, func(b *testing.B) {
			cam := newCamcorder(w.paint(m.rasterFor(size), size), size)
			frame := make([]byte, size.X*size.Y*3/2)
			for i := 0; b.Loop(); i++ {
				cam.shoot(frame, float64(i%20)*0.55)
			}
		})
	}
}
