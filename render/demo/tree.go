package demo

import "math"

const (
	pineKinds  = 6
	pineHeight = 256 // points of the finest sprite
	pineWidth  = 128
)

// sprite is a picture of a tree in columns, at several sizes, each half the one
// before.
type sprite struct{ sizes []spriteSize }

type spriteSize struct {
	w, h  int
	at    []uint16 // low byte: luma under full sun, high byte: cover; [x*h+y]
	first []int    // row of each column above which nothing covers
	cb    uint8
	cr    uint8
	scale float32
}

// growPines draws the kinds of conifers.
func growPines(seed uint64) []sprite {
	out := make([]sprite, pineKinds)
	for kind := range out {
		out[kind] = growPine(seed+40+uint64(kind), kind)
	}
	return out
}

func growPine(seed uint64, kind int) sprite {
	const w, h = pineWidth, pineHeight
	rough := newOctaves(seed, 16, 3)
	whorls := 9 + float64(kind%3)*2
	wide := 0.36 + 0.10*unit(seed, kind, 1)
	base := rgb{46, 78, 40}.mix(rgb{66, 86, 38}, unit(seed, kind, 2))
	_, u, v := base.yuv()
	s := spriteSize{w: w, h: h, at: make([]uint16, w*h), cb: uint8(math.Round(u)), cr: uint8(math.Round(v)), scale: 1}
	for x := range w {
		for y := range h {
			fx, fy := (float64(x)+0.5)/w*2-1, (float64(y)+0.5)/h
			n := float64(rough.sum(float32(x)/w/2, float32(y)/h, 0.7))
			// Whorls of branches widen downwards and droop at their tips.
			phase := fy*whorls + 0.5*math.Abs(fx)*-1 + 0.25*n
			tooth := 1 - (phase - math.Floor(phase))
			half := 0.04 + 2*wide*math.Pow(fy, 0.85)*(0.62+0.38*(1-tooth)) + 0.10*n*fy
			cover, luma := 0.0, 0.0
			if d := half - math.Abs(fx); d > 0 && fy < 0.95 {
				cover = min(1, d*40)
				side := 0.5 - 0.5*fx/max(0.05, half) // the sun is at the left
				luma = 34 + 62*side*side + 26*(1-tooth) + 24*n - 14*fy
			} else if math.Abs(fx) < 0.035 {
				cover, luma = 1, 52
			}
			s.at[x*h+y] = uint16(min(200, max(lumaMin, luma))) | uint16(255*cover)<<8
		}
	}
	s.trim()
	sp := sprite{sizes: []spriteSize{s}}
	for s.h > 4 {
		s = halve(s)
		sp.sizes = append(sp.sizes, s)
	}
	return sp
}

// halve returns the sprite at half the size; luma counts by its cover.
func halve(s spriteSize) spriteSize {
	to := spriteSize{w: s.w / 2, h: s.h / 2, cb: s.cb, cr: s.cr, scale: s.scale / 2}
	to.at = make([]uint16, to.w*to.h)
	for x := range to.w {
		for y := range to.h {
			var cover, luma int
			for _, p := range [...]uint16{s.at[2*x*s.h+2*y], s.at[2*x*s.h+2*y+1], s.at[(2*x+1)*s.h+2*y], s.at[(2*x+1)*s.h+2*y+1]} {
				cover += int(p >> 8)
				luma += int(p>>8) * int(p&255)
			}
			if cover > 0 {
				luma /= cover
			}
			to.at[x*to.h+y] = uint16(luma) | uint16((cover+2)/4)<<8
		}
	}
	to.trim()
	return to
}

// trim finds where each column begins.
func (s *spriteSize) trim() {
	s.first = make([]int, s.w)
	for x := range s.first {
		for s.first[x] < s.h-1 && s.at[x*s.h+s.first[x]]>>8 == 0 {
			s.first[x]++
		}
	}
}

// drawTree draws one tree at its place.
func (v *view) drawTree(t *tree, d *drawable, size float32) {
	inv := v.focal / d.z
	high := size * inv
	if high < 0.8 {
		return
	}
	wide := high * pineWidth / pineHeight
	sp := &v.w.pines[t.kind]
	k := 0
	for k < len(sp.sizes)-1 && float32(sp.sizes[k+1].h) >= high {
		k++
	}
	s := &sp.sizes[k]
	x0, x1 := int(math.Ceil(float64(d.x-wide/2-0.5))), int(math.Ceil(float64(d.x+wide/2-0.5)))
	y0, y1 := int(math.Ceil(float64(d.y-high-0.5))), int(math.Ceil(float64(d.y-0.5)))
	x0, x1 = max(0, x0), min(v.size.X, x1)
	top := max(0, y0)
	y1 = min(v.size.Y, y1)
	if x0 >= x1 || top >= y1 {
		return
	}
	st := &v.steps[d.step]
	haze := st.haze
	fog := v.sky[0]
	shade := uint32(t.shade)
	step := uint32(float32(s.h) / high * 65536)
	start := uint32((float32(top) + 0.5 - (d.y - high)) / high * float32(s.h) * 65536)
	cb := uint8((uint32(s.cb)*(256-haze) + uint32(fog>>16&255)*haze) >> 8)
	cr := uint8((uint32(s.cr)*(256-haze) + uint32(fog>>32&255)*haze) >> 8)
	grey := uint32(fog&255) * haze
	for x := x0; x < x1; x++ {
		sx := int((float32(x) + 0.5 - (d.x - wide/2)) / wide * float32(s.w))
		if sx < 0 || sx >= s.w {
			continue
		}
		y2 := min(y1, int(v.crest[d.step*v.size.X+x]))
		if y2 <= top {
			continue
		}
		col := s.at[sx*s.h:][:s.h]
		Y := v.y[x*v.stride:][:y2]
		even := x&1 == 0
		sy, top := start, top
		if skip := uint32(s.first[sx]) << 16; skip > sy {
			rows := (skip - sy) / step
			top += int(rows)
			sy += rows * step
		}
		for r := top; r < y2; r++ {
			i := int(sy >> 16)
			sy += step
			if i >= len(col) {
				break
			}
			p := col[i]
			cover := uint32(p >> 8)
			if cover == 0 {
				continue
			}
			cover += cover >> 7
			luma := uint32(p&255) * shade >> 7
			luma = (luma*(256-haze) + grey) >> 8
			Y[r] = uint8((uint32(Y[r])*(256-cover) + luma*cover) >> 8)
			if even {
				c := &v.u[x/2*v.stride+r]
				*c = uint8((uint32(*c)*(256-cover) + uint32(cb)*cover) >> 8)
				c = &v.v[x/2*v.stride+r]
				*c = uint8((uint32(*c)*(256-cover) + uint32(cr)*cover) >> 8)
			}
		}
	}
}
