package demo

import (
	"encoding/binary"
	"math"
)

// scaler turns a plane in columns of one size into a plane in rows of another,
// as the display hardware of a machine fits its raster to the screen. It
// resamples with the filter of Mitchell and Netravali (1988, B = C = 1/3), or
// copies where the size stays the same.
//
// Eight pixels are worked on at once, in four 16-bit lanes of two words. The
// filter's negative lobes add up to less than 7 %, so planes that stay within
// [lumaMin, lumaMax] cannot leave a byte's range in two passes, and no lane
// can borrow from the next.
type scaler struct {
	w, h, stride int // of the columns
	dw, dh       int
	pitch        int // of a row of wide and of the output, a multiple of 8
	across, down []tap
	tall         []uint8 // dw columns of stride rows
	wide         []uint8 // stride rows of pitch pixels
}

// tap is what makes one output line of four input lines.
type tap struct {
	at             [4]int // input lines
	n0, p1, p2, n3 uint64 // weights in 1/64; n0 and n3 are subtracted
}

func newScaler(w, h, stride, dw, dh int) *scaler {
	s := &scaler{w: w, h: h, stride: stride, dw: dw, dh: dh, pitch: (dw + 7) &^ 7}
	s.across, s.down = taps(w, dw), taps(h, dh)
	s.tall = make([]uint8, s.pitch*stride)
	s.wide = make([]uint8, stride*s.pitch)
	return s
}

// taps returns the weights for n output lines from m input lines, or nil when
// there is nothing to do.
func taps(m, n int) []tap {
	if m == n {
		return nil
	}
	list := make([]tap, n)
	for i := range list {
		pos := (float64(i)+0.5)*float64(m)/float64(n) - 0.5
		first := int(math.Floor(pos))
		t := &list[i]
		*t = tapAt(pos - float64(first))
		for k := range t.at {
			t.at[k] = min(m-1, max(0, first-1+k))
		}
	}
	return list
}

// tapAt returns the weights for a line that lies at, from 0 to 1, after the
// second of the four.
func tapAt(at float64) tap {
	var weight [4]int
	sum := 0
	for k := range weight {
		weight[k] = int(math.Round(64 * mitchell(at+1-float64(k))))
		sum += weight[k]
	}
	if at < 0.5 {
		weight[1] += 64 - sum
	} else {
		weight[2] += 64 - sum
	}
	// At a line's own place the far weights are positive (1/18 each); they
	// cannot be subtracted and go to the middle.
	for _, k := range []int{0, 3} {
		if weight[k] > 0 {
			weight[(k+3)/3] += weight[k]
			weight[k] = 0
		}
	}
	return tap{n0: uint64(-weight[0]), p1: uint64(weight[1]), p2: uint64(weight[2]), n3: uint64(-weight[3])}
}

// linear is tapAt without lobes, for planes that use a byte's whole range.
func linear(at float64) tap {
	k := uint64(64 * at)
	return tap{p1: 64 - k, p2: k}
}

func mitchell(x float64) float64 {
	x = math.Abs(x)
	switch {
	case x < 1:
		return (7*x*x*x - 12*x*x + 16.0/3) / 6
	case x < 2:
		return (-7.0/3*x*x*x + 12*x*x - 20*x + 32.0/3) / 6
	}
	return 0
}

// line makes one line of len(dst) pixels, a multiple of 8.
func (t *tap) line(dst, src []uint8, stride int) {
	const low = 0x00ff00ff00ff00ff
	const half = 0x0020002000200020
	n := len(dst)
	a, b := src[t.at[0]*stride:][:n], src[t.at[1]*stride:][:n]
	c, d := src[t.at[2]*stride:][:n], src[t.at[3]*stride:][:n]
	for i := 0; i+8 <= n; i += 8 {
		pa, pb := binary.LittleEndian.Uint64(a[i:]), binary.LittleEndian.Uint64(b[i:])
		pc, pd := binary.LittleEndian.Uint64(c[i:]), binary.LittleEndian.Uint64(d[i:])
		even := (pb&low)*t.p1 + (pc&low)*t.p2 + half - (pa&low)*t.n0 - (pd&low)*t.n3
		odd := (pb>>8&low)*t.p1 + (pc>>8&low)*t.p2 + half - (pa>>8&low)*t.n0 - (pd>>8&low)*t.n3
		binary.LittleEndian.PutUint64(dst[i:], even>>6&low|odd>>6&low<<8)
	}
}

// scale writes the plane src, in columns, to dst in rows of dw pixels.
func (s *scaler) scale(dst, src []uint8) {
	tall := src
	if s.across != nil {
		tall = s.tall
		for x := range s.dw {
			s.across[x].line(tall[x*s.stride:][:s.stride], src, s.stride)
		}
	}
	if s.down == nil && s.pitch == s.dw {
		turn(dst, tall, s.dw, s.stride, s.pitch, s.dh)
		return
	}
	turn(s.wide, tall, s.dw, s.stride, s.pitch, s.stride)
	for y := range s.dh {
		if s.pitch == s.dw {
			s.down[y].line(dst[y*s.dw:][:s.dw], s.wide, s.pitch)
			continue
		}
		// Odd widths are of small pictures only: copy by way of a padded row.
		row := s.tall[:s.pitch]
		if s.down != nil {
			s.down[y].line(row, s.wide, s.pitch)
		} else {
			row = s.wide[y*s.pitch:][:s.pitch]
		}
		copy(dst[y*s.dw:][:s.dw], row)
	}
}

// turn makes rows of columns: src holds n columns of stride rows, dst gets the
// first rows of them, pitch apart.
func turn(dst, src []uint8, n, stride, pitch, rows int) {
	for x := 0; x+8 <= n; x += 8 {
		c := src[x*stride:]
		y := 0
		for ; y+8 <= rows; y += 8 {
			turn8(dst[y*pitch+x:], pitch, c[y:], stride)
		}
		for ; y < rows; y++ {
			for k := range 8 {
				dst[y*pitch+x+k] = c[k*stride+y]
			}
		}
	}
	for x := n &^ 7; x < n; x++ {
		for y := range rows {
			dst[y*pitch+x] = src[x*stride+y]
		}
	}
}

// turn8 turns a square of 8 by 8, by swapping ever larger squares within it
// (Warren, Hacker's Delight, 7-3).
func turn8(dst []uint8, pitch int, src []uint8, stride int) {
	var m [8]uint64
	for k := range m {
		m[k] = binary.LittleEndian.Uint64(src[k*stride:])
	}
	for k := 0; k < 8; k += 2 {
		t := (m[k]>>8 ^ m[k+1]) & 0x00ff00ff00ff00ff
		m[k+1] ^= t
		m[k] ^= t << 8
	}
	for _, k := range [...]int{0, 1, 4, 5} {
		t := (m[k]>>16 ^ m[k+2]) & 0x0000ffff0000ffff
		m[k+2] ^= t
		m[k] ^= t << 16
	}
	for k := range 4 {
		t := (m[k]>>32 ^ m[k+4]) & 0x00000000ffffffff
		m[k+4] ^= t
		m[k] ^= t << 32
	}
	for k := range m {
		binary.LittleEndian.PutUint64(dst[k*pitch:], m[k])
	}
}
