package measure

import (
	"image"
	"math"
	"math/rand/v2"
)

// A source draws a made-up game's picture at any game time. Every kind moves
// in its own way, since each defeats a different naive measure of change.
type source interface {
	// draw fills the luma plane pic, w×h bytes, at game time t in seconds.
	draw(pic []byte, w, h int, t float64)
}

// sourceKinds are the kinds of motion the confusion table has a row for.
var sourceKinds = []string{"pan", "zoom", "particles", "gradient", "object", "text", "dark", "mixed"}

// newSource returns a source of a kind; speed is in pixels a second where the
// kind moves at all, and seed varies texture and direction.
func newSource(kind string, speed float64, seed uint64) source {
	rng := rand.New(rand.NewPCG(seed, 77))
	angle := rng.Float64() * 2 * math.Pi
	vx, vy := speed*math.Cos(angle), speed*math.Sin(angle)*0.6
	switch kind {
	case "pan":
		return &pan{tex: newTexture(rng), vx: vx, vy: vy, low: 30, high: 220}
	case "dark":
		return &pan{tex: newTexture(rng), vx: vx, vy: vy, low: 17, high: 34}
	case "zoom":
		return &zoom{tex: newTexture(rng), rate: speed / 400}
	case "particles":
		p := &particles{back: newTexture(rng)}
		for range 60 {
			p.dots = append(p.dots, dot{rng.Float64(), rng.Float64(), (rng.Float64() - 0.5) * 2 * speed, (0.2 + rng.Float64()) * speed, 1 + 2*rng.Float64(), 120 + 100*rng.Float64()})
		}
		return p
	case "gradient":
		return &gradient{vx: vx, phase: rng.Float64()}
	case "object":
		return &object{back: newTexture(rng), vx: speed * (0.6 + 0.4*rng.Float64()), y: 0.2 + 0.6*rng.Float64(), size: 8}
	case "text":
		return newText(rng, speed)
	case "mixed":
		return &mixed{
			sky:    &gradient{vx: speed / 10, phase: rng.Float64()},
			ground: &pan{tex: newTexture(rng), vx: speed, vy: 0, low: 40, high: 180},
		}
	}
	panic("no source " + kind)
}

// A texture is a periodic picture with detail at several scales, read with
// bilinear interpolation.
type texture struct {
	n    int
	data []float64 // 0..1
}

func newTexture(rng *rand.Rand) *texture {
	const n = 256
	t := &texture{n: n, data: make([]float64, n*n)}
	total := 0.0
	for step, amp := 64, 1.0; step >= 1; step, amp = step/2, amp*0.7 {
		m := n / step
		grid := make([]float64, m*m)
		for i := range grid {
			grid[i] = rng.Float64()
		}
		for y := range n {
			for x := range n {
				gx, gy := float64(x)/float64(step), float64(y)/float64(step)
				t.data[y*n+x] += amp * bilinear(grid, m, gx, gy)
			}
		}
		total += amp
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, v := range t.data {
		lo, hi = min(lo, v), max(hi, v)
	}
	for i, v := range t.data {
		t.data[i] = (v - lo) / (hi - lo)
	}
	return t
}

func bilinear(data []float64, n int, x, y float64) float64 {
	x0, y0 := math.Floor(x), math.Floor(y)
	fx, fy := x-x0, y-y0
	xi, yi := wrap(int(x0), n), wrap(int(y0), n)
	xj, yj := wrap(xi+1, n), wrap(yi+1, n)
	a := data[yi*n+xi]*(1-fx) + data[yi*n+xj]*fx
	b := data[yj*n+xi]*(1-fx) + data[yj*n+xj]*fx
	return a*(1-fy) + b*fy
}

func wrap(i, n int) int {
	i %= n
	if i < 0 {
		i += n
	}
	return i
}

func (t *texture) at(x, y float64) float64 { return bilinear(t.data, t.n, x, y) }

func level(v float64) byte { return byte(min(max(math.Round(v), 0), 255)) }

type pan struct {
	tex       *texture
	vx, vy    float64
	low, high float64
}

func (s *pan) draw(pic []byte, w, h int, t float64) {
	// The bilinear weights are the same for the whole picture.
	ox, oy := s.vx*t, s.vy*t
	x0, y0 := math.Floor(ox), math.Floor(oy)
	fx, fy := ox-x0, oy-y0
	n, d := s.tex.n, s.tex.data
	for y := range h {
		r0 := d[wrap(int(y0)+y, n)*n:]
		r1 := d[wrap(int(y0)+y+1, n)*n:]
		xi := wrap(int(x0), n)
		for x := range w {
			xj := xi + 1
			if xj == n {
				xj = 0
			}
			v := (r0[xi]*(1-fx)+r0[xj]*fx)*(1-fy) + (r1[xi]*(1-fx)+r1[xj]*fx)*fy
			pic[y*w+x] = level(s.low + (s.high-s.low)*v)
			xi = xj
		}
	}
}

type zoom struct {
	tex  *texture
	rate float64 // of the logarithm of the scale, a second
}

func (s *zoom) draw(pic []byte, w, h int, t float64) {
	k := math.Exp(-s.rate * t)
	for y := range h {
		for x := range w {
			u, v := (float64(x)-float64(w)/2)*k, (float64(y)-float64(h)/2)*k
			pic[y*w+x] = level(30 + 190*s.tex.at(u, v))
		}
	}
}

type dot struct{ x, y, vx, vy, radius, level float64 }

type particles struct {
	back *texture
	dots []dot
	base []byte
}

func (s *particles) draw(pic []byte, w, h int, t float64) {
	if s.base == nil {
		s.base = make([]byte, w*h)
		(&pan{tex: s.back, low: 20, high: 110}).draw(s.base, w, h, 0)
	}
	copy(pic, s.base)
	for _, d := range s.dots {
		blob(pic, w, h, math.Mod(math.Mod(d.x*float64(w)+d.vx*t, float64(w))+float64(w), float64(w)),
			math.Mod(math.Mod(d.y*float64(h)+d.vy*t, float64(h))+float64(h), float64(h)), d.radius, d.level)
	}
}

// blob draws a soft disc with sub-pixel position.
func blob(pic []byte, w, h int, cx, cy, r, lum float64) {
	box := image.Rect(int(cx-r-2), int(cy-r-2), int(cx+r+3), int(cy+r+3)).Intersect(image.Rect(0, 0, w, h))
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			a := min(max(r+0.5-math.Hypot(float64(x)-cx, float64(y)-cy), 0), 1)
			p := &pic[y*w+x]
			*p = level(float64(*p)*(1-a) + lum*a)
		}
	}
}

