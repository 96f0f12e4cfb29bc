package raster

import (
	"image"
	"math/rand/v2"
	"testing"
)

// BenchmarkDip tries one source of the 16 lines of a picture of 1920 pixels.
func BenchmarkDip(b *testing.B) {
	luma := make([]byte, 1920*64)
	for i := range luma {
		luma[i] = byte(60 + rand.IntN(100))
	}
	size := image.Pt(1920, 64)
	p := study(luma, size, image.Rectangle{Max: size}, nil)
	t := trier{to: 1920}
	for b.Loop() {
		t.dip(1600, p.lines[across])
	}
}

// BenchmarkStudy reads a picture of 1920x1080.
func BenchmarkStudy(b *testing.B) {
	size := image.Pt(1920, 1080)
	luma := make([]byte, size.X*size.Y)
	for i := range luma {
		luma[i] = byte(60 + rand.IntN(100))
	}
	for b.Loop() {
		study(luma, size, image.Rectangle{Max: size}, nil)
	}
}
