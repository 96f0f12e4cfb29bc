package demo

import "math"

// canvas is a picture in columns: luma and cover are [x*stride+y], chroma is that
// of even columns, [x/2*stride+y]. cover is nil where all is opaque.
type canvas struct {
	w, h, stride int // stride is a multiple of 8
	y, u, v      []uint8
	cover        []uint8
}

func newCanvas(w, h int, opaque bool) canvas {
	stride := (h + 7) &^ 7
	plane := func(w int) []uint8 { return make([]uint8, w*stride) }
	c := canvas{w: w, h: h, stride: stride, y: plane(w), u: plane(w / 2), v: plane(w / 2)}
	if !opaque {
		c.cover = plane(w)
	}
	return c
}

// rgb is a colour in sRGB, each part from 0 to 255.
type rgb struct{ r, g, b float64 }

func (a rgb) mix(b rgb, t float64) rgb {
	return rgb{mix(a.r, b.r, t), mix(a.g, b.g, t), mix(a.b, b.b, t)}
}

func (a rgb) times(k float64) rgb { return rgb{a.r * k, a.g * k, a.b * k} }

// Luma stays within these, so that the scaler's overshoot of two passes needs
// no clamping; see scale.go.
const lumaMin, lumaMax = 32, 226

// yuv converts to BT.709 limited range (ITU-R BT.709-6, items 3.2 and 3.4,
// 8 bit).
func (a rgb) yuv() (y, u, v uint8) {
	luma := 0.2126*a.r + 0.7152*a.g + 0.0722*a.b
	y = uint8(min(lumaMax, max(lumaMin, 16.5+luma*219/255)))
	u = uint8(min(lumaMax, max(lumaMin, 128.5+(a.b-luma)/1.8556*224/255)))
	v = uint8(min(lumaMax, max(lumaMin, 128.5+(a.r-luma)/1.5748*224/255)))
	return y, u, v
}

// set mixes a colour into a pixel; part goes from 0 to 1.
func (c *canvas) set(x, y int, colour rgb, part float64) {
	if y < 0 || y >= c.h || part <= 0 {
		return
	}
	if x < 0 || x >= c.w {
		if c.cover == nil {
			return
		}
		x = (x + c.w) % c.w // layers go round
	}
	k := int(256 * min(1, part))
	at := x*c.stride + y
	a, b, d := colour.yuv()
	into := func(p *uint8, v uint8) { *p = uint8((int(*p)*(256-k) + int(v)*k) >> 8) }
	if c.cover != nil {
		if c.cover[at] = max(c.cover[at], uint8(min(255, k))); int(c.cover[at]) <= k {
			k = 256 // nothing was there, or less
		}
	}
	into(&c.y[at], a)
	if x&1 == 0 {
		at = x/2*c.stride + y
		into(&c.u[at], b)
		into(&c.v[at], d)
	}
}

// pixel is a place on a canvas, in pixels.
type pixel struct{ x, y float64 }

// fill draws a convex polygon with smooth edges: each pixel by how much of it is
// covered, exactly along columns and from four samples across.
func (c *canvas) fill(colour rgb, corners ...pixel) {
	x0, x1 := corners[0].x, corners[0].x
	for _, p := range corners {
		x0, x1 = min(x0, p.x), max(x1, p.x)
	}
	const across = 4
	cover := make([]float64, c.h+1)
	for x := int(math.Floor(x0)); x <= int(x1); x++ {
		low, high := c.h, -1
		for k := range across {
			xs := float64(x) + (float64(k)+0.5)/across
			a, b := math.Inf(1), math.Inf(-1)
			prev := corners[len(corners)-1]
			for _, p := range corners {
				if (prev.x <= xs) != (p.x <= xs) {
					y := prev.y + (p.y-prev.y)*(xs-prev.x)/(p.x-prev.x)
					a, b = min(a, y), max(b, y)
				}
				prev = p
			}
			a, b = max(0, a), min(float64(c.h), b)
			if a >= b {
				continue
			}
			low, high = min(low, int(a)), max(high, int(b))
			for r := int(a); r <= int(b); r++ {
				cover[r] += (min(b, float64(r+1)) - max(a, float64(r))) / across
			}
		}
		for r := low; r <= high; r++ {
			c.set(x, r, colour, cover[r])
			cover[r] = 0
		}
	}
}