// gradient is a wide, soft wave without any texture: the smallest differences
// a moving picture can have.
type gradient struct{ vx, phase float64 }

func (s *gradient) draw(pic []byte, w, h int, t float64) {
	row := make([]float64, w)
	for x := range row {
		row[x] = 110 + 80*math.Sin(2*math.Pi*((float64(x)+s.vx*t)/float64(w)+s.phase))
	}
	for y := range h {
		tilt := 15 * float64(y) / float64(h)
		for x := range w {
			pic[y*w+x] = level(row[x] + tilt)
		}
	}
}

type object struct {
	back *texture
	vx   float64
	y    float64
	size int
	base []byte
}

func (s *object) draw(pic []byte, w, h int, t float64) {
	if s.base == nil {
		s.base = make([]byte, w*h)
		(&pan{tex: s.back, low: 40, high: 160}).draw(s.base, w, h, 0)
	}
	copy(pic, s.base)
	// It bounces between the sides.
	span := float64(w - 2*s.size)
	p := math.Mod(s.vx*t+span/3, 2*span)
	if p > span {
		p = 2*span - p
	}
	blob(pic, w, h, p+float64(s.size), s.y*float64(h), float64(s.size)/2, 230)
}

// text is rows of block letters that scroll up over a flat page.
type text struct {
	speed float64
	rows  [][]bool
}

func newText(rng *rand.Rand, speed float64) *text {
	s := &text{speed: speed}
	for range 512 {
		row := make([]bool, 2048)
		s.rows = append(s.rows, row)
	}
	for line := 0; line+12 <= len(s.rows); line += 12 {
		for letter := 0; letter+7 <= 2048; letter += 7 {
			if rng.IntN(6) == 0 {
				continue
			}
			for y := range 8 {
				for x := range 5 {
					s.rows[line+y][letter+x] = rng.IntN(2) == 0
				}
			}
		}
	}
	return s
}

func (s *text) draw(pic []byte, w, h int, t float64) {
	off := s.speed * t
	whole := int(math.Floor(off))
	f := off - math.Floor(off)
	for y := range h {
		a, b := s.rows[wrap(y+whole, len(s.rows))], s.rows[wrap(y+whole+1, len(s.rows))]
		for x := range w {
			v := 24.0
			if x > w/8 && x < w*7/8 {
				if a[x] {
					v += 180 * (1 - f)
				}
				if b[x] {
					v += 180 * f
				}
			}
			pic[y*w+x] = level(v)
		}
	}
}

// mixed is a soft sky above a textured ground, as most games show.
type mixed struct {
	sky    *gradient
	ground *pan
}

func (s *mixed) draw(pic []byte, w, h int, t float64) {
	s.sky.draw(pic, w, h, t)
	cut := h * 2 / 5
	s.ground.draw(pic[cut*w:], w, h-cut, t)
}
