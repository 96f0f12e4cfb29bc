package demo

import (
	"image"
	"math"
)

// step is one distance at which the land is looked at, the same for all
// columns of a picture.
type step struct {
	z        float32  // m forward
	inv      float32  // focal length in pixels over z
	land     *level   // at the level of detail for this distance
	scale    float32  // points of that level in a m
	shift    float32  // where the first point of that level lies, in points
	fine     *texture // structure at the size of a pixel
	fineUnit float32  // fixed-point points of fine in a m
	coarse   *texture
	coarser  float32 // points of coarse in a m
	haze     uint32  // 0 to 256
	contrast float32 // of the structures, 1 where there is no haze
}

// view draws the world in one resolution. It holds the picture in columns,
// because that is how the land is walked: planes are [x*stride+y]. It serves
// one goroutine.
type view struct {
	w      *world
	size   image.Point
	stride int // of a column, a multiple of 8
	focal  float32
	steps  []step

	y    []uint8 // luma
	u, v []uint8 // chroma of even columns, at every row: [x/2*stride+y]
	sky  []lanes // by quarters of a pixel above the horizon, without clouds

	// crest is the first row, from above, that the land hides as far as each
	// step: [x*len(steps)+step]. What stands at a step shows above it only.
	crest []uint16

	shine []uint8 // of the column at work: how much each row mirrors
	cover []int32 // of the column at work: see fill
	queue []drawable
	order []int32 // of the queue, from far to near
	count []int32 // of the queue, by step
}

const (
	nearest = 18.0
	horizon = 6800.0
)

func newView(w *world, size image.Point) *view {
	stride := (size.Y + 7) &^ 7
	v := &view{w: w, size: size, stride: stride, focal: 0.63 * float32(size.X),
		y: make([]uint8, size.X*stride), u: make([]uint8, size.X/2*stride), v: make([]uint8, size.X/2*stride),
		shine: make([]uint8, stride), cover: make([]int32, stride)}
	for z := nearest; z < horizon; {
		s := step{z: float32(z), inv: v.focal / float32(z)}
		ratio := 1.016
		if z > 900 {
			ratio = 1.0115
		}
		lv := 0
		for lv < levels-1 && z*(ratio-1) > 1.2*cell*float64(int(1)<<lv) {
			lv++
		}
		s.land = &w.levels[lv]
		s.scale = 1 / float32(cell*float64(int(1)<<lv))
		s.shift = 0.5 - 0.5/float32(int(1)<<lv)
		// Seen at a slant, a pixel covers more ground along the view than across.
		foot := z / float64(v.focal) * math.Sqrt(1+z/260)
		pick := func(point float64) (*texture, float64) {
			k := int(math.Round(math.Log2(max(1, foot/point))))
			k = min(k, len(w.detail)-1)
			return w.detail[k], 1 / (point * float64(int(1)<<k))
		}
		var perM float64
		s.fine, perM = pick(detailCell)
		s.fineUnit = float32(perM * 65536)
		s.coarse, perM = pick(detailCell * 16)
		s.coarser = float32(perM)
		fog := 1 - math.Exp(-math.Pow(z/4600, 1.25))
		s.haze = uint32(256 * fog)
		s.contrast = float32(1 - fog)
		v.steps = append(v.steps, s)
		z *= ratio
	}
	v.crest = make([]uint16, size.X*len(v.steps))
	v.count = make([]int32, len(v.steps)+1)
	v.sky = make([]lanes, 4*2*size.Y)
	for i := range v.sky {
		e := (float64(i) / 4) / float64(v.focal)
		v.sky[i] = skyAt(e)
	}
	return v
}

var hazeColour = rgb{184, 203, 224}

// skyAt is the colour of the clear sky at a slope of e above the horizon.
func skyAt(e float64) lanes {
	c := hazeColour.mix(rgb{120, 168, 218}, smooth(0, 0.16, e))
	c = c.mix(rgb{46, 98, 176}, smooth(0.05, 0.62, e))
	return c.lanes(0)
}

// draw draws the world as seen from c.
func (v *view) draw(c camera) {
	for x := range v.size.X {
		v.drawColumn(x, &c)
	}
	v.drawThings(c)
}

// horizonAt is the row of the horizon in column x.
func (v *view) horizonAt(x float32, c *camera) float32 {
	return float32(v.size.Y)/2 + v.focal*float32(math.Tan(c.pitch)) - float32(math.Tan(c.bank))*(x-float32(v.size.X)/2)
}

// sample is the land at one step of one column.
type sample struct {
	s      *step
	x, z   float32 // m
	height float32
	row    float32
	colour lanes
	a, b   float32 // strength of both fine structures, in codes of luma a unit
	ready  bool
}

