package demo

import (
	"image"
	"math"
)

// The flight leads past a valley whose kinds of country follow each other in
// legs: a lake, meadows, a forest, a rocky pass, and the next lake. The land
// consists of layers that pass by, the nearer the faster, and repeats each leg.
const legTime = 11.5 // s

// country says what the land is like at a place, or in view at a time, each
// from 0 to 1.
type country struct{ Lake, Forest, Rock float64 }

// countryAt gives the country at s legs into the flight; one kind goes over
// into the next within 2·edge legs.
func countryAt(s, edge float64) country {
	s -= math.Floor(s)
	in := func(from, to float64) float64 {
		return smooth(from-edge, from+edge, s) * (1 - smooth(to-edge, to+edge, s))
	}
	return country{
		Lake:   max(in(-1, 0.20), in(0.86, 2)),
		Forest: in(0.33, 0.59),
		Rock:   in(0.655, 0.80),
	}
}

// grain is a square of noise that repeats, with coarser ones for small pictures.
type grain [][]float32

const grainBits = 9

func newGrain(at func(x, y float32) float32) grain {
	g := make(grain, 5)
	for k := range g {
		n := 1 << (grainBits - k)
		g[k] = make([]float32, n*n)
		parallel(n, func(j int) {
			for i := range n {
				if k == 0 {
					g[0][j*n+i] = at(float32(i)/float32(n), float32(j)/float32(n))
					continue
				}
				p := g[k-1][4*j*n+2*i:]
				g[k][j*n+i] = (p[0] + p[1] + p[2*n] + p[2*n+1]) / 4
			}
		})
	}
	return g
}

// at blends the four points around (u, v), in squares.
func (g grain) at(level int, u, v float64) float64 {
	n := 1 << (grainBits - level)
	u, v = (u-math.Floor(u))*float64(n), (v-math.Floor(v))*float64(n)
	i, j := int(u), int(v)
	u, v = u-float64(i), v-float64(j)
	i1, j1 := (i+1)&(n-1), (j+1)&(n-1)
	i, j = i&(n-1), j&(n-1)
	p := g[level]
	return mix(mix(float64(p[j*n+i]), float64(p[j*n+i1]), u),
		mix(float64(p[j1*n+i]), float64(p[j1*n+i1]), u), v)
}

// world is what the land is made of, whatever the resolution.
type world struct {
	seed         uint64
	hills, crags octaves
	soft, rough  grain
}

func newWorld(seed uint64) *world {
	w := &world{seed: seed, hills: newOctaves(seed+1, 4, 6), crags: newOctaves(seed+2, 4, 7)}
	w.soft = newGrain(func(x, y float32) float32 { return w.hills[1:].sum(x, y, 0.66) })
	rough := newOctaves(seed+3, 4, 7)
	w.rough = newGrain(func(x, y float32) float32 { return rough.ridged(x, y, 0.6) })
	return w
}

// scenery is the land in one resolution, from far to near. It is read-only once
// painted.
type scenery struct {
	size   image.Point
	squash float64 // width of a unit, in heights of one
	layers []*layer
}

// layer is a strip of land that goes round.
type layer struct {
	canvas
	top          int   // row of the picture where its rows begin, a multiple of 8
	first, solid []int // rows of each column from which it shows, and hides what is behind
	mirrors      bool  // what stands above its first row
}

// painter paints a layer. It thinks in units: 1080 are as high as a capture.
type painter struct {
	*layer
	w      *world
	sx, sy float64 // pixels in a unit
	long   float64 // of the layer, in units
	level  int     // of grain
}

// country is what the land at x is like, as seen when it is in the middle.
func (p *painter) country(x float64) country { return countryAt((x-960)/p.long, 0.04) }

func (p *painter) place(x, y float64) pixel { return pixel{x * p.sx, y*p.sy - float64(p.top)} }

// noise is a grain at (x, y), magnified; it goes round with the layer.
func (p *painter) noise(g grain, x, y, scale float64) float64 {
	n := math.Max(1, math.Round(p.long/512/scale))
	return g.at(p.level, x/p.long*n, y/512/scale)
}

// crest is a line of hills at x, in about [-1, 1].
func (p *painter) crest(row, x float64) float64 {
	return float64(p.w.hills.sum(float32(x/p.long), float32(row), 0.5))
}

// peaks is a line of mountains at x, in about [0, 1].
func (p *painter) peaks(row, x float64) float64 {
	return float64(p.w.crags.ridged(float32(x/p.long), float32(row), 0.55))
}

