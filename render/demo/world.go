package demo

import (
	"math"
	"slices"
)

// The land is a grid of grid x grid points, cell m apart, that repeats in both
// directions. Water stands at height 0.
const (
	gridBits = 10
	grid     = 1 << gridBits
	cell     = worldSize / grid
	levels   = 6 // of detail, each half as fine as the one before
)

// lanes packs four values of 8 bits into 16 bits each, so that one
// multiplication blends all of them: luma, Cb, Cr (BT.709, limited range) and
// how rocky the ground is.
type lanes uint64

func pack(y, u, v, m float64) lanes {
	b := func(x float64) lanes { return lanes(min(255, max(0, math.Round(x)))) }
	return b(y) | b(u)<<16 | b(v)<<32 | b(m)<<48
}

const laneMask = 0x00ff00ff00ff00ff

// blend goes from a to b as t goes from 0 to 256.
func blend(a, b lanes, t uint32) lanes {
	return (a*lanes(256-t) + b*lanes(t)) >> 8 & laneMask
}

// level is the land at one level of detail.
type level struct {
	bits   uint
	height []float32
	ground []lanes // colour in its own light and shadow, without haze
}

type tree struct {
	x, z   float32 // m
	size   float32 // height in m, 0: none
	kind   uint8
	shade  uint8 // brightness, 128 is full sun
	ground float32
}

// world is everything that can be seen. It is read-only once built.
type world struct {
	seed   uint64
	levels [levels]level
	trees  []tree  // one place a cell, row by row
	top    float32 // height of the highest land, in m
	path   []float64
	detail []*texture // fine structure of the ground, from fine to coarse
	clouds []*texture // cover of the clouds, from fine to coarse
	pines  []sprite
	things []thing
	glider []part
}

// texture is a square of structure: two signed values a point.
type texture struct {
	bits uint
	at   []uint16 // low byte: grass, high byte: rock; for clouds: cover, shade
}

// sun is the direction to the sun: from the left and a little behind.
func sun() (x, y, z float64) {
	const azimuth, elevation = -1.95, 0.46
	return math.Sin(azimuth) * math.Cos(elevation), math.Sin(elevation), math.Cos(azimuth) * math.Cos(elevation)
}

// newWorld builds the world of a seed. fine is the number of bits of the
// clouds' side.
func newWorld(seed uint64, cloudBits uint) *world {
	w := &world{seed: seed}
	w.raise()
	w.planPath()
	w.plant()
	w.build()
	w.paint()
	w.reduce()
	w.detail = detailTextures(seed)
	w.clouds = cloudTextures(seed, cloudBits)
	w.pines = growPines(seed)
	w.glider = gliderParts()
	return w
}

// raise makes the heights.
func (w *world) raise() {
	hills := newOctaves(w.seed+1, 16, 6)
	ridges := newOctaves(w.seed+2, 8, 7)
	warp := newOctaves(w.seed+3, 32, 3)
	h := make([]float32, grid*grid)
	parallel(grid, func(j int) {
		z := float64(j) * cell
		for i := range grid {
			x := float64(i) * cell
			fx, fz := float32(i)/grid, float32(j)/grid
			bend := float64(warp.sum(fx, fz, 0.5))
			c := countryAt((z-ahead+90*bend)/legLength, 0.075)
			d := math.Abs(x - valleyX(z))
			d = min(d, worldSize-d) + 90*bend
			floor := 17 - 34*c.Lake + 34*c.Forest + 62*c.Rock
			slope := smooth(0, 1900, d-(430+160*c.Lake-180*c.Forest-310*c.Rock))
			flank := slope * (150 + 1050*float64(ridges.ridged(fx, fz, 0.52)))
			// A few knolls close to the path give the eye something to pass.
			roll := (16 + 10*c.Forest + 22*c.Rock + 110*slope) * float64(hills.sum(fx, fz, 0.5))
			h[j*grid+i] = float32(floor + roll + flank)
		}
	})
	w.levels[0] = level{bits: gridBits, height: h}
	w.top = slices.Max(h)
}

// height is the land's height in m at x m east and z m north; it may lie under
// water.
func (w *world) height(x, z float64) float64 {
	return float64(w.levels[0].heightAt(float32(x/cell), float32(z/cell)))
}