// look finds how the land of a sample looks.
func (v *view) look(p *sample) {
	p.ready = true
	s := p.s
	l := s.land
	cu, cv := p.x*s.scale-s.shift, p.z*s.scale-s.shift
	m, bits := 1<<l.bits-1, l.bits
	iu, iv := int(cu), int(cv)
	tu, tv := uint32((cu-float32(iu))*256), uint32((cv-float32(iv))*256)
	i, j := iu&m, iv&m
	i1, j1 := (i+1)&m, (j+1)&m
	g := l.ground
	colour := blend(blend(g[j<<bits|i], g[j<<bits|i1], tu), blend(g[j1<<bits|i], g[j1<<bits|i1], tu), tv)
	rocky := float32(colour>>48) * (1.0 / 255)

	// The same structure, sixteen times as large and turned, fills the gap
	// between the grid and the fine texture.
	low, high := s.coarse.blend((p.x+0.5*p.z)*s.coarser, (p.z-0.5*p.x+2*worldSize)*s.coarser)
	luma := float32(colour & 255)
	bright := luma * (1.0 / 128)
	y := int(luma + bright*((1-rocky)*0.22*low+rocky*0.34*high))
	y = min(lumaMax, max(lumaMin, y))
	p.colour = blend(colour&^255|lanes(y), v.sky[0], s.haze)
	bright *= s.contrast
	p.a = bright * (1 - rocky) * 0.30
	p.b = bright * (0.10 + 0.36*rocky)
}

// column is the state of one column while its land is walked.
type column struct {
	y, u, v []uint8 // u and v are nil in odd columns
	shine   []uint8
	part    uint32 // how much of the next pixel is drawn already, 0 to 256
	camera  float32
	time    [2]int32 // of the ripples
	wet     bool
}

// drawColumn walks the land of one column from near to far and fills what
// rises above all that was before, then the sky, then the mirrors of lakes.
func (v *view) drawColumn(x int, c *camera) {
	h := v.size.Y
	k := column{y: v.y[x*v.stride:][:h], shine: v.shine[:h], camera: float32(c.y)}
	k.time = [2]int32{int32(c.g * 38), int32(c.g * -23)}
	if x&1 == 0 {
		k.u, k.v = v.u[x/2*v.stride:][:h], v.v[x/2*v.stride:][:h]
	}
	clear(k.shine)
	across := (float32(x) + 0.5 - float32(v.size.X)/2) / v.focal
	sin, cos := math.Sincos(c.yaw)
	dx, dz := float32(sin)+float32(cos)*across, float32(cos)-float32(sin)*across
	// Two worlds further on all coordinates are positive, so that cutting off
	// their fraction rounds down.
	cx, cz := float32(c.x+2*worldSize), float32(c.z+2*worldSize)
	cy := float32(c.y)
	level := v.horizonAt(float32(x)+0.5, c)
	crest := v.crest[x*len(v.steps):][:len(v.steps)]

	edge := float32(h) // all rows from here down are drawn
	var prev sample
	n := 0
	for ; n < len(crest); n++ {
		s := &v.steps[n]
		if level+(cy-v.w.top)*s.inv >= edge {
			break
		}
		px, pz := cx+dx*s.z, cz+dz*s.z
		l := s.land
		cu, cv := px*s.scale-s.shift, pz*s.scale-s.shift
		iu, iv := int(cu), int(cv)
		cu -= float32(iu)
		cv -= float32(iv)
		m := 1<<l.bits - 1
		i, j := iu&m, (iv&m)<<l.bits
		i1, j1 := (iu+1)&m, ((iv+1)&m)<<l.bits
		ha := l.height[j|i]
		ha += cu * (l.height[j|i1] - ha)
		hb := l.height[j1|i]
		hb += cu * (l.height[j1|i1] - hb)
		ha += cv * (hb - ha)
		row := cy
		if ha > 0 {
			row -= ha
		}
		row = level + row*s.inv
		p := sample{s: s, x: px, z: pz, height: ha, row: row}
		if row < edge && n > 0 {
			v.look(&p)
			if !prev.ready {
				v.look(&prev)
			}
			k.part = 0
			if edge < float32(h) {
				k.part = uint32((float32(int(edge)+1) - edge) * 256)
			}
			v.fillSpan(&k, &prev, &p, min(h-1, int(edge)))
			edge = row
			if edge <= 0 {
				break
			}
		}
		crest[n] = uint16(edge)
		prev = p
	}
	last := uint16(max(0, edge))
	for ; n < len(crest); n++ {
		crest[n] = last
	}
	if edge > 0 {
		v.drawSky(k.y, k.u, k.v, edge, level, cx, cz, dx, dz, c.g)
	}
	if k.wet {
		v.mirrorColumn(k.y, k.u, k.v, k.shine, level)
	}
}