// ground paints all that lies below a line.
func (p *painter) ground(line func(x float64) float64, colour func(x, y, deep float64) rgb) {
	parallel(p.canvas.w/2, func(pair int) {
		for i := 2 * pair; i < 2*pair+2; i++ {
			x := (float64(i) + 0.5) / p.sx
			edge := line(x)*p.sy - float64(p.top)
			for r := max(0, int(edge)); r < p.h; r++ {
				y := (float64(r+p.top) + 0.5) / p.sy
				p.set(i, r, colour(x, y, max(0, y-edge/p.sy-float64(p.top)/p.sy)), float64(r+1)-edge)
			}
		}
	})
}

// finish finds where the layer's columns begin and are solid. Where nothing is,
// colours go on, so that edges have no dark seams.
func (p *painter) finish() {
	l := p.layer
	l.first, l.solid = make([]int, l.canvas.w), make([]int, l.canvas.w)
	for x := range l.first {
		y, cover := l.y[x*l.stride:], l.cover[x*l.stride:]
		u, v := l.u[x/2*l.stride:], l.v[x/2*l.stride:]
		l.solid[x] = l.h
		for r := l.h - 1; r >= 0; r-- {
			if cover[r] > 0 {
				l.first[x] = r
			}
			if cover[r] == 255 && l.solid[x] == r+1 {
				l.solid[x] = r
			}
			if cover[r] == 0 && r < l.h-1 {
				y[r] = y[r+1]
				if x&1 == 0 {
					u[r], v[r] = u[r+1], v[r+1]
				}
			}
		}
	}
}

// paint paints the scenery of a world for pictures of a size that are shown as
// large as screen.
func (w *world) paint(size, screen image.Point) *scenery {
	sy := float64(size.Y) / 1080
	sx := float64(screen.Y) / 1080 * float64(size.X) / float64(screen.X)
	s := &scenery{size: size, squash: sx / sy}
	level := min(4, max(0, int(math.Round(math.Log2(1/sy)))))
	for _, one := range []struct {
		speed float64 // units a second
		from  float64 // no row above is drawn
		paint func(p *painter)
	}{
		{260, 0, (*painter).sky},
		{310, 130, (*painter).mountains},
		{375, 250, (*painter).slopes},
		{470, 440, (*painter).hills},
		{600, 632, (*painter).lake},
		{750, 480, (*painter).forest},
		{1200, 480, (*painter).bank},
	} {
		n := 2 * int(math.Round(one.speed*legTime*sx/2))
		top := int(one.from*sy) &^ 7
		l := &layer{canvas: newCanvas(n, size.Y-top, false), top: top}
		p := &painter{layer: l, w: w, sx: sx, sy: sy, long: one.speed * legTime, level: level}
		one.paint(p)
		p.finish()
		s.layers = append(s.layers, l)
	}
	return s
}

var (
	air  = rgb{176, 200, 226} // what is far away goes over into it
	snow = rgb{240, 244, 252}
)

func (p *painter) sky() {
	p.ground(func(float64) float64 { return 0 }, func(x, y, _ float64) rgb {
		blue := rgb{44, 98, 178}.mix(rgb{122, 170, 222}, smooth(0, 420, y))
		blue = blue.mix(rgb{206, 218, 230}, smooth(300, 640, y))
		// Clouds flatten towards the horizon.
		flat := y * (1.3 + 1.2*math.Pow(y/640, 2))
		n := p.noise(p.w.soft, x, flat, 2) + 0.4*p.noise(p.w.soft, x, 2*flat, 0.6)
		lit := n - p.noise(p.w.soft, x-40, flat-50, 2)
		cloud := rgb{228, 232, 240}.times(0.94 + 0.13*lit)
		return blue.mix(cloud, 0.95*smooth(-0.05, 0.6, n)).times(0.97 + 0.06*p.noise(p.w.rough, x, y, 0.5))
	})
}

// rock is a face of rock with snow on what lies flat, lit from the left.
func (p *painter) rock(x, y, scale, snowy float64) rgb {
	at := func(dx, dy float64) float64 { return p.noise(p.w.rough, x+dx, 0.7*y+dy, scale) }
	h := at(0, 0)
	light := 2.6 * (at(6*scale, 3*scale) - h)
	stone := rgb{128, 118, 110}.mix(rgb{92, 90, 94}, smooth(0.2, 0.7, h))
	white := smooth(0.1, 0.35, snowy+0.5*(h-0.5)-0.5*light)
	return stone.mix(snow, white).times(min(1.5, max(0.35, 0.86+light)))
}