// heightAt blends the four points around (u, v), in cells of this level.
func (l *level) heightAt(u, v float32) float32 {
	fu, fv := floor32(u), floor32(v)
	m := 1<<l.bits - 1
	i, j := int(fu)&m, int(fv)&m
	i1, j1 := (i+1)&m, (j+1)&m
	j, j1 = j<<l.bits, j1<<l.bits
	u -= fu
	v -= fv
	a := l.height[j|i] + u*(l.height[j|i1]-l.height[j|i])
	b := l.height[j1|i] + u*(l.height[j1|i1]-l.height[j1|i])
	return a + v*(b-a)
}

func wrap(i int) int { return i & (grid - 1) }

// normal is the land's upward normal at a grid point.
func (w *world) normal(i, j int) (x, y, z float64) {
	h := w.levels[0].height
	dx := float64(h[j*grid+wrap(i+1)]-h[j*grid+wrap(i-1)]) / (2 * cell)
	dz := float64(h[wrap(j+1)*grid+i]-h[wrap(j-1)*grid+i]) / (2 * cell)
	n := 1 / math.Sqrt(1+dx*dx+dz*dz)
	return -dx * n, n, -dz * n
}

// plant decides where trees stand.
func (w *world) plant() {
	clumps := newOctaves(w.seed+5, 64, 3)
	w.trees = make([]tree, grid*grid)
	h := w.levels[0].height
	parallel(grid, func(j int) {
		for i := range grid {
			x, z := float64(i)*cell, float64(j)*cell
			height := float64(h[j*grid+i])
			_, up, _ := w.normal(i, j)
			clump := float64(clumps.sum(float32(i)/grid, float32(j)/grid, 0.6))
			c := countryAt((z-ahead+120*clump)/legLength, 0.03)
			d := math.Abs(x - valleyX(z))
			density := 1.15*c.Forest*(1-smooth(300, 1500, d)) + 0.9*smooth(0.1, 0.6, clump-0.25*c.Rock)
			density *= smooth(3, 9, height) * (1 - smooth(240, 340, height+60*clump)) * smooth(0.74, 0.86, up)
			if unit(w.seed+6, i, j) > density {
				continue
			}
			t := &w.trees[j*grid+i]
			t.x = float32(x + cell*unit(w.seed+7, i, j))
			t.z = float32(z + cell*unit(w.seed+8, i, j))
			t.size = float32(8 + 11*unit(w.seed+9, i, j)*(1-0.5*smooth(150, 330, height)))
			t.kind = uint8(hash(w.seed+10, i, j) % pineKinds)
			t.ground = float32(w.height(float64(t.x), float64(t.z)))
		}
	})
}

// rgb is a colour of the ground in sRGB.
type rgb struct{ r, g, b float64 }

func (a rgb) mix(b rgb, t float64) rgb {
	return rgb{mix(a.r, b.r, t), mix(a.g, b.g, t), mix(a.b, b.b, t)}
}

func (a rgb) times(k float64) rgb { return rgb{a.r * k, a.g * k, a.b * k} }

// yuv converts to BT.709 limited range (ITU-R BT.709-6, items 3.2 and 3.4,
// 8 bit).
func (a rgb) yuv() (y, u, v float64) {
	luma := 0.2126*a.r + 0.7152*a.g + 0.0722*a.b
	y = 16 + luma*219/255
	u = 128 + (a.b-luma)/1.8556*224/255
	v = 128 + (a.r-luma)/1.5748*224/255
	return min(lumaMax, max(lumaMin, y)), u, v
}

// Luma stays within these, so that the scaler's overshoot of two passes needs
// no clamping; see scale.go.
const lumaMin, lumaMax = 32, 226

func (a rgb) lanes(m float64) lanes {
	y, u, v := a.yuv()
	return pack(y, u, v, m)
}

// ray is a place on the way to the sun, seen from a grid point.
type ray struct {
	i, j int     // cells away
	up   float32 // how high the ray is there, in m
	soft float32 // how fast land above it darkens, a m
}

