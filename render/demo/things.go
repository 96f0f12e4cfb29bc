package demo

import (
	"math"
	"slices"
)

// point is a place in the world in m: x east, y up, z north.
type point struct{ x, y, z float64 }

// bar is a straight part of a built thing, as wide as it is from wherever it
// is seen.
type bar struct {
	a, b   point
	width  float64 // m
	colour lanes
	minor  bool // not missed where it is much thinner than a pixel
}

// wall is a flat convex part of a built thing.
type wall struct {
	corners []point
	colour  lanes
}

// thing is something built: a pylon, a span of cables, a stretch of fence, a
// house.
type thing struct {
	at    point // for sorting by distance
	reach float64
	bars  []bar
	walls []wall
}

// drawable is something to be drawn over the land, ordered by distance.
type drawable struct {
	z    float32 // m forward
	x, y float32 // of a tree's foot, in pixels
	step int
	id   int // of a tree, or of a thing when negative: -1-index
}

const (
	treeRange  = 1350.0
	thingRange = 2600.0
)

// stepAt is the last step before z, less one, so that a thing is not hidden by
// the ground it stands on.
func (v *view) stepAt(z float32) int {
	m := int(z)
	if m >= len(v.before) {
		m = len(v.before) - 1
	}
	return int(v.before[max(0, m)])
}

// sortQueue orders the queue from far to near, what stands at one step in the
// order of the queue.
func (v *view) sortQueue() {
	clear(v.count)
	for i := range v.queue {
		v.count[v.queue[i].step]++
	}
	var sum int32
	for i := len(v.count) - 1; i >= 0; i-- {
		sum, v.count[i] = sum+v.count[i], sum
	}
	v.order = slices.Grow(v.order[:0], len(v.queue))[:len(v.queue)]
	for i := range v.queue {
		n := &v.count[v.queue[i].step]
		v.order[*n] = int32(i)
		*n++
	}
}

// nearer returns the coordinate nearest to c that stands for the same place in
// the repeating world.
func nearer(x, c float64) float64 {
	return x - worldSize*math.Round((x-c)/worldSize)
}

// drawThings draws trees and what is built, from far to near.
func (v *view) drawThings(c camera) {
	v.queue = v.queue[:0]
	sin, cos := math.Sincos(c.yaw)
	side := float64(v.size.X) / 2 / float64(v.focal)
	// The triangle in view, as a box of cells.
	lx, lz := c.x+treeRange*(sin-cos*side), c.z+treeRange*(cos+sin*side)
	rx, rz := c.x+treeRange*(sin+cos*side), c.z+treeRange*(cos-sin*side)
	const margin = 24
	i0, i1 := int(math.Floor((min(c.x, lx, rx)-margin)/cell)), int(math.Ceil((max(c.x, lx, rx)+margin)/cell))
	j0, j1 := int(math.Floor((min(c.z, lz, rz)-margin)/cell)), int(math.Ceil((max(c.z, lz, rz)+margin)/cell))
	for j := j0; j < j1; j++ {
		row := v.w.trees[wrap(j)*grid:][:grid]
		for i := i0; i < i1; i++ {
			t := &row[wrap(i)]
			if t.size == 0 {
				continue
			}
			x := float64(t.x) + float64(i-wrap(i))*cell - c.x
			z := float64(t.z) + float64(j-wrap(j))*cell - c.z
			deep := x*sin + z*cos
			if deep < nearest || deep > treeRange {
				continue
			}
			across := x*cos - z*sin
			if math.Abs(across) > deep*side+12 {
				continue
			}
			v.queue = append(v.queue, drawable{z: float32(deep), x: float32(across), y: t.ground, step: v.stepAt(float32(deep)), id: wrap(j)*grid + wrap(i)})
		}
	}
	for i := range v.w.things {
		t := &v.w.things[i]
		deep := (nearer(t.at.x, c.x)-c.x)*sin + (nearer(t.at.z, c.z)-c.z)*cos
		if deep < -t.reach || deep > thingRange {
			continue
		}
		z := float32(max(nearest, deep))
		v.queue = append(v.queue, drawable{z: z, step: v.stepAt(z), id: -1 - i})
	}
	v.sortQueue()
	for _, i := range v.order {
		d := &v.queue[i]
		if d.id < 0 {
			v.drawThing(&v.w.things[-1-d.id], c)
			continue
		}
		t := &v.w.trees[d.id]
		inv := v.focal / d.z
		d.x = float32(v.size.X)/2 + d.x*inv
		d.y = v.horizonAt(d.x, &c) + (float32(c.y)-t.ground)*inv + 0.05*t.size*inv
		// Trees grow out of the haze instead of popping up.
		v.drawTree(t, d, t.size*float32(1-smooth(0.82, 1, float64(d.z)/treeRange)))
	}
	v.drawGlider(c)
}

// pixel is a corner on the picture, in pixels.
type pixel struct{ x, y float32 }

