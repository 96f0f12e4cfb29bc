package demo

import "math"

// build sets what people built into the world: a power line that crosses the
// valley in every leg, fences in the meadows, a hamlet with a bell tower.
func (w *world) build() {
	for leg := range legs {
		z := float64(leg) * legLength
		w.powerLine(z + 0.50*legLength)
		w.powerLine(z + 0.96*legLength)
		w.fence(z+0.37*legLength, -17)
		w.fence(z+0.39*legLength, 21)
		w.hamlet(z+0.385*legLength, leg)
	}
}

func (w *world) onLand(x, z, up float64) point {
	return point{x, max(0, w.height(x, z)) + up, z}
}

// powerLine runs across the valley at about z.
func (w *world) powerLine(z float64) {
	steel, cable := rgb{70, 74, 80}.lanes(0), rgb{40, 42, 48}.lanes(0)
	const height, gap = 44.0, 150.0
	var tops []point
	mid := valleyX(z)
	for k := -4; k <= 4; k++ {
		x := mid + gap*(float64(k)+0.4)
		zz := z + 0.22*gap*float64(k)
		foot := w.onLand(x, zz, 0)
		t := thing{at: foot, reach: 60}
		up := func(dx, dy, dz float64) point { return point{foot.x + dx, foot.y + dy, foot.z + dz} }
		leg := func(side, dy float64) float64 { return side * (4.2 - 3.4*dy/height) }
		for _, sx := range []float64{-1, 1} {
			for _, sz := range []float64{-1, 1} {
				t.bars = append(t.bars, bar{up(leg(sx, 0), -3, leg(sz, 0)), up(leg(sx, height), height, leg(sz, height)), 0.34, steel, false})
			}
		}
		for f := 0; f < 6; f++ {
			lo, hi := height*float64(f)/6, height*float64(f+1)/6
			for _, sz := range []float64{-1, 1} {
				t.bars = append(t.bars,
					bar{up(leg(-1, lo), lo, leg(sz, lo)), up(leg(1, hi), hi, leg(sz, hi)), 0.2, steel, true},
					bar{up(leg(1, lo), lo, leg(sz, lo)), up(leg(-1, hi), hi, leg(sz, hi)), 0.2, steel, true})
			}
		}
		for _, arm := range []float64{0.72, 0.86, 1} {
			reach := 8.5 - 3*math.Abs(arm-0.86)/0.14
			y := height * arm
			// Arms stand along the valley, because the cables run across it.
			t.bars = append(t.bars, bar{up(0, y, -reach), up(0, y, reach), 0.36, steel, false})
		}
		w.things = append(w.things, t)
		tops = append(tops, foot)
	}
	for i := 1; i < len(tops); i++ {
		a, b := tops[i-1], tops[i]
		for _, arm := range []float64{0.72, 0.86, 1} {
			reach := 8.5 - 3*math.Abs(arm-0.86)/0.14
			for _, side := range []float64{-1, 1} {
				const parts = 12
				t := thing{at: point{(a.x + b.x) / 2, 0, (a.z + b.z) / 2}, reach: gap}
				at := func(k int) point {
					f := float64(k) / parts
					sag := 4 * 7.5 * f * (1 - f)
					return point{mix(a.x, b.x, f), mix(a.y, b.y, f) + height*arm - 1.4 - sag, mix(a.z, b.z, f) + side*reach}
				}
				for k := range parts {
					t.bars = append(t.bars, bar{at(k), at(k + 1), 0.11, cable, false})
				}
				w.things = append(w.things, t)
			}
		}
	}
}

// fence runs along the valley from z, at off m beside its middle.
func (w *world) fence(z, off float64) {
	white := rgb{226, 222, 210}.lanes(0)
	const posts, gap = 60, 5.0
	place := func(k int, up float64) point {
		zz := z + gap*float64(k)
		return w.onLand(valleyX(zz)+off+9*math.Sin(float64(k)*0.21), zz, up)
	}
	for k := 0; k < posts; k += 6 {
		t := thing{at: place(k+3, 0), reach: 40}
		for n := k; n < k+6; n++ {
			if w.height(place(n, 0).x, place(n, 0).z) < 1 {
				continue
			}
			t.bars = append(t.bars, bar{place(n, -0.3), place(n, 1.5), 0.22, white, true},
				bar{place(n, 0.7), place(n+1, 0.7), 0.13, white, true}, bar{place(n, 1.25), place(n+1, 1.25), 0.13, white, true})
		}
		w.things = append(w.things, t)
	}
}