// fillSpan fills the rows from row from upwards with the land between two
// samples.
func (v *view) fillSpan(k *column, prev, p *sample, from int) {
	to := 0
	if p.row > 0 {
		to = int(p.row)
	}
	span := prev.row - p.row
	if span < 0.01 {
		span = 0.01
	}
	span = 1 / span
	t0 := (prev.row - float32(from) - 0.5) * span
	s := p.s
	tex := s.fine.at
	mask, bits := int32(1)<<s.fine.bits-1, s.fine.bits
	dx, dz := p.x-prev.x, p.z-prev.z
	pu := int32(int64((prev.x + dx*t0) * s.fineUnit))
	pv := int32(int64((prev.z + dz*t0) * s.fineUnit))
	du, dv := int32(dx*span*s.fineUnit), int32(dz*span*s.fineUnit)
	y0, y1 := float32(prev.colour&255), float32(p.colour&255)
	py, dy := int32((y0+(y1-y0)*t0)*65536), int32((y1-y0)*span*65536)
	a, b := int32(p.a*65536), int32(p.b*65536)
	cb, cr := uint8(p.colour>>16), uint8(p.colour>>32)

	if p.height < 1.2 || prev.height < 1.2 {
		v.fillShore(k, prev, p, from, to, span, t0)
		return
	}
	r := from
	if k.part != 0 {
		d := tex[(pv>>16&mask)<<bits|pu>>16&mask]
		yy := (py + int32(int8(d))*a + int32(int8(d>>8))*b) >> 16
		k.mixIn(r, yy, cb, cr)
		r--
		pu += du
		pv += dv
		py += dy
	}
	if r < to {
		return
	}
	rows := k.y[to : r+1]
	for i := len(rows) - 1; i >= 0; i-- {
		d := tex[(pv>>16&mask)<<bits|pu>>16&mask]
		yy := (py + int32(int8(d))*a + int32(int8(d>>8))*b) >> 16
		if yy < lumaMin {
			yy = lumaMin
		} else if yy > lumaMax {
			yy = lumaMax
		}
		rows[i] = uint8(yy)
		pu += du
		pv += dv
		py += dy
	}
	if k.u != nil {
		for i := to; i <= r; i++ {
			k.u[i] = cb
		}
		for i := to; i <= r; i++ {
			k.v[i] = cr
		}
	}
}

// mixIn sets a pixel of which a part is drawn already.
func (k *column) mixIn(r int, yy int32, cb, cr uint8) {
	yy = min(lumaMax, max(lumaMin, yy))
	q := 256 - k.part
	k.y[r] = uint8((uint32(k.y[r])*k.part + uint32(yy)*q) >> 8)
	if k.u != nil {
		k.u[r] = uint8((uint32(k.u[r])*k.part + uint32(cb)*q) >> 8)
		k.v[r] = uint8((uint32(k.v[r])*k.part + uint32(cr)*q) >> 8)
	}
}

// fillShore is fillSpan where water may stand.
func (v *view) fillShore(k *column, prev, p *sample, from, to int, span, t0 float32) {
	k.wet = true
	s := p.s
	tex := s.fine.at
	mask, bits := int32(1)<<s.fine.bits-1, s.fine.bits
	dx, dz := p.x-prev.x, p.z-prev.z
	ground, step := prev.height+(p.height-prev.height)*t0, (p.height-prev.height)*span
	water, mirror, wave := v.waterAt(s, k.camera, p.height)
	for r := from; r >= to; r-- {
		t := (prev.row - float32(r) - 0.5) * span
		pu := int32(int64((prev.x + dx*t) * s.fineUnit))
		pv := int32(int64((prev.z + dz*t) * s.fineUnit))
		d := tex[(pv>>16&mask)<<bits|pu>>16&mask]
		lo, hi := float32(int8(d)), float32(int8(d>>8))
		var yy int32
		cb, cr := uint8(p.colour>>16), uint8(p.colour>>32)
		var m uint8
		if ground+lo*0.006 < 0 {
			d2 := tex[((pu-pv)>>16+k.time[1])&mask<<bits|((pv+pu)>>17+k.time[0])&mask]
			yy = int32(water&255) + (int32(lo)+int32(int8(d2)))*wave>>8
			cb, cr = uint8(water>>16), uint8(water>>32)
			m = mirror
		} else {
			yy = int32(float32(p.colour&255) + lo*p.a + hi*p.b)
		}
		if k.part != 0 {
			if k.part < 128 {
				k.shine[r] = m
			}
			k.mixIn(r, yy, cb, cr)
			k.part = 0
		} else {
			k.shine[r] = m
			k.y[r] = uint8(min(lumaMax, max(lumaMin, yy)))
			if k.u != nil {
				k.u[r], k.v[r] = cb, cr
			}
		}
		ground += step
	}
}