// project returns where p is on the picture and how far, in m forward.
func (v *view) project(p point, c *camera) (pixel, float32) {
	sin, cos := math.Sincos(c.yaw)
	x, z := nearer(p.x, c.x)-c.x, nearer(p.z, c.z)-c.z
	deep := float32(x*sin + z*cos)
	inv := v.focal / max(1, deep)
	px := float32(v.size.X)/2 + float32(x*cos-z*sin)*inv
	return pixel{px, v.horizonAt(px, c) + float32(c.y-p.y)*inv}, deep
}

func (v *view) drawThing(t *thing, c camera) {
	var corners [8]pixel
	for i := range t.walls {
		w := &t.walls[i]
		list := corners[:0]
		z := float32(0)
		ok := true
		for _, p := range w.corners {
			q, deep := v.project(p, &c)
			ok = ok && deep > nearest
			list = append(list, q)
			z += deep / float32(len(w.corners))
		}
		if ok {
			s := v.stepAt(z)
			v.fill(list, max(0, s-1), blend(w.colour, v.sky[0], v.steps[s].haze), 256)
		}
	}
	for i := range t.bars {
		b := &t.bars[i]
		p, zp := v.project(b.a, &c)
		q, zq := v.project(b.b, &c)
		if zp < nearest || zq < nearest {
			continue
		}
		z := (zp + zq) / 2
		s := v.stepAt(z)
		if b.minor && float32(b.width)*v.focal < 0.22*zp {
			continue
		}
		v.line(p, q, float32(b.width)*v.focal/zp, float32(b.width)*v.focal/zq, max(0, s-1), blend(b.colour, v.sky[0], v.steps[s].haze))
	}
}

// line draws a straight line whose width goes from wp to wq pixels. Lines
// thinner than a pixel are drawn fainter, but never vanish.
func (v *view) line(p, q pixel, wp, wq float32, step int, colour lanes) {
	dx, dy := q.x-p.x, q.y-p.y
	n := float32(math.Hypot(float64(dx), float64(dy)))
	if n < 0.01 {
		return
	}
	const thinnest = 0.55
	wp, wq = max(thinnest, wp), max(thinnest, wq)
	nx, ny := -dy/n/2, dx/n/2
	quad := [...]pixel{
		{p.x + nx*wp, p.y + ny*wp}, {q.x + nx*wq, q.y + ny*wq},
		{q.x - nx*wq, q.y - ny*wq}, {p.x - nx*wp, p.y - ny*wp},
	}
	v.fill(quad[:], step, colour, 256)
}

// fill draws a convex polygon where nothing nearer than step stands. Edges are
// smooth: each pixel is drawn by how much of it the polygon covers, exactly
// along columns and from four samples across.
func (v *view) fill(corners []pixel, step int, colour lanes, opaque int32) {
	x0, x1 := corners[0].x, corners[0].x
	y0, y1 := corners[0].y, corners[0].y
	for _, p := range corners[1:] {
		x0, x1 = min(x0, p.x), max(x1, p.x)
		y0, y1 = min(y0, p.y), max(y1, p.y)
	}
	if !(x1 > 0 && x0 < float32(v.size.X) && y1 > 0 && y0 < float32(v.size.Y)) {
		return
	}
	first, last := int(max(0, x0)), min(v.size.X-1, int(x1))
	cy, cb, cr := int32(colour&255), int32(colour>>16&255), int32(colour>>32&255)
	h := float32(v.size.Y)
	const across = 4
	for x := first; x <= last; x++ {
		low, high := v.size.Y, -1
		limit := h
		if step > 0 {
			limit = min(h, float32(v.crest[step*v.size.X+x]))
		}
		for k := range across {
			xs := float32(x) + (float32(k)+0.5)/across
			a, b := float32(math.MaxFloat32), float32(-math.MaxFloat32)
			prev := corners[len(corners)-1]
			for _, p := range corners {
				if (prev.x <= xs) != (p.x <= xs) {
					y := prev.y + (p.y-prev.y)*(xs-prev.x)/(p.x-prev.x)
					a, b = min(a, y), max(b, y)
				}
				prev = p
			}
			a, b = max(0, a), min(limit, b)
			if a >= b {
				continue
			}
			ia, ib := int(a), min(v.size.Y-1, int(b))
			low, high = min(low, ia), max(high, ib)
			const unit = 256 / across
			if ia == ib {
				v.cover[ia] += int32((b - a) * unit)
				continue
			}
			v.cover[ia] += int32((float32(ia+1) - a) * unit)
			for r := ia + 1; r < ib; r++ {
				v.cover[r] += unit
			}
			v.cover[ib] += int32((b - float32(ib)) * unit)
		}
		if high < low {
			continue
		}
		Y := v.y[x*v.stride:][:v.size.Y]
		U, V := v.u[x/2*v.stride:][:v.size.Y], v.v[x/2*v.stride:][:v.size.Y]
		for r := low; r <= high; r++ {
			c := v.cover[r] * opaque >> 8
			v.cover[r] = 0
			if c == 0 {
				continue
			}
			Y[r] = uint8((int32(Y[r])*(256-c) + cy*c) >> 8)
			if x&1 == 0 {
				U[r] = uint8((int32(U[r])*(256-c) + cb*c) >> 8)
				V[r] = uint8((int32(V[r])*(256-c) + cr*c) >> 8)
			}
		}
	}
}
