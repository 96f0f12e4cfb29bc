package demo

import "math"

const detailBits = 8

// detailCell is the width in m of a point of the finest detail texture.
const detailCell = 0.125

func int8At(v float32) uint16 { return uint16(uint8(int8(min(127, max(-127, v))))) }

// detailTextures makes the fine structure of grass (low byte) and rock (high
// byte), with its levels of detail.
func detailTextures(seed uint64) []*texture {
	const n = 1 << detailBits
	grass := newOctaves(seed+21, 8, 5)
	rock := newOctaves(seed+22, 8, 5)
	t := &texture{bits: detailBits, at: make([]uint16, n*n)}
	parallel(n, func(j int) {
		for i := range n {
			x, y := float32(i)/n, float32(j)/n
			g := 62*grass.sum(x, y, 0.85) + 26*float32(unit(seed+23, i, j)-0.5)
			r := 230*(rock.ridged(x, y, 0.8)-0.45) + 20*float32(unit(seed+24, i, j)-0.5)
			t.at[j*n+i] = int8At(g) | int8At(r)<<8
		}
	})
	return withLevels(t, 6, true)
}

// cloudTextures makes the clouds: cover in the low byte, brightness in the high.
func cloudTextures(seed uint64, bits uint) []*texture {
	n := 1 << bits
	o := newOctaves(seed+31, 8, int(bits)-3)
	t := &texture{bits: bits, at: make([]uint16, n*n)}
	parallel(n, func(j int) {
		for i := range n {
			v := float64(o.sum(float32(i)/float32(n), float32(j)/float32(n), 0.72))
			cover := smooth(-0.1, 0.62, v)
			bright := 255 * (1 - 0.75*smooth(0.25, 1.1, v))
			t.at[j*n+i] = uint16(255*cover) | uint16(bright)<<8
		}
	})
	return withLevels(t, int(bits)-3, false)
}

// withLevels returns the texture and count-1 coarser ones, each point the mean
// of four.
func withLevels(t *texture, count int, signed bool) []*texture {
	all := []*texture{t}
	mean := func(a, b, c, d uint16) uint16 {
		if signed {
			s := int(int8(a)) + int(int8(b)) + int(int8(c)) + int(int8(d))
			return uint16(uint8(int8(math.Round(float64(s) / 4))))
		}
		return (a&255 + b&255 + c&255 + d&255 + 2) / 4
	}
	for k := 1; k < count; k++ {
		from := all[k-1]
		bits := from.bits - 1
		n := 1 << bits
		to := &texture{bits: bits, at: make([]uint16, n*n)}
		for j := range n {
			for i := range n {
				a, b := (2*j)<<from.bits|2*i, (2*j+1)<<from.bits|2*i
				lo := mean(from.at[a], from.at[a+1], from.at[b], from.at[b+1])
				hi := mean(from.at[a]>>8, from.at[a+1]>>8, from.at[b]>>8, from.at[b+1]>>8)
				to.at[j<<bits|i] = lo&255 | hi<<8
			}
		}
		all = append(all, to)
	}
	return all
}

// blend mixes the four points around (u, v), in points of this texture and not
// negative, of both structures.
func (t *texture) blend(u, v float32) (low, high float32) {
	iu, iv := int(u), int(v)
	u -= float32(iu)
	v -= float32(iv)
	m := 1<<t.bits - 1
	i, j := iu&m, (iv&m)<<t.bits
	i1, j1 := (iu+1)&m, ((iv+1)&m)<<t.bits
	a, b, c, d := t.at[j|i], t.at[j|i1], t.at[j1|i], t.at[j1|i1]
	wd := u * v
	wb, wc := u-wd, v-wd
	wa := 1 - u - wc
	low = wa*float32(int8(a)) + wb*float32(int8(b)) + wc*float32(int8(c)) + wd*float32(int8(d))
	high = wa*float32(int8(a>>8)) + wb*float32(int8(b>>8)) + wc*float32(int8(c>>8)) + wd*float32(int8(d>>8))
	return low, high
}
