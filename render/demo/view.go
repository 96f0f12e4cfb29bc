package demo

import (
	"image"
	"math"
)

// view composes the land's layers to pictures. The picture is held in columns,
// because layers pass by sideways. It serves one goroutine.
type view struct {
	canvas
	s        *scenery
	size     image.Point
	own      canvas // a column of a layer, with its cover
	across   []shift
	mirrored []int // row that each row of a lake mirrors
}

// shift is where a layer stands: its column at the picture's left, and how
// columns of luma, chroma and cover are made of their neighbours.
type shift struct {
	at, half            int
	luma, chroma, cover tap
}

func newView(s *scenery) *view {
	return &view{canvas: newCanvas(s.size.X, s.size.Y, true), s: s, size: s.size,
		own: newCanvas(2, s.size.Y, false), across: make([]shift, len(s.layers)),
		mirrored: make([]int, s.size.Y)}
}

// draw draws the world at game time g, in s. Each layer moves at every instant,
// so no two frames of the game are equal.
func (v *view) draw(g float64) {
	for k, l := range v.s.layers {
		pos := math.Mod(g/legTime, 1) * float64(l.w)
		at, half := math.Floor(pos), math.Floor(pos/2)
		v.across[k] = shift{int(at), int(half), tapAt(pos - at), tapAt(pos/2 - half), linear(pos - at)}
		if l.mirrors {
			v.ripple(l.top+l.first[0], g)
		}
	}
	var limit [16]int // by layer: what is nearer hides the rows from there on
	for x := range v.w {
		low := v.h
		for k := len(v.s.layers) - 1; k >= 0; k-- {
			limit[k] = low
			l := v.s.layers[k]
			i := v.across[k].at + x
			low = min(low, l.top+max(l.solid[i%l.w], l.solid[(i+1)%l.w]))
		}
		for k, l := range v.s.layers {
			if l.mirrors {
				v.mirror(x, l.top+l.first[0], limit[k])
			}
			v.column(x, l, &v.across[k], limit[k])
		}
	}
	v.glide(g)
}

// around sets the four columns of a layer that make the one at i.
func (t *tap) around(i, n int) {
	for k := range t.at {
		t.at[k] = (i - 1 + k + n) % n
	}
}

// column draws a layer's rows down to limit in column x.
func (v *view) column(x int, l *layer, s *shift, limit int) {
	i := s.at + x
	a, b := i%l.w, (i+1)%l.w
	first := min(l.first[a], l.first[b]) &^ 7
	end := min(l.h, limit-l.top)
	if first >= end {
		return
	}
	n := (end - first + 7) &^ 7
	solid := min(end, max(first, (max(l.solid[a], l.solid[b])+7)&^7))
	s.cover.around(i, l.w)
	cover := v.own.cover[:(solid-first+7)&^7]
	s.cover.line(cover, l.cover[first:], l.stride)
	planes := []struct {
		dst, src []uint8
		t        *tap
		i, n     int
	}{
		{v.y[x*v.stride:], l.y, &s.luma, i, l.w},
		{v.u[x/2*v.stride:], l.u, &s.chroma, s.half + x/2, l.w / 2},
		{v.v[x/2*v.stride:], l.v, &s.chroma, s.half + x/2, l.w / 2},
	}
	if x&1 != 0 {
		planes = planes[:1]
	}
	for _, p := range planes {
		p.t.around(p.i, p.n)
		dst := p.dst[l.top+first:][:n]
		if solid == first {
			p.t.line(dst, p.src[first:], l.stride)
			continue
		}
		own := v.own.y[:n]
		p.t.line(own, p.src[first:], l.stride)
		for r, c := range cover[:solid-first] {
			k := uint32(c) + uint32(c>>7)
			dst[r] = uint8((uint32(dst[r])*(256-k) + uint32(own[r])*k) >> 8)
		}
		copy(dst[solid-first:], own[solid-first:])
	}
}

// ripple finds what each row mirrors below a shore. Ripples move the rows, the
// nearer the more.
func (v *view) ripple(shore int, g float64) {
	for r := shore; r < v.h; r++ {
		deep := float64(r-shore+1) / float64(v.h)
		up := 0.8 * float64(r-shore) * (1 + 0.10*math.Sin(9*math.Log(deep)-5*g))
		v.mirrored[r] = max(0, shore-1-int(up))
	}
}

