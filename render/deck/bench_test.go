package deck

import (
	"image"
	"testing"

	"fairframe/layout"
)

func benchmarkDraw(b *testing.B, size image.Point, captures int, place layout.Place) {
	d := newDeck(b, demo(b, size, captures, place))
	buf := make([]byte, d.FrameBytes())
	d.Draw(buf, 0)
	b.ReportAllocs()
	b.ResetTimer()
	for i := range b.N {
		d.Draw(buf, i%d.Frames)
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "frames/s")
}

func BenchmarkDraw1080pBelow(b *testing.B) {
	benchmarkDraw(b, image.Pt(1920, 1080), 2, layout.Below)
}

func BenchmarkDraw1080pBelowThree(b *testing.B) {
	benchmarkDraw(b, image.Pt(1920, 1080), 3, layout.Below)
}

func BenchmarkDraw1080pOver(b *testing.B) {
	benchmarkDraw(b, image.Pt(1920, 1080), 2, layout.Over)
}

func BenchmarkDraw1080pOverThree(b *testing.B) {
	benchmarkDraw(b, image.Pt(1920, 1080), 3, layout.Over)
}

func BenchmarkDraw2160pBelow(b *testing.B) {
	benchmarkDraw(b, image.Pt(3840, 2160), 2, layout.Below)
}

func BenchmarkNew1080p(b *testing.B) {
	s := demo(b, image.Pt(1920, 1080), 2, layout.Below)
	for b.Loop() {
		newDeck(b, s)
	}
}