// hamlet sets a few houses and a bell tower beside the path.
func (w *world) hamlet(z float64, leg int) {
	for k := range 9 {
		side := float64(k%2*2 - 1)
		zz := z + 26*float64(k) + 14*unit(w.seed+50, leg, k)
		x := valleyX(zz) + side*(46+40*unit(w.seed+51, leg, k))
		if w.height(x, zz) < 2.5 {
			continue
		}
		long := 7 + 5*unit(w.seed+52, leg, k)
		roof := rgb{150, 74, 56}.mix(rgb{112, 84, 70}, unit(w.seed+53, leg, k))
		w.house(w.onLand(x, zz, -1), long, 6, 6.5, 4, rgb{222, 212, 190}, roof)
	}
	zz := z + 110
	if x := valleyX(zz) - 36; w.height(x, zz) > 2 {
		w.house(w.onLand(x, zz, -1), 5, 5, 27, 9, rgb{232, 226, 212}, rgb{74, 92, 104})
	}
}

// clear fells the trees around a place.
func (w *world) clear(at point, around float64) {
	for j := int((at.z - around) / cell); float64(j)*cell < at.z+around; j++ {
		for i := int((at.x - around) / cell); float64(i)*cell < at.x+around; i++ {
			w.trees[wrap(j)*grid+wrap(i)].size = 0
		}
	}
}

// house sets a box with a hipped roof: half the length along z, half the width
// along x, and the heights of wall and roof, in m.
func (w *world) house(foot point, long, wide, tall, roof float64, walls, tiles rgb) {
	at := func(dx, dy, dz float64) point { return point{foot.x + dx, foot.y + dy, foot.z + dz} }
	t := thing{at: foot, reach: 30}
	w.clear(foot, long+5)
	front, left, right := walls.times(0.86), walls.times(1.06), walls.times(0.62)
	// Far sides first; the valley is only ever flown northwards.
	t.walls = append(t.walls,
		wall{[]point{at(-wide, 0, -long), at(-wide, tall, -long), at(-wide, tall, long), at(-wide, 0, long)}, left.lanes(0)},
		wall{[]point{at(wide, 0, -long), at(wide, tall, -long), at(wide, tall, long), at(wide, 0, long)}, right.lanes(0)},
		wall{[]point{at(-wide, 0, -long), at(wide, 0, -long), at(wide, tall, -long), at(-wide, tall, -long)}, front.lanes(0)})
	ridge := max(0, long-wide)
	a, b := at(0, tall+roof, -ridge), at(0, tall+roof, ridge)
	const eave = 0.7
	w0, l0 := wide+eave, long+eave
	t.walls = append(t.walls,
		wall{[]point{at(w0, tall-0.4, -l0), a, b, at(w0, tall-0.4, l0)}, tiles.times(0.66).lanes(0)},
		wall{[]point{at(-w0, tall-0.4, -l0), a, b, at(-w0, tall-0.4, l0)}, tiles.times(1.12).lanes(0)},
		wall{[]point{at(-w0, tall-0.4, -l0), at(w0, tall-0.4, -l0), a}, tiles.times(0.9).lanes(0)})
	// Windows are small and dark: the first thing a low resolution loses.
	for s := -1.0; s <= 1; s++ {
		low := 1.8
		if tall > 12 {
			low = tall - 5 // a tower opens only where its bells hang
		}
		for y := low; y < tall-1.5; y += 3 {
			x := s * wide * 0.55
			t.walls = append(t.walls, wall{[]point{at(x-0.5, y, -long), at(x+0.5, y, -long), at(x+0.5, y+1.4, -long), at(x-0.5, y+1.4, -long)}, rgb{54, 60, 70}.lanes(0)})
		}
	}
	w.things = append(w.things, t)
}