// waterAt is the lake's own colour at step s, how much it mirrors and how high
// its ripples show.
func (v *view) waterAt(s *step, above, depth float32) (colour lanes, mirror uint8, wave int32) {
	slope := above / s.z
	graze := 1 / (1 + 2.6*slope)
	shallow := uint32(min(256, max(0, (depth+9)*26)))
	colour = blend(deepWater, shallowWater, shallow)
	colour = blend(colour, v.sky[0], s.haze)
	return colour, uint8(30 + 205*graze*graze), int32((30 + 26*graze) * s.contrast)
}

var (
	deepWater    = rgb{20, 62, 88}.lanes(0)
	shallowWater = rgb{44, 104, 104}.lanes(0)
)

// drawSky fills the rows above edge with sky and clouds.
func (v *view) drawSky(Y, U, V []uint8, edge, level, cx, cz, dx, dz float32, g float64) {
	const ceiling = 1000.0 // of the clouds over the camera, in m
	from := min(len(Y)-1, int(edge))
	part := uint32(0)
	if edge < float32(len(Y)) {
		part = uint32((float32(from+1) - edge) * 256)
	}
	drift := float32(g * 9)
	base := len(v.w.clouds) - 1
	bits0 := v.w.clouds[0].bits
	point := float32(worldSize) / float32(int(1)<<bits0)
	for r := from; r >= 0; r-- {
		up := level - float32(r) - 0.5
		if up < 0.25 {
			up = 0.25
		}
		colour := v.sky[min(len(v.sky)-1, int(up*4))]
		z := ceiling * v.focal / up
		if z < 24000 {
			foot := z / v.focal * z / ceiling * 0.6
			k := 0
			for size := point; k < base && foot > size; k++ {
				size *= 2
			}
			t := v.w.clouds[k]
			scale := 1 / (point * float32(int(1)<<k))
			mask := int32(1)<<t.bits - 1
			i := int32((cx+dx*z+drift)*scale) & mask
			j := int32((cz+dz*z)*scale) & mask
			d := t.at[j<<t.bits|i]
			thin := 1 - z/24000
			cover := uint32(float32(d&255) * thin * 0.95)
			white := blend(cloudDark, cloudLight, uint32(d>>8))
			colour = blend(colour, white, cover)
		}
		y, u, w := uint32(colour&255), uint32(colour>>16&255), uint32(colour>>32&255)
		if part != 0 {
			q := 256 - part
			y = (uint32(Y[r])*part + y*q) >> 8
			if U != nil {
				u = (uint32(U[r])*part + u*q) >> 8
				w = (uint32(V[r])*part + w*q) >> 8
			}
			part = 0
		}
		Y[r] = uint8(y)
		if U != nil {
			U[r], V[r] = uint8(u), uint8(w)
		}
	}
}

var (
	cloudLight = rgb{244, 246, 250}.lanes(0)
	cloudDark  = rgb{158, 172, 194}.lanes(0)
)

// mirrorColumn lets the lakes of a column mirror what stands above the
// horizon, which is exact for what is far away, and clear sky where that lies
// outside the picture.
func (v *view) mirrorColumn(Y, U, V, shine []uint8, level float32) {
	for r := range Y {
		m := uint32(shine[r])
		if m == 0 {
			continue
		}
		// Ripples bend the mirrored ray; the lake's own luma holds them.
		bend := (float32(Y[r]) - 70) * 0.0011 * float32(len(Y))
		row := 2*level - float32(r) + bend
		q := min(int(level)-1, int(row))
		var y, cb, cr uint32
		if row < 0 || q < 0 || q >= len(Y) {
			up := max(0, int((level-row)*4))
			s := v.sky[min(len(v.sky)-1, up)]
			y, cb, cr = uint32(s&255), uint32(s>>16&255), uint32(s>>32&255)
		} else {
			y = uint32(Y[q])
			if U != nil {
				cb, cr = uint32(U[q]), uint32(V[q])
			}
		}
		Y[r] = uint8((uint32(Y[r])*(256-m) + y*m) >> 8)
		if U != nil {
			U[r] = uint8((uint32(U[r])*(256-m) + cb*m) >> 8)
			V[r] = uint8((uint32(V[r])*(256-m) + cr*m) >> 8)
		}
	}
}
