package demo

import "math"

// part is one flat piece of the glider, in m from its middle: x to the right,
// y up, z forward.
type part struct {
	corners []point
	colour  lanes
}

// gliderParts is the made-up glider as seen from behind, far pieces first.
func gliderParts() []part {
	white, shade, red, dark := rgb{240, 242, 246}, rgb{176, 186, 202}, rgb{206, 62, 44}, rgb{40, 52, 68}
	var list []part
	add := func(c rgb, p ...point) { list = append(list, part{p, c.lanes(0)}) }
	for _, s := range []float64{-1, 1} {
		lit := white
		if s > 0 {
			lit = rgb{222, 227, 236}
		}
		// Wing: top, then the thin trailing edge, with a raised and coloured tip.
		add(lit, point{s * 0.3, 0.32, 0.75}, point{s * 4.6, 0.50, 0.55}, point{s * 4.6, 0.50, -0.05}, point{s * 0.3, 0.32, -0.25})
		add(lit, point{s * 4.6, 0.50, 0.55}, point{s * 7.6, 0.86, 0.30}, point{s * 7.6, 0.86, -0.02}, point{s * 4.6, 0.50, -0.05})
		add(shade, point{s * 0.3, 0.32, -0.25}, point{s * 4.6, 0.50, -0.05}, point{s * 4.6, 0.43, -0.04}, point{s * 0.3, 0.22, -0.24})
		add(shade, point{s * 4.6, 0.50, -0.05}, point{s * 7.6, 0.86, -0.02}, point{s * 7.6, 0.83, -0.02}, point{s * 4.6, 0.43, -0.04})
		add(red, point{s * 7.2, 0.80, 0.32}, point{s * 7.6, 0.86, 0.30}, point{s * 7.75, 1.3, 0.1}, point{s * 7.7, 1.3, 0}, point{s * 7.2, 0.80, -0.02})
		add(dark, point{s * 2.2, 0.405, -0.13}, point{s * 4.5, 0.50, -0.03}, point{s * 4.5, 0.485, -0.05}, point{s * 2.2, 0.39, -0.15})
	}
	// Body: a pod that tapers into the boom.
	add(dark, point{-0.26, 0.42, 1.6}, point{0.26, 0.42, 1.6}, point{0.34, 0.28, 0.6}, point{-0.34, 0.28, 0.6})
	add(white, point{-0.34, 0.30, 0.7}, point{0, 0.46, 0.5}, point{0, 0.10, -4}, point{-0.10, 0.04, -4})
	add(shade, point{0.34, 0.30, 0.7}, point{0, 0.46, 0.5}, point{0, 0.10, -4}, point{0.10, 0.04, -4})
	add(rgb{150, 160, 178}, point{-0.34, 0.30, 0.7}, point{0.34, 0.30, 0.7}, point{0.3, -0.28, 0.4}, point{0.09, -0.06, -4}, point{-0.09, -0.06, -4}, point{-0.3, -0.28, 0.4})
	// Fin and tailplane.
	add(white, point{-0.05, 0, -4}, point{0.05, 0, -4}, point{0.04, 1.25, -4.3}, point{-0.04, 1.25, -4.3})
	add(red, point{-0.055, 0.75, -4.2}, point{0.055, 0.75, -4.2}, point{0.05, 1.0, -4.25}, point{-0.05, 1.0, -4.25})
	for _, s := range []float64{-1, 1} {
		add(white, point{0, 1.28, -3.9}, point{s * 1.35, 1.30, -4.1}, point{s * 1.35, 1.30, -4.4}, point{0, 1.28, -4.45})
		add(shade, point{0, 1.28, -4.45}, point{s * 1.35, 1.30, -4.4}, point{s * 1.35, 1.27, -4.4}, point{0, 1.23, -4.45})
	}
	return list
}

// drawGlider draws the player's glider, which the camera follows from behind
// and above.
func (v *view) drawGlider(c camera) {
	const behind, over = 19.0, 3.4
	g := c.g
	roll := -2.1*c.bank + 0.05*math.Sin(2*math.Pi*g/2.9)
	sway := 0.9 * math.Sin(2*math.Pi*g/5.3)
	lift := 0.35 * math.Sin(2*math.Pi*g/3.1+0.7)
	sin, cos := math.Sincos(roll)
	mx, my := float64(v.size.X)/2, float64(v.size.Y)*0.54
	f := float64(v.focal)
	var corners [8]pixel
	for i := range v.w.glider {
		p := &v.w.glider[i]
		list := corners[:0]
		for _, q := range p.corners {
			x, y := q.x*cos+q.y*sin+sway, -q.x*sin+q.y*cos+lift
			z := behind + q.z
			list = append(list, pixel{float32(mx + x*f/z), float32(my + (over-y)*f/z)})
		}
		v.fill(list, 0, p.colour, 256)
	}
}
