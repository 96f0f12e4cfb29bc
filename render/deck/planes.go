package deck

import (
	"image"

	"golang.org/x/image/math/fixed"
)

// planes is a picture in planar 4:2:0 of even width and height. a is the
// straight alpha plane, or nil where all is opaque. Chroma samples stand for
// two by two pixels.
type planes struct {
	w, h       int
	y, u, v, a []byte
}

// planesOf lays a picture's planes over buf in the order of ffmpeg's yuv420p
// and yuva420p.
func planesOf(buf []byte, w, h int, alpha bool) planes {
	n, c := w*h, w*h/4
	p := planes{w: w, h: h, y: buf[:n:n], u: buf[n : n+c : n+c], v: buf[n+c : n+2*c : n+2*c]}
	if alpha {
		p.a = buf[n+2*c : 2*n+2*c : 2*n+2*c]
	}
	return p
}

// frameBytes returns the size of such a picture.
func frameBytes(w, h int, alpha bool) int {
	n := w*h + w*h/2
	if alpha {
		n += w * h
	}
	return n
}

// lerp returns d moved towards c by m/255, rounded.
func lerp(d, c, m uint8) uint8 {
	v := uint32(d)*uint32(255-m) + uint32(c)*uint32(m) + 128
	return uint8((v + v>>8) >> 8)
}

// cover returns what an opaque colour of coverage m does to a pixel of straight
// alpha a: the weight of the colour, and the new alpha.
func cover(a, m uint8) (weight, alpha uint8) {
	if a == 255 || m == 255 {
		return m, uint8(max(a, m))
	}
	// The new alpha is A = m + a (1 - m); the colour's share of it is m / A.
	sum := 255*uint32(m) + uint32(a)*uint32(255-m)
	if sum == 0 {
		return 0, 0
	}
	return uint8((255*255*uint32(m) + sum/2) / sum), uint8((sum + 127) / 255)
}

// pixel covers one luma sample.
func (p *planes) pixel(i int, c uint8, m uint8) {
	if p.a != nil {
		m, p.a[i] = cover(p.a[i], m)
	}
	p.y[i] = lerp(p.y[i], c, m)
}

// chroma covers one pair of chroma samples; i is its index, a the alpha of the
// ground it lies on.
func (p *planes) chroma(i int, c ink, m, a uint8) {
	if m < 255 && a < 255 {
		m, _ = cover(a, m)
	}
	p.u[i] = lerp(p.u[i], c.u, m)
	p.v[i] = lerp(p.v[i], c.v, m)
}

// fx is a horizontal position in 1/256 of a pixel. Positions of that grain let
// edges move smoothly from frame to frame.
type fx int

const fxOne fx = 256

// bar fills the rows y0 to y1 from x0 to x1, with part coverage where an edge
// lies inside a pixel.
func (p *planes) bar(x0, x1 fx, y0, y1 int, c ink) {
	x0, x1 = max(x0, 0), min(x1, fx(p.w)*fxOne)
	y0, y1 = max(y0, 0), min(y1, p.h)
	if x0 >= x1 || y0 >= y1 {
		return
	}
	p.barChroma(x0, x1, y0, y1, c)
	first, last := int(x0>>8), int((x1-1)>>8)
	if first == last {
		m := share(x1-x0, fxOne)
		for y := y0; y < y1; y++ {
			p.pixel(y*p.w+first, c.y, m)
		}
		return
	}
	left := share(fx(first+1)*fxOne-x0, fxOne)
	right := share(x1-fx(last)*fxOne, fxOne)
	for y := y0; y < y1; y++ {
		i := y * p.w
		p.pixel(i+first, c.y, left)
		set(p.y[i+first+1:i+last], c.y)
		if p.a != nil {
			set(p.a[i+first+1:i+last], 255)
		}
		p.pixel(i+last, c.y, right)
	}
}

func set(b []byte, v uint8) {
	for i := range b {
		b[i] = v
	}
}

// share returns part/whole in 255ths, rounded.
func share(part, whole fx) uint8 { return uint8((255*part + whole/2) / whole) }