func (p *painter) mountains() {
	line := func(x float64) float64 { return 520 - 370*p.peaks(0.1, x) }
	p.ground(line, func(x, y, deep float64) rgb {
		return p.rock(x, y, 1.2, 0.75-deep/260).mix(air, 0.34+0.5*smooth(300, 640, y))
	})
}

func (p *painter) slopes() {
	line := func(x float64) float64 { return 660 - 400*p.peaks(0.6, x) - 60*p.country(x).Rock }
	p.ground(line, func(x, y, deep float64) rgb {
		n := p.noise(p.w.soft, x, y, 0.5)
		meadow := rgb{104, 132, 62}.mix(rgb{58, 84, 48}, smooth(-0.2, 0.5, n))
		c := p.rock(x, y, 0.8, 0.3-deep/140)
		return c.mix(meadow, smooth(430, 560, y+70*n)).mix(air, 0.16+0.22*smooth(400, 660, y))
	})
}

// meadow is grass, dry in places.
func (p *painter) meadow(x, y, scale float64) rgb {
	n := p.noise(p.w.soft, x, 2.2*y, 2*scale)
	blades := p.noise(p.w.soft, x, 0.7*y, 0.22*scale)
	c := rgb{104, 138, 60}.mix(rgb{146, 150, 78}, smooth(-0.2, 0.7, n))
	c = c.mix(rgb{72, 110, 52}, smooth(-0.1, 0.6, -n))
	return c.times(1 + 0.34*blades)
}

func (p *painter) hills() {
	line := func(x float64) float64 { return 586 + 30*p.crest(0.3, x) }
	shade := make([]float64, p.canvas.w+1)
	for i := range shade {
		x := float64(i) / p.sx
		shade[i] = 1 - 0.9*(p.crest(0.3, x+18)-p.crest(0.3, x))
	}
	p.ground(line, func(x, y, deep float64) rgb {
		return p.meadow(x, y, 0.5).times(shade[int(x*p.sx)]*(0.82+0.3*smooth(0, 30, deep))).mix(air, 0.16)
	})
	p.pylons(line)
	for row := range 5 { // of woods, from far to near
		for k := range int(p.long / 7) {
			x := 7 * (float64(k) + unit(p.w.seed+20, k, row))
			c := p.country(x)
			if p.crest(0.3+0.13*float64(row), x)+0.9*c.Forest-0.5*c.Lake < 0.08 {
				continue
			}
			high := 20 + 3*float64(row) + 14*unit(p.w.seed+21, k, row)
			foot := p.place(x, line(x)+10+13*float64(row))
			p.pine(foot, high*p.sy, p.sx/p.sy, p.w.seed+uint64(100*k+row), 0.2)
		}
	}
	for k := range 14 { // a village
		x := p.long*0.19 + 46*float64(k) + 20*unit(p.w.seed+22, k, 0)
		y := line(x) + 26 + 44*unit(p.w.seed+23, k, 0)
		tiles := rgb{158, 74, 54}.mix(rgb{116, 84, 70}, unit(p.w.seed+24, k, 0))
		if k == 6 {
			p.house(p.place(x, y+10), 17*p.sx, 66*p.sy, 26*p.sy, rgb{70, 90, 104})
			continue
		}
		p.house(p.place(x, y), (26+8*unit(p.w.seed+25, k, 0))*p.sx, 15*p.sy, 11*p.sy, tiles)
	}
	p.beach(640)
}

// beach lets the shore below a row be sand.
func (p *painter) beach(y float64) {
	for x := range p.canvas.w {
		for r := max(0, int(y*p.sy)-p.top); r < p.h; r++ {
			n := p.noise(p.w.rough, float64(x)/p.sx, float64(r)/p.sy, 0.2)
			p.set(x, r, rgb{198, 186, 146}.times(0.9+0.3*n), 0.8)
		}
	}
}

// lake mirrors the mountains, less the steeper it is looked at.
func (p *painter) lake() {
	const shore = 650.0
	p.mirrors = true
	p.ground(func(float64) float64 { return shore }, func(x, y, deep float64) rgb {
		near := 0.25 + deep/430
		n := p.noise(p.w.soft, x, 3.5*y/near, 0.8) + 0.6*p.noise(p.w.rough, x, 5*y/near, 0.6)
		return rgb{24, 74, 104}.mix(rgb{90, 140, 168}, smooth(-0.3, 1.3, n))
	})
	for x := range p.canvas.w {
		for r := range p.h {
			if at := x*p.stride + r; p.cover[at] == 255 {
				p.cover[at] = uint8(90 + 130*smooth(shore, 1080, float64(r+p.top)/p.sy))
			}
		}
	}
}

