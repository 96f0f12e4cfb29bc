package demo

import "math"

// The flight leads north through a valley whose kinds of country follow each
// other in legs: a lake, meadows, a forest, a rocky pass, and the next lake.
const (
	worldSize = 8192.0        // m; the world repeats after that, in both directions
	legs      = 6             // legs in a world
	legLength = worldSize / 6 // m
	legTime   = 11.5          // s
	airspeed  = legLength / legTime
	ahead     = 230.0 // m: what fills the picture lies that far before the camera
)

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

// valleyX is where the valley's middle lies, in m east, at z m north.
func valleyX(z float64) float64 {
	w := 2 * math.Pi * z / worldSize
	return worldSize/2 + 95*math.Sin(6*w) + 22*math.Sin(14*w+1)
}

// camera is a point of view. Directions are those of a pilot who looks
// forward: x east, z north, y up.
type camera struct {
	x, y, z float64 // m
	yaw     float64 // rad, 0 is north, positive to the east
	pitch   float64 // rad, positive up
	bank    float64 // rad, positive: right wing down
	g       float64 // game time in s
}

// cameraAt returns the point of view at game time g in s. It moves and turns at
// every instant, so no two frames of the game are equal.
func (w *world) cameraAt(g float64) camera {
	c := camera{g: g, z: math.Mod(airspeed*g, worldSize)}
	const dz = 4.0
	x0, x1, x2 := valleyX(c.z-dz), valleyX(c.z), valleyX(c.z+dz)
	c.x = x1
	c.y = w.altitude(c.z)
	slope := (x2 - x0) / (2 * dz)
	curve := (x2 - 2*x1 + x0) / (dz * dz)
	climb := (w.altitude(c.z+dz) - w.altitude(c.z-dz)) / (2 * dz)
	c.yaw = math.Atan(slope) + -0.06*math.Cos(2*math.Pi*g/2.9)
	c.pitch = -0.10 + 0.5*math.Atan(climb) + 0.018*math.Sin(2*math.Pi*g/1.7+1)
	c.bank = 0.10*math.Atan(curve*airspeed*airspeed/9.81) + 0.022*math.Sin(2*math.Pi*g/4.3+2)
	return c
}

// altitude is the flight's height over the water at z m north.
func (w *world) altitude(z float64) float64 {
	n := len(w.path)
	t := z / worldSize * float64(n)
	f := math.Floor(t)
	i := int(f)
	t -= f
	at := func(k int) float64 { return w.path[((i+k)%n+n)%n] }
	a, b, c, d := at(-1), at(0), at(1), at(2)
	// Uniform cubic B-spline: smooth to the second derivative, so the horizon
	// never jerks.
	return (a*(1-t)*(1-t)*(1-t) + b*(3*t*t*t-6*t*t+4) + c*(-3*t*t*t+3*t*t+3*t+1) + d*t*t*t) / 6
}

// planPath lays the flight's heights over the land: well above it, and smooth.
func (w *world) planPath() {
	const n = 512
	raw := make([]float64, n)
	for i := range raw {
		z := float64(i) * worldSize / n
		top := 0.0
		for dz := -60.0; dz <= 140; dz += 20 {
			for dx := -40.0; dx <= 40; dx += 20 {
				top = max(top, w.height(valleyX(z+dz)+dx, z+dz))
			}
		}
		c := countryAt((z+40)/legLength, 0.06)
		raw[i] = top + 62 + 6*c.Forest + 14*c.Rock - 14*c.Lake
	}
	w.path = make([]float64, n)
	for i := range w.path {
		var sum, total float64
		for k := -14; k <= 14; k++ {
			g := math.Exp(-float64(k*k) / 60)
			sum += g * raw[((i+k)%n+n)%n]
			total += g
		}
		w.path[i] = sum / total
	}
}