// mirror turns what stands above a lake's shore upside down.
func (v *view) mirror(x, shore, limit int) {
	y, cb, cr := v.y[x*v.stride:][:v.h], v.u[x/2*v.stride:][:v.h], v.v[x/2*v.stride:][:v.h]
	for r := shore; r < limit; r++ {
		y[r] = y[v.mirrored[r]]
	}
	if x&1 == 0 {
		for r := shore; r < limit; r++ {
			cb[r], cr[r] = cb[v.mirrored[r]], cr[v.mirrored[r]]
		}
	}
}

// point is a place in the glider: m forward, up, and to its right.
type point struct{ x, y, z float64 }

// glide draws the player's glider as seen from its left and a little from above
// and behind.
func (v *view) glide(g float64) {
	const long = 62.0 // units a m
	bank := 0.10*math.Sin(2*math.Pi*g/2.9) + 0.06*math.Sin(2*math.Pi*g/4.3+2)
	climb := 0.06 * math.Sin(2*math.Pi*g/3.1+0.7)
	unit := float64(v.size.Y) / 1080
	squash := v.s.squash * unit
	mx, my := float64(v.size.X)/2+30*squash*math.Sin(2*math.Pi*g/5.3), unit*(470+22*math.Sin(2*math.Pi*g/3.1))
	fill := func(c rgb, corners ...point) {
		list := make([]pixel, len(corners))
		for i, p := range corners {
			y, z := p.y*math.Cos(bank)+p.z*math.Sin(bank), p.z*math.Cos(bank)-p.y*math.Sin(bank)
			x, y := p.x*math.Cos(climb)-y*math.Sin(climb), y*math.Cos(climb)+p.x*math.Sin(climb)
			k := long / (1 + 0.028*z) // what is nearer is larger
			list[i] = pixel{mx + squash*k*(x+0.36*z), my - unit*k*(y+0.17*z)}
		}
		v.fill(c, list...)
	}
	white, shade, red, dark := rgb{240, 242, 246}, rgb{170, 180, 198}, rgb{206, 62, 44}, rgb{40, 52, 68}
	wing := func(s float64, lit rgb) {
		fill(lit, point{0.75, 0.32, s * 0.3}, point{0.55, 0.50, s * 4.6}, point{-0.05, 0.50, s * 4.6},
			point{-0.25, 0.32, s * 0.3})
		fill(lit, point{0.55, 0.50, s * 4.6}, point{0.30, 0.86, s * 7.6}, point{-0.02, 0.86, s * 7.6},
			point{-0.05, 0.50, s * 4.6})
		fill(shade, point{0.02, 0.37, s * 0.3}, point{0.08, 0.50, s * 4.6}, point{-0.05, 0.50, s * 4.6},
			point{-0.25, 0.32, s * 0.3})
		fill(red, point{0.32, 0.80, s * 7.1}, point{0.1, 1.3, s * 7.75}, point{-0.1, 1.3, s * 7.75},
			point{-0.02, 0.80, s * 7.1})
	}
	wing(1, rgb{222, 227, 236})
	fill(white, point{-3.9, 0.95, 0}, point{-4.1, 1.0, 1.3}, point{-4.4, 1.0, 1.3}, point{-4.5, 0.95, 0})
	// Body: a pod that tapers into the boom, with its canopy.
	fill(white, point{1.9, 0.05, 0}, point{1.2, 0.34, 0}, point{0.2, 0.42, 0}, point{-4.4, 0.14, 0},
		point{-4.4, -0.04, 0}, point{0.2, -0.1, 0})
	fill(shade, point{1.9, 0.05, 0}, point{0.2, -0.1, 0}, point{-4.4, -0.04, 0}, point{0, -0.34, 0},
		point{1.2, -0.3, 0})
	fill(dark, point{1.65, 0.16, 0}, point{1.2, 0.38, 0}, point{0.5, 0.42, 0}, point{0.45, 0.2, 0})
	// Fin and tailplane.
	fill(white, point{-3.7, 0.1, 0}, point{-4.1, 1.1, 0}, point{-4.6, 1.1, 0}, point{-4.5, 0, 0})
	fill(red, point{-3.86, 0.5, 0}, point{-3.98, 0.8, 0}, point{-4.57, 0.8, 0}, point{-4.54, 0.5, 0})
	fill(shade, point{-3.9, 1.0, -1.3}, point{-3.9, 1.02, 0}, point{-4.5, 1.02, 0}, point{-4.3, 1.0, -1.3})
	wing(-1, white)
}