// barChroma must come before the luma and alpha of the same bar, because it
// reads the alpha of the ground.
func (p *planes) barChroma(x0, x1 fx, y0, y1 int, c ink) {
	w := p.w / 2
	first, last := int(x0>>9), int((x1-1)>>9)
	for r := y0 / 2; 2*r < y1; r++ {
		rows := fx(min(y1, 2*r+2) - max(y0, 2*r)) // 1 or 2
		for col := first; col <= last; col++ {
			m := uint8(255)
			if rows < 2 || col == first || col == last {
				span := min(x1, fx(col+1)*2*fxOne) - max(x0, fx(col)*2*fxOne)
				m = share(span*rows, 4*fxOne)
			}
			a := uint8(255)
			if p.a != nil && m < 255 {
				a = p.a[2*r*p.w+2*col]
			}
			p.chroma(r*w+col, c, m, a)
		}
	}
}

// stencil is a coverage mask for luma and chroma. Its rectangle is even, so it
// may be moved by even steps.
type stencil struct {
	r            image.Rectangle
	luma, chroma []byte
	advance      fixed.Int26_6 // of the glyph it shows, where that matters
}

// newStencil makes a stencil of a mask where it stands.
func newStencil(m *image.Alpha) *stencil {
	b := m.Rect
	r := image.Rect(b.Min.X&^1, b.Min.Y&^1, (b.Max.X+1)&^1, (b.Max.Y+1)&^1)
	w, h := r.Dx(), r.Dy()
	s := &stencil{r: r, luma: make([]byte, w*h), chroma: make([]byte, w*h/4)}
	sums := make([]int, w*h/4)
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			v := m.Pix[m.PixOffset(x, y)]
			s.luma[(y-r.Min.Y)*w+x-r.Min.X] = v
			sums[(y-r.Min.Y)/2*(w/2)+(x-r.Min.X)/2] += int(v)
		}
	}
	for i, v := range sums {
		s.chroma[i] = uint8((v + 2) / 4)
	}
	return s
}

// stamp covers the picture with colour through a stencil, moved right by dx
// (even), inside clip (even).
func (p *planes) stamp(s *stencil, dx int, c ink, clip image.Rectangle) {
	at := s.r.Add(image.Pt(dx, 0))
	in := at.Intersect(clip).Intersect(image.Rect(0, 0, p.w, p.h))
	if in.Empty() {
		return
	}
	w := s.r.Dx()
	for y := in.Min.Y; y < in.Max.Y; y += 2 {
		row := s.chroma[(y-at.Min.Y)/2*(w/2):]
		for x := in.Min.X; x < in.Max.X; x += 2 {
			if m := row[(x-at.Min.X)/2]; m > 0 {
				a := uint8(255)
				if p.a != nil {
					a = p.a[y*p.w+x]
				}
				p.chroma(y/2*(p.w/2)+x/2, c, m, a)
			}
		}
	}
	for y := in.Min.Y; y < in.Max.Y; y++ {
		row := s.luma[(y-at.Min.Y)*w:]
		for x := in.Min.X; x < in.Max.X; x++ {
			if m := row[x-at.Min.X]; m > 0 {
				p.pixel(y*p.w+x, c.y, m)
			}
		}
	}
}

// copyColumns copies the columns of src that lie left of edge into p; src shows
// the part r of the picture (even). The chroma of a pair that edge splits is the
// mean of both.
func (p *planes) copyColumns(src *planes, r image.Rectangle, edge int) {
	n := min(edge, r.Max.X) - r.Min.X
	if n <= 0 {
		return
	}
	for y := range r.Dy() {
		i := (r.Min.Y+y)*p.w + r.Min.X
		copy(p.y[i:i+n], src.y[y*src.w:])
		if p.a != nil {
			copy(p.a[i:i+n], src.a[y*src.w:])
		}
	}
	for y := range r.Dy() / 2 {
		i, j := (r.Min.Y/2+y)*(p.w/2)+r.Min.X/2, y*(src.w/2)
		copy(p.u[i:i+n/2], src.u[j:])
		copy(p.v[i:i+n/2], src.v[j:])
		if n%2 != 0 {
			p.u[i+n/2] = lerp(p.u[i+n/2], src.u[j+n/2], 128)
			p.v[i+n/2] = lerp(p.v[i+n/2], src.v[j+n/2], 128)
		}
	}
}