// paint gives the land its colours, light and shadow.
func (w *world) paint() {
	patch := newOctaves(w.seed+11, 32, 6)
	h := w.levels[0].height
	w.levels[0].ground = make([]lanes, grid*grid)
	sx, sy, sz := sun()
	flat := math.Hypot(sx, sz)
	shadow := make([]float32, grid*grid) // 0: none
	var rays []ray
	for k := 1; k <= 40; k++ {
		d := float64(k) * (1 + 0.08*float64(k))
		rays = append(rays, ray{int(math.Round(d * sx / flat)), int(math.Round(d * sz / flat)), float32(d * cell * sy / flat), float32(1 / (4 + 0.6*d))})
	}
	parallel(grid, func(j int) {
		for i := range grid {
			base := h[j*grid+i]
			var dark float32
			for _, r := range rays {
				top := h[wrap(j+r.j)*grid+wrap(i+r.i)]
				if d := (top - base - r.up) * r.soft; d > dark {
					dark = d
				}
			}
			shadow[j*grid+i] = min(1, dark)
		}
	})
	parallel(grid, func(j int) {
		for i := range grid {
			at := j*grid + i
			height := float64(h[at])
			nx, ny, nz := w.normal(i, j)
			p := float64(patch.sum(float32(i)/grid, float32(j)/grid, 0.6))
			c := countryAt((float64(j)*cell-ahead)/legLength, 0.03)

			ground := rgb{84, 122, 46}.mix(rgb{139, 142, 66}, smooth(-0.5, 0.7, p))
			ground = ground.mix(rgb{66, 98, 44}, smooth(0.1, 0.6, -p))
			ground = ground.mix(rgb{126, 116, 84}, 0.7*smooth(160, 330, height+90*p))
			rock := rgb{124, 114, 104}.mix(rgb{92, 88, 88}, smooth(-0.4, 0.5, p))
			rocky := max(smooth(0.86, 0.72, ny)*1, smooth(250, 420, height+130*p), 0.7*c.Rock*smooth(-0.1, 0.5, p+1-ny))
			ground = ground.mix(rock, rocky)
			snow := smooth(230, 380, height+120*p) * smooth(0.27, 0.52, ny+0.15*p)
			ground = ground.mix(rgb{238, 242, 250}, snow)
			ground = ground.mix(rgb{196, 182, 140}, smooth(5, 1.5, height+1.5*p))
			if w.trees[at].size > 0 {
				ground = ground.mix(rgb{52, 74, 38}, 0.55)
			}
			// The shadows of trees fall away from the sun.
			si, sj := wrap(i+int(math.Round(1.2*sx))), wrap(j+int(math.Round(1.2*sz)))
			lit := 1 - float64(shadow[at])
			w.trees[at].shade = uint8(128 * (0.45 + 0.55*lit))
			if w.trees[sj*grid+si].size > 0 {
				lit *= 0.6
			}
			sunlight := max(0, nx*sx+ny*sy+nz*sz) * lit
			sky := 0.36 + 0.14*ny
			warm := rgb{ground.r * (1.34*sunlight + 0.88*sky), ground.g * (1.28*sunlight + 0.96*sky), ground.b * (1.12*sunlight + 1.16*sky)}
			w.levels[0].ground[at] = warm.lanes(255 * min(1, rocky) * (1 - 0.85*snow))
		}
	})
}

// reduce makes the coarser levels, each point the mean of four.
func (w *world) reduce() {
	for k := 1; k < levels; k++ {
		from, bits := &w.levels[k-1], uint(gridBits-k)
		n := 1 << bits
		to := level{bits: bits, height: make([]float32, n*n), ground: make([]lanes, n*n)}
		for j := range n {
			for i := range n {
				a := (2*j)<<from.bits | 2*i
				b := (2*j+1)<<from.bits | 2*i
				hs := from.height
				to.height[j<<bits|i] = (hs[a] + hs[a+1] + hs[b] + hs[b+1]) / 4
				g := from.ground
				to.ground[j<<bits|i] = (g[a] + g[a+1] + g[b] + g[b+1] + 0x0002000200020002) >> 2 & laneMask
			}
		}
		w.levels[k] = to
	}
}
