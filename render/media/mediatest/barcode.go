// Package mediatest makes captures whose every frame carries its number as a
// bar code, and reads the number back from a picture. It serves tests only.
package mediatest

import (
	"fmt"
	"image"
	"io"
)

// The code is upright bars as high as the picture, centred, so that any row
// and any crop around the centre shows it: a white and a black bar, numberBits
// bars of the number, most significant first, and checkBits of its checksum.
const (
	numberBits = 14
	checkBits  = 4
	bars       = 2 + numberBits + checkBits

	// MaxNumber is the greatest number that fits.
	MaxNumber = 1<<numberBits - 1
)

const (
	dark  = 40
	light = 210
)

// BarWidth is the width of one bar in a capture of the given width, in pixels.
func BarWidth(captureWidth int) int { return captureWidth / 80 }

func checksum(n int) int {
	sum := 5
	for ; n > 0; n >>= checkBits {
		sum += n & (1<<checkBits - 1)
	}
	return sum & (1<<checkBits - 1)
}

func bits(n int) [bars]bool {
	var b [bars]bool
	b[0] = true
	for i := range numberBits {
		b[2+i] = n>>(numberBits-1-i)&1 == 1
	}
	for i := range checkBits {
		b[2+numberBits+i] = checksum(n)>>(checkBits-1-i)&1 == 1
	}
	return b
}

// Picture draws capture frame n as a packed yuv420p picture of an even size.
func Picture(dst []byte, size image.Point, n int) {
	w := BarWidth(size.X)
	left := (size.X - bars*w) / 2
	row := dst[:size.X]
	for x := range row {
		row[x] = byte(90 + 60*x/size.X)
	}
	for i, on := range bits(n) {
		v := byte(dark)
		if on {
			v = light
		}
		for x := range w {
			row[left+i*w+x] = v
		}
	}
	for y := 1; y < size.Y; y++ {
		copy(dst[y*size.X:(y+1)*size.X], row)
	}
	chroma := dst[size.X*size.Y:]
	for i := range chroma {
		chroma[i] = 128
	}
}

// PictureBytes is the size of one Picture.
func PictureBytes(size image.Point) int { return size.X * size.Y * 3 / 2 }

// Read returns the number in a row of luma whose code is centred at centre and
// whose bars are barWidth pixels wide.
func Read(row []byte, centre, barWidth float64) (int, error) {
	left := centre - barWidth*bars/2
	var b [bars]bool
	for i := range b {
		x := int(left + (float64(i)+0.5)*barWidth)
		if x < 0 || x >= len(row) {
			return 0, fmt.Errorf("mediatest: bar %d lies outside the picture", i)
		}
		b[i] = row[x] > (dark+light)/2
	}
	n, sum := 0, 0
	for i := range numberBits {
		n <<= 1
		if b[2+i] {
			n |= 1
		}
	}
	for i := range checkBits {
		sum <<= 1
		if b[2+numberBits+i] {
			sum |= 1
		}
	}
	if !b[0] || b[1] || sum != checksum(n) {
		return 0, fmt.Errorf("mediatest: no bar code (%v)", b)
	}
	return n, nil
}

// Film returns a writer of frames 0 to n-1, as media.Tools.Encode wants it.
func Film(size image.Point, n int) func(io.Writer) error {
	return func(w io.Writer) error {
		buf := make([]byte, PictureBytes(size))
		for i := range n {
			Picture(buf, size, i)
			if _, err := w.Write(buf); err != nil {
				return err
			}
		}
		return nil
	}
}