func (p *painter) forest() {
	line := func(x float64) float64 {
		c := p.country(x)
		return 850 + 40*p.crest(0.5, x) + 300*c.Lake - 130*c.Forest - 150*c.Rock - 60*c.Rock*p.crest(0.8, 5*x)
	}
	p.ground(line, func(x, y, deep float64) rgb {
		rocky := p.country(x).Rock
		c := p.meadow(x, y, 1).mix(p.rock(x, y, 0.6, -1), rocky)
		return c.times(0.85+0.25*smooth(0, 60, deep)).mix(air, 0.04)
	})
	for row := range 9 {
		for k := range int(p.long / 22) {
			x := 22 * (float64(k) + unit(p.w.seed+30, k, row))
			c := p.country(x)
			if unit(p.w.seed+31, k, row) > 0.06+0.94*c.Forest-0.05*c.Lake {
				continue
			}
			high := 70 + 8*float64(row) + 40*unit(p.w.seed+32, k, row)
			p.pine(p.place(x, line(x)+8+30*float64(row)), high*p.sy, p.sx/p.sy, p.w.seed+uint64(1000*k+row),
				0.06)
		}
	}
}

// pylons carry cables along the valley; what is thin shows how fine a picture is.
func (p *painter) pylons(line func(float64) float64) {
	steel, cable := rgb{66, 72, 80}, rgb{44, 48, 56}
	const gap, arm = 345.0, 150.0
	n := math.Round(p.long / gap)
	for k := range int(n) {
		x, next := p.long/n*float64(k), p.long/n*float64(k+1)
		top, far := line(x)+26-arm, line(next)+26-arm
		at := func(dx, dy float64) pixel { return p.place(x+dx, top+dy) }
		for _, s := range []float64{-1, 1} {
			p.line(steel, at(9*s, arm), at(s, 0), 2*p.sx)
			for f := range 6 {
				a, b := arm*float64(f+1)/6, arm*float64(f)/6
				p.line(steel, at(s*(1+8*a/arm), a), at(-s*(1+8*b/arm), b), p.sx)
			}
		}
		for _, h := range []float64{8, 28, 48} {
			p.line(steel, at(-17, h), at(17, h), 1.6*p.sx)
			for _, s := range []float64{-15, 15} {
				const parts = 12
				hang := func(k int) pixel {
					f := float64(k) / parts
					return p.place(mix(x, next, f)+s, mix(top, far, f)+h+5+4*20*f*(1-f))
				}
				for k := range parts {
					p.line(cable, hang(k), hang(k+1), p.sx)
				}
			}
		}
	}
}

func (p *painter) bank() {
	line := func(x float64) float64 {
		c := p.country(x)
		return 1010 + 26*p.crest(0.7, x) + 20*p.crest(0.2, 6*x) + 12*c.Lake - 50*c.Forest - 110*c.Rock
	}
	p.ground(line, func(x, y, deep float64) rgb {
		return p.meadow(x, y, 1.8).mix(p.rock(x, y, 1, -1), p.country(x).Rock).times(0.7 +
			0.3*smooth(0, 60, deep))
	})
	for k := range int(p.long / 190) {
		x := 190 * (float64(k) + unit(p.w.seed+40, k, 0))
		if c := p.country(x); unit(p.w.seed+41, k, 0) < 0.12+0.5*c.Forest-0.08*c.Lake {
			high := 280 + 130*unit(p.w.seed+42, k, 0)
			p.pine(p.place(x, line(x)+40), high*p.sy, p.sx/p.sy, p.w.seed+uint64(k), 0)
		}
	}
	white := rgb{224, 220, 208}
	for x := 0.0; x < p.long; x += 64 { // a fence
		if c := p.country(x); c.Lake+c.Rock+c.Forest > 0.2 {
			continue
		}
		at := func(x, up float64) pixel { return p.place(x, line(x)-up) }
		p.line(white, at(x, -10), at(x, 58), 5*p.sx)
		p.line(white, at(x, 24), at(x+64, 24), 3*p.sx)
		p.line(white, at(x, 46), at(x+64, 46), 3*p.sx)
	}
}
