package demo

import (
	"math"
	"runtime"
	"sync"
	"sync/atomic"
)

// hash mixes a few integers into 64 evenly spread bits (the finalizer of
// SplitMix64, Steele, Lea and Flood 2014). It is the only source of chance
// here, so that a picture depends on where and when, and not on what was drawn
// before.
func hash(seed uint64, a, b int) uint64 {
	x := seed + uint64(a)*0x9e3779b97f4a7c15 + uint64(b)*0xd1b54a32d192ed03
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// unit is hash as a number in [0, 1).
func unit(seed uint64, a, b int) float64 {
	return float64(hash(seed, a, b)>>11) / (1 << 53)
}

// lattice is gradient noise (Perlin 2002) that repeats after n cells in both
// directions; n is a power of two.
type lattice struct {
	n    int
	grad [][2]float32
}

func newLattice(seed uint64, n int) *lattice {
	l := &lattice{n: n, grad: make([][2]float32, n*n)}
	for i := range l.grad {
		s, c := math.Sincos(2 * math.Pi * unit(seed, i%n, i/n))
		l.grad[i] = [2]float32{float32(c), float32(s)}
	}
	return l
}

// at returns noise of about [-1, 1] at (x, y), in cells.
func (l *lattice) at(x, y float32) float32 {
	fx, fy := floor32(x), floor32(y)
	m := l.n - 1
	ix, iy := int(fx)&m, int(fy)&m
	jx, jy := (ix+1)&m, (iy+1)&m
	x -= fx
	y -= fy
	dot := func(ix, iy int, x, y float32) float32 {
		g := &l.grad[iy*l.n+ix]
		return g[0]*x + g[1]*y
	}
	a, b := dot(ix, iy, x, y), dot(jx, iy, x-1, y)
	c, d := dot(ix, jy, x, y-1), dot(jx, jy, x-1, y-1)
	u, v := fade(x), fade(y)
	a += u * (b - a)
	c += u * (d - c)
	return 1.5 * (a + v*(c-a))
}

func fade(t float32) float32 { return t * t * t * (t*(6*t-15) + 10) }

func floor32(x float32) float32 { return float32(math.Floor(float64(x))) }

// octaves is a stack of lattices, each twice as fine as the one before.
type octaves []*lattice

func newOctaves(seed uint64, n, count int) octaves {
	o := make(octaves, count)
	for i := range o {
		o[i] = newLattice(seed+uint64(i)*77, n<<i)
	}
	return o
}

// sum adds the octaves at (x, y), in fractions of the repeated square; each
// octave counts gain times the one before.
func (o octaves) sum(x, y, gain float32) float32 {
	var sum, amp float32 = 0, 1
	for _, l := range o {
		n := float32(l.n)
		sum += amp * l.at(x*n, y*n)
		amp *= gain
	}
	return sum
}

// ridged is like sum, but with sharp crests, in about [0, 1].
func (o octaves) ridged(x, y, gain float32) float32 {
	var sum, amp, total, prev float32 = 0, 1, 0, 1
	for _, l := range o {
		n := float32(l.n)
		v := l.at(x*n, y*n)
		if v < 0 {
			v = -v
		}
		v = max(0, 1-v)
		v *= v * prev
		prev = min(1, v*1.6)
		sum += amp * v
		total += amp
		amp *= gain
	}
	return sum / total
}

// smooth goes from 0 at a to 1 at b, with level ends.
func smooth(a, b, x float64) float64 {
	t := min(1, max(0, (x-a)/(b-a)))
	return t * t * (3 - 2*t)
}

func mix(a, b, t float64) float64 { return a + t*(b-a) }

// parallel calls f for every row in [0, n), on all cores.
func parallel(n int, f func(row int)) {
	var next atomic.Int64
	var wg sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				f(i)
			}
		})
	}
	wg.Wait()
}
