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
	// step: [step*size.X+x]. What stands at a step shows above it only.
	crest []uint16

	columns [together]column
	cover   []int32 // of the column at work: see fill
	queue   []drawable
	order   []int32 // of the queue, from far to near
	count   []int32 // of the queue, by step

	before []uint16 // by m forward: see stepAt
}

const (
	nearest = 6.0 // of what is built, in m
	horizon = 6800.0
)

func newView(w *world, size image.Point) *view {
	stride := (size.Y + 7) &^ 7
	v := &view{w: w, size: size, stride: stride, focal: 0.63 * float32(size.X),
		y: make([]uint8, size.X*stride), u: make([]uint8, size.X/2*stride), v: make([]uint8, size.X/2*stride),
		cover: make([]int32, stride)}
	for i := range v.columns {
		v.columns[i].shine = make([]uint8, size.Y)
	}
	// The flight keeps so far above the land that what is nearer lies below the
	// picture.
	for z := 40 * float64(v.focal) / (0.9 * float64(size.Y)); z < horizon; {
		s := step{z: float32(z), inv: v.focal / float32(z)}
		ratio := 1.019
		if z > 900 {
			ratio = 1.0165
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
	v.before = make([]uint16, int(horizon))
	for m, i := range v.before {
		if m > 0 {
			i = v.before[m-1]
		}
		for int(i)+2 < len(v.steps) && v.steps[i+2].z < float32(m) {
			i++
		}
		v.before[m] = i
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
	for x := 0; x < v.size.X; x += together {
		v.drawColumns(x, min(v.size.X-x, together), &c)
	}
	v.drawThings(c)
}

// horizonAt is the row of the horizon in column x.
func (v *view) horizonAt(x float32, c *camera) float32 {
	return float32(v.size.Y)/2 + v.focal*float32(math.Tan(c.pitch)) - float32(math.Tan(c.bank))*(x-float32(v.size.X)/2)
}

// together is how many columns are walked in step, because neighbours look at
// the same ground.
const together = 16

// look is how the land looks at one step of one column.
type look struct {
	colour lanes
	a, b   float32 // strength of both fine structures, in codes of luma a unit
}

// spot is where one column meets the land at one step.
type spot struct {
	step   int
	row    float32
	height float32 // of the ground, in m; below 0 under water
}

// column is the state of one column while its land is walked.
type column struct {
	y, u, v []uint8 // u and v are nil in odd columns
	shine   []uint8 // how much each row mirrors
	dx, dz  float32 // m east and north for a m forward
	level   float32 // row of the horizon
	edge    float32 // all rows from here down are drawn
	last    spot    // the last one passed
	waiting bool    // last rose less than a pixel above base and is not drawn yet
	base    spot    // where the next span begins
	seen    look    // of base, if it is the step seenAt
	seenAt  int
	steps   int // walked
	done    bool
	wet     bool
}

// lookAt finds how the land of a step looks at (x, z).
func (v *view) lookAt(s *step, x, z float32) look {
	l := s.land
	cu, cv := x*s.scale-s.shift, z*s.scale-s.shift
	m, bits := 1<<l.bits-1, l.bits&63 // below 64, or each shift is checked
	iu, iv := int(cu), int(cv)
	tu, tv := uint32((cu-float32(iu))*256), uint32((cv-float32(iv))*256)
	i, j := iu&m, iv&m
	i1, j1 := (i+1)&m, (j+1)&m
	g := l.ground
	colour := blend(blend(g[j<<bits|i], g[j<<bits|i1], tu), blend(g[j1<<bits|i], g[j1<<bits|i1], tu), tv)
	rocky := float32(colour>>48) * (1.0 / 255)

	// The same structure, sixteen times as large and turned, fills the gap
	// between the grid and the fine texture.
	low, high := s.coarse.blend((x+0.5*z)*s.coarser, (z-0.5*x+2*worldSize)*s.coarser)
	luma := float32(colour & 255)
	bright := luma * (1.0 / 128)
	y := int(luma + bright*((1-rocky)*0.22*low+rocky*0.34*high))
	y = min(lumaMax, max(lumaMin, y))
	bright *= s.contrast
	return look{
		colour: blend(colour&^255|lanes(y), v.sky[0], s.haze),
		a:      bright * (1 - rocky) * 0.30,
		b:      bright * (0.10 + 0.36*rocky),
	}
}

// drawColumns walks the land of n columns from x on, from near to far, and
// fills what rises above all that was before, then the sky, then the mirrors of
// lakes.
func (v *view) drawColumns(x, n int, c *camera) {
	h := v.size.Y
	cols := v.columns[:n]
	sin, cos := math.Sincos(c.yaw)
	// Two worlds further on all coordinates are positive, so that cutting off
	// their fraction rounds down.
	cx, cz, cy := float32(c.x+2*worldSize), float32(c.z+2*worldSize), float32(c.y)
	for i := range cols {
		k := &cols[i]
		across := (float32(x+i) + 0.5 - float32(v.size.X)/2) / v.focal
		*k = column{
			y: v.y[(x+i)*v.stride:][:h], shine: k.shine,
			dx: float32(sin) + float32(cos)*across, dz: float32(cos) - float32(sin)*across,
			level: v.horizonAt(float32(x+i)+0.5, c), edge: float32(h), seenAt: -1,
		}
		if i&1 == 0 {
			k.u, k.v = v.u[(x+i)/2*v.stride:][:h], v.v[(x+i)/2*v.stride:][:h]
		}
	}
	w := walk{v: v, cx: cx, cy: cy, cz: cz, ripples: [2]int32{int32(c.g * 38), int32(c.g * -23)}}
	live := n
	for number := 0; number < len(v.steps) && live > 0; number++ {
		s := &v.steps[number]
		l := s.land
		m, bits, height := 1<<l.bits-1, l.bits&63, l.height
		roof := (cy - v.w.top) * s.inv
		crest := v.crest[number*v.size.X+x:][:n]
		for i := range cols {
			k := &cols[i]
			if k.done {
				continue
			}
			if k.level+roof >= k.edge {
				k.done = true
				live--
				continue
			}
			cu, cv := (cx+k.dx*s.z)*s.scale-s.shift, (cz+k.dz*s.z)*s.scale-s.shift
			iu, iv := int(cu), int(cv)
			cu -= float32(iu)
			cv -= float32(iv)
			a, a1 := iu&m, (iu+1)&m
			b, b1 := (iv&m)<<(bits&63), ((iv+1)&m)<<(bits&63)
			ha := height[b|a]
			ha += cu * (height[b|a1] - ha)
			hb := height[b1|a]
			hb += cu * (height[b1|a1] - hb)
			ha += cv * (hb - ha)
			row := cy
			if ha > 0 {
				row -= ha
			}
			row = k.level + row*s.inv
			k.steps = number + 1
			if number > 0 && row < k.edge {
				if row > k.edge-0.9 && row > 0 {
					// Too little to be worth a look; drawn with what follows.
					if !k.waiting {
						k.waiting = true
						k.base = k.last
					}
					if row <= k.last.row {
						k.last = spot{number, row, ha}
						crest[i] = uint16(k.edge)
						continue
					}
				}
				if k.waiting && row > k.last.row {
					w.span(k, k.last)
				}
				if row < k.edge {
					if !k.waiting {
						k.base = k.last
					}
					w.span(k, spot{number, row, ha})
				}
			} else if k.waiting {
				w.span(k, k.last)
			}
			crest[i] = uint16(max(0, k.edge))
			k.last = spot{number, row, ha}
			if k.edge <= 0 {
				k.done = true
				live--
			}
		}
	}
	for i := range cols {
		k := &cols[i]
		if k.waiting {
			w.span(k, k.last)
		}
		last := uint16(max(0, k.edge))
		for number := k.steps; number < len(v.steps); number++ {
			v.crest[number*v.size.X+x+i] = last
		}
	}
	// Clouds are soft: every other column is drawn, those between are blended.
	for i := range cols {
		if k := &cols[i]; k.edge > 0 && (i&1 == 0 || i == n-1) {
			v.drawSky(k, k.edge, cx, cz, c.g)
		}
	}
	for i := 1; i < n-1; i += 2 {
		k, left, right := &cols[i], &cols[i-1], &cols[i+1]
		if k.edge <= 0 {
			continue
		}
		both := int(max(0, min(k.edge, left.edge, right.edge)))
		if int(k.edge) >= both {
			v.drawSkyFrom(k, k.edge, both, cx, cz, c.g)
		}
		dst, a, b := k.y[:both], left.y[:both], right.y[:both]
		for r := range dst {
			dst[r] = uint8((uint(a[r]) + uint(b[r])) >> 1)
		}
	}
	for i := range cols {
		if k := &cols[i]; k.wet {
			v.mirrorColumn(k)
		}
	}
}

// walk is what the columns of a picture have in common.
type walk struct {
	v          *view
	cx, cy, cz float32
	ripples    [2]int32
}

// span fills the rows between a column's base and p, which rises above it.
func (w *walk) span(k *column, p spot) {
	v := w.v
	s, before := &v.steps[p.step], &v.steps[k.base.step]
	x0, z0 := w.cx+k.dx*before.z, w.cz+k.dz*before.z
	x1, z1 := w.cx+k.dx*s.z, w.cz+k.dz*s.z
	if k.seenAt != k.base.step {
		k.seen = v.lookAt(before, x0, z0)
	}
	near, far := k.seen, v.lookAt(s, x1, z1)
	k.seen, k.seenAt = far, p.step

	from := min(len(k.y)-1, int(k.edge))
	part := uint32(0) // how much of the first pixel is drawn already, 0 to 256
	if k.edge < float32(len(k.y)) {
		part = uint32((float32(from+1) - k.edge) * 256)
	}
	to := 0
	if p.row > 0 {
		to = int(p.row)
	}
	length := k.base.row - p.row
	if length < 0.01 {
		length = 0.01
	}
	one := 1 / length
	t := (k.base.row - float32(from) - 0.5) * one

	tex := s.fine.at
	bits := s.fine.bits & 31
	mask := int32(1)<<bits - 1
	dx, dz := x1-x0, z1-z0
	pu := int32(int64((x0 + dx*t) * s.fineUnit))
	pv := int32(int64((z0 + dz*t) * s.fineUnit))
	du, dv := int32(dx*one*s.fineUnit), int32(dz*one*s.fineUnit)
	y0, y1 := float32(near.colour&255), float32(far.colour&255)
	py, dy := int32((y0+(y1-y0)*t)*65536), int32((y1-y0)*one*65536)
	a, b := int32(far.a*65536), int32(far.b*65536)
	cb, cr := uint8(far.colour>>16), uint8(far.colour>>32)
	k.edge = p.row
	k.waiting = false

	r := from
	if p.height < 1.2 || k.base.height < 1.2 {
		k.wet = true
		ground, rise := k.base.height+(p.height-k.base.height)*t, (p.height-k.base.height)*one
		water, mirror, wave := v.waterAt(s, w.cy, p.height)
		for ; r >= to; r-- {
			d := tex[(pv>>16&mask)<<(bits&31)|pu>>16&mask]
			lo, hi := int32(int8(d)), int32(int8(d>>8))
			yy, ub, vb, m := (py+lo*a+hi*b)>>16, cb, cr, uint8(0)
			if ground+float32(lo)*0.006 < 0 {
				d2 := tex[((pu-pv)>>16+w.ripples[1])&mask<<(bits&31)|((pv+pu)>>17+w.ripples[0])&mask]
				yy = int32(water&255) + (lo+int32(int8(d2)))*wave>>8
				ub, vb, m = uint8(water>>16), uint8(water>>32), mirror
			}
			if part == 0 || part < 128 {
				k.shine[r] = m
			}
			k.mixIn(r, yy, ub, vb, part)
			part = 0
			pu += du
			pv += dv
			py += dy
			ground += rise
		}
		return
	}
	if part != 0 {
		d := tex[(pv>>16&mask)<<(bits&31)|pu>>16&mask]
		k.mixIn(r, (py+int32(int8(d))*a+int32(int8(d>>8))*b)>>16, cb, cr, part)
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
		d := tex[(pv>>16&mask)<<(bits&31)|pu>>16&mask]
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
		us, vs := k.u[to:r+1], k.v[to:r+1]
		for i := range us {
			us[i] = cb
		}
		for i := range vs {
			vs[i] = cr
		}
	}
}

// mixIn sets a pixel of which a part is drawn already.
func (k *column) mixIn(r int, yy int32, cb, cr uint8, part uint32) {
	yy = min(lumaMax, max(lumaMin, yy))
	q := 256 - part
	k.y[r] = uint8((uint32(k.y[r])*part + uint32(yy)*q) >> 8)
	if k.u != nil {
		k.u[r] = uint8((uint32(k.u[r])*part + uint32(cb)*q) >> 8)
		k.v[r] = uint8((uint32(k.v[r])*part + uint32(cr)*q) >> 8)
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
func (v *view) drawSky(k *column, edge, cx, cz float32, g float64) {
	v.drawSkyFrom(k, edge, 0, cx, cz, g)
}

// drawSkyFrom is drawSky, but leaves the rows above to as they are.
func (v *view) drawSkyFrom(k *column, edge float32, to int, cx, cz float32, g float64) {
	const ceiling = 1000.0 // of the clouds over the camera, in m
	Y, U, V := k.y, k.u, k.v
	level, dx, dz := k.level, k.dx, k.dz
	from := min(len(Y)-1, int(edge))
	part := uint32(0)
	if edge < float32(len(Y)) {
		part = uint32((float32(from+1) - edge) * 256)
	}
	drift := float32(g * 9)
	base := len(v.w.clouds) - 1
	bits0 := v.w.clouds[0].bits
	point := float32(worldSize) / float32(int(1)<<bits0)
	for r := from; r >= to; r-- {
		up := level - float32(r) - 0.5
		if up < 0.25 {
			up = 0.25
		}
		colour := v.sky[min(len(v.sky)-1, int(up*4))]
		z := ceiling * v.focal / up
		if z < 24000 {
			foot := z / v.focal * z / ceiling * 0.6
			n := 0
			for size := point; n < base && foot > size; n++ {
				size *= 2
			}
			t := v.w.clouds[n]
			scale := 1 / (point * float32(int(1)<<n))
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
func (v *view) mirrorColumn(k *column) {
	Y, U, V, shine, level := k.y, k.u, k.v, k.shine, k.level
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
		shine[r] = 0
		Y[r] = uint8((uint32(Y[r])*(256-m) + y*m) >> 8)
		if U != nil {
			U[r] = uint8((uint32(U[r])*(256-m) + cb*m) >> 8)
			V[r] = uint8((uint32(V[r])*(256-m) + cr*m) >> 8)
		}
	}
}
