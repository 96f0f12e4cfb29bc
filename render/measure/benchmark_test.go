package measure

import (
	"image"
	"testing"

	"fairframe/render/pacing"
)

func BenchmarkCompare1080p(b *testing.B) {
	size := image.Pt(1920, 1080)
	c := newComparer(size, Settings{Region: image.Rectangle{Max: size}})
	d := c.newDifference()
	pics := [2][]byte{make([]byte, size.X*size.Y), make([]byte, size.X*size.Y)}
	for i := range pics[0] {
		pics[0][i], pics[1][i] = byte(i*7), byte(i*11)
	}
	b.SetBytes(int64(size.X * size.Y))
	for i := 0; b.Loop(); i++ {
		c.compare(&pics[i%2], d)
	}
}

func BenchmarkAdd1080p(b *testing.B) {
	size := image.Pt(1920, 1080)
	src := newSource("pan", 240, 1)
	var pics [8][]byte
	for i := range pics {
		pics[i] = make([]byte, size.X*size.Y)
		src.draw(pics[i], size.X, size.Y, float64(i)/30)
	}
	for _, c := range []struct {
		name string
		hold int // captured frames that show one picture
	}{{"60in60", 1}, {"30in60", 2}} {
		b.Run(c.name, func(b *testing.B) {
			m, err := New(Source{Size: size, Rate: captureRate}, Settings{}, func(pacing.Frame) error { return nil })
			if err != nil {
				b.Fatal(err)
			}
			b.SetBytes(int64(size.X * size.Y))
			for i := 0; b.Loop(); i++ {
				if err := m.Add(pics[i/c.hold%len(pics)]); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