// line draws a straight line of a width. Lines thinner than a pixel are drawn
// fainter, but never vanish.
func (c *canvas) line(colour rgb, p, q pixel, width float64) {
	n := math.Hypot(q.x-p.x, q.y-p.y)
	width = max(0.55, width)
	nx, ny := -(q.y-p.y)/n*width/2, (q.x-p.x)/n*width/2
	c.fill(colour, pixel{p.x + nx, p.y + ny}, pixel{q.x + nx, q.y + ny},
		pixel{q.x - nx, q.y - ny}, pixel{p.x - nx, p.y - ny})
}

// pine draws a conifer whose foot is at p, of a height in pixels.
func (c *canvas) pine(p pixel, height, squash float64, seed uint64, haze float64) {
	whorls := 8 + math.Floor(4*unit(seed, 1, 0))
	wide := (0.17 + 0.05*unit(seed, 2, 0)) * height * squash
	green := rgb{40, 74, 40}.mix(rgb{74, 92, 40}, unit(seed, 3, 0)).times(0.8 + 0.4*unit(seed, 4, 0))
	air := rgb{150, 178, 196}
	for x := int(p.x - wide - 1); x <= int(p.x+wide+1); x++ {
		for y := int(p.y - height); y <= int(p.y); y++ {
			fx, fy := (float64(x)+0.5-p.x)/wide, (float64(y)+0.5-p.y)/height+1
			// Whorls of branches widen downwards and droop at their tips.
			phase := fy*whorls - 0.6*math.Abs(fx) + 0.3*unit(seed, x, int(fy*whorls*3))
			tooth := phase - math.Floor(phase)
			half := 0.03 + math.Pow(max(0, fy), 0.85)*(0.6+0.4*tooth)
			switch d := (half - math.Abs(fx)) * wide; {
			case fy < 0.94 && d > -0.5:
				side := 0.5 - 0.5*fx/max(0.05, half) // the sun is at the left
				light := 0.45 + 0.75*side*side + 0.35*tooth - 0.2*fy + 0.25*(unit(seed, x, y)-0.5)
				c.set(x, y, green.times(light).mix(air, haze), d+0.5)
			case math.Abs(fx) < 0.05:
				c.set(x, y, rgb{64, 50, 38}.mix(air, haze), 1)
			}
		}
	}
}

// house draws a house, or a tower, that stands at p: its size is that of the
// wall in pixels.
func (c *canvas) house(p pixel, w, h, roof float64, tiles rgb) {
	at := func(x, y float64) pixel { return pixel{p.x + x*w, p.y - y} }
	c.fill(rgb{232, 222, 202}, at(-0.5, -2), at(0.2, -2), at(0.2, h), at(-0.5, h))
	c.fill(rgb{150, 142, 136}, at(0.2, -2), at(0.5, -2), at(0.5, h), at(0.2, h))
	c.fill(tiles, at(-0.56, h-0.1*roof), at(0.2, h-0.1*roof), at(0, h+roof), at(-0.3, h+roof))
	c.fill(tiles.times(0.66), at(0.2, h-0.1*roof), at(0.56, h-0.1*roof), at(0, h+roof))
	// Windows are small and dark: the first thing a low resolution loses.
	for _, x := range []float64{-0.38, -0.18, 0.02, 0.33} {
		for y := 0.3 * w; y < h-0.15*w; y += 0.45 * w {
			c.fill(rgb{52, 58, 70}, at(x-0.04, y), at(x+0.04, y), at(x+0.04, y+0.17*w), at(x-0.04, y+0.17*w))
		}
	}
}
