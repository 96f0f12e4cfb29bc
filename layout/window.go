package layout

import (
	"fmt"
	"image"
	"math/big"
)

// Fraction is an exact number in lowest terms: a magnification, a speed, a place in a
// picture. The zero value is no number.
type Fraction struct{ Num, Den int64 }

// Rat returns f as a big.Rat, nil of no number.
func (f Fraction) Rat() *big.Rat {
	if f == (Fraction{}) {
		return nil
	}
	return big.NewRat(f.Num, f.Den)
}

// String returns "3" or "3/2".
func (f Fraction) String() string {
	if f.Den == 1 {
		return fmt.Sprint(f.Num)
	}
	return fmt.Sprintf("%d/%d", f.Num, f.Den)
}

// Float returns the nearest float, for display only.
func (f Fraction) Float() float64 { return float64(f.Num) / float64(f.Den) }

// Cmp compares f with g: -1, 0 or +1 as it is less, equal or more.
func (f Fraction) Cmp(g Fraction) int { return f.Rat().Cmp(g.Rat()) }

// Window is the part of a capture that a pane shows.
type Window struct {
	// Whole fits the entire capture into the pane; the other fields are unused.
	Whole bool
	// CenterX and CenterY are fractions of the capture's width and height.
	CenterX, CenterY Fraction
	// Magnify 1 is the scale at which the capture's shorter side equals the
	// output's shorter side, so captures of different sizes show the same area.
	Magnify Fraction
}

// Shot is a window worked out for one capture and one pane: read Crop, scale it
// to Scaled, keep Keep of that, put it at At in the pane and leave the rest of
// the pane black. All rectangles have even coordinates, as 4:2:0 colour needs.
type Shot struct {
	Crop   image.Rectangle // of the capture, in its pixels; beyond it, its last ones are repeated
	Scaled image.Point     // size of Crop after scaling
	Keep   image.Rectangle // of the scaled picture
	At     image.Point     // of Keep's upper left corner, in the pane
	Pane   image.Point     // the pane's size
	Scale  *big.Rat        // output pixels for each square pixel of the capture
	// PixelX and PixelY are how wide and how high a pixel of the capture is in
	// square ones, where it is not square itself; nil stands for 1.
	PixelX, PixelY *big.Rat
}

// OneToOne reports whether each capture pixel becomes one output pixel.
func (s Shot) OneToOne() bool {
	x, y := s.Scales()
	return x.Cmp(big.NewRat(1, 1)) == 0 && y.Cmp(big.NewRat(1, 1)) == 0
}

// Scales returns how many output pixels a pixel of the capture becomes in width
// and in height. They differ where its pixels are not square.
func (s Shot) Scales() (x, y *big.Rat) {
	x, y = s.Scale, s.Scale
	if s.PixelX != nil {
		x = new(big.Rat).Mul(x, s.PixelX)
	}
	if s.PixelY != nil {
		y = new(big.Rat).Mul(y, s.PixelY)
	}
	return x, y
}

// Place returns where a point of the capture, in its pixels from its upper left
// corner, lies in the pane: the pixel (n, m) of either covers the square from
// there to (n+1, m+1). A point that the window does not show lies outside.
func (s Shot) Place(x, y float64) (px, py float64) {
	along := func(v float64, crop0, crop1, scaled, keep, at int) float64 {
		return (v-float64(crop0))*float64(scaled)/float64(crop1-crop0) - float64(keep) + float64(at)
	}
	return along(x, s.Crop.Min.X, s.Crop.Max.X, s.Scaled.X, s.Keep.Min.X, s.At.X),
		along(y, s.Crop.Min.Y, s.Crop.Max.Y, s.Scaled.Y, s.Keep.Min.Y, s.At.Y)
}

// Bars reports whether the picture leaves part of the pane black.
func (s Shot) Bars() bool { return s.Keep.Size() != s.Pane }

// Raised returns the shot with a picture that leaves bars above and below in the
// middle of the pane's first rows, as many as are seen, or as far up as it goes: what
// lies over the rest hides less of it.
func (s Shot) Raised(rows int) Shot {
	if h := s.Keep.Dy(); h < s.Pane.Y {
		s.At.Y = max(0, min(rows, s.Pane.Y)-h) / 2 &^ 1
	}
	return s
}

// Cut returns the shot that shows only the part r (even) of the pane: the same
// pixels at the same places. It is not ok where nothing of the capture lies there.
func (s Shot) Cut(r image.Rectangle) (Shot, bool) {
	seen := image.Rectangle{s.At, s.At.Add(s.Keep.Size())}.Intersect(r)
	if seen.Empty() {
		return Shot{}, false
	}
	s.Keep = seen.Sub(s.At).Add(s.Keep.Min)
	s.At = seen.Min.Sub(r.Min)
	s.Pane = r.Size()
	if s.Scaled == s.Crop.Size() {
		// Nothing is scaled: no more is read than is kept.
		s.Crop = s.Keep.Add(s.Crop.Min)
		s.Keep = image.Rectangle{Max: s.Crop.Size()}
		s.Scaled = s.Crop.Size()
	}
	return s, true
}

// Shown returns the part of the capture's plane that the pane shows, in its pixels,
// rounded outwards.
func (s Shot) Shown() image.Rectangle {
	w, h := s.Crop.Dx(), s.Crop.Dy()
	return image.Rect(
		s.Crop.Min.X+floorDiv(s.Keep.Min.X*w, s.Scaled.X), s.Crop.Min.Y+floorDiv(s.Keep.Min.Y*h, s.Scaled.Y),
		s.Crop.Min.X+ceilDiv(s.Keep.Max.X*w, s.Scaled.X), s.Crop.Min.Y+ceilDiv(s.Keep.Max.Y*h, s.Scaled.Y))
}

// margin is how many capture pixels are read beyond each edge of a window, for
// the taps of the widest kernel (Lanczos, 3 on each side at enlargement).
const margin = 8

// Shoot works out how a capture of the given size shows in a pane of an output.
// A window that would reach beyond the capture is moved inside it; one that is
// larger than the capture leaves bars.
func (w Window) Shoot(capture, pane, output image.Point) (Shot, error) {
	if capture.X < 2 || capture.Y < 2 {
		return Shot{}, fmt.Errorf("layout: capture of %dx%d pixels", capture.X, capture.Y)
	}
	if pane.X < 2 || pane.Y < 2 || pane.X%2 != 0 || pane.Y%2 != 0 {
		return Shot{}, fmt.Errorf("layout: pane of %dx%d pixels", pane.X, pane.Y)
	}
	scale := new(big.Rat)
	cx, cy := big.NewRat(1, 2), big.NewRat(1, 2)
	if w.Whole {
		across := big.NewRat(int64(pane.X), int64(capture.X))
		down := big.NewRat(int64(pane.Y), int64(capture.Y))
		scale.Set(across)
		if down.Cmp(across) < 0 {
			scale.Set(down)
		}
	} else {
		if w.Magnify.Num <= 0 || w.Magnify.Den <= 0 || w.CenterX.Den <= 0 || w.CenterY.Den <= 0 {
			return Shot{}, fmt.Errorf("layout: window %+v", w)
		}
		scale.Mul(w.Magnify.Rat(),
			big.NewRat(int64(min(output.X, output.Y)), int64(min(capture.X, capture.Y))))
		cx, cy = w.CenterX.Rat(), w.CenterY.Rat()
	}
	x := along(capture.X, pane.X, scale, cx)
	y := along(capture.Y, pane.Y, scale, cy)
	if x.scaled > longest || y.scaled > longest {
		return Shot{}, fmt.Errorf("layout: a capture of %dx%d pixels scaled by %s is too large",
			capture.X, capture.Y, scale.FloatString(2))
	}
	return Shot{
		Crop:   image.Rect(x.crop0, y.crop0, x.crop1, y.crop1),
		Scaled: image.Pt(x.scaled, y.scaled),
		Keep:   image.Rect(x.keep0, y.keep0, x.keep1, y.keep1),
		At:     image.Pt(x.at, y.at),
		Pane:   pane,
		Scale:  scale,
	}, nil
}

// longest bounds a scaled picture's sides, and with them the memory it takes.
const longest = 1 << 15

// stretch is a Shot along one axis.
type stretch struct{ crop0, crop1, scaled, keep0, keep1, at int }

// Canvas is a capture's size along an even grid, as 4:2:0 colour needs it: where a
// side is odd, its last column or row of pixels stands twice.
func Canvas(capture image.Point) image.Point {
	return image.Pt(capture.X+capture.X&1, capture.Y+capture.Y&1)
}

// along works out one axis. The crop's edges lie where the scale gives whole even
// pixels, or as nearly as can be found, so that the scaled picture is not off by a
// fraction of a pixel. For that the crop may reach beyond the capture, whose last
// column or row is then repeated; what is kept does not.
func along(capture, pane int, scale, centre *big.Rat) stretch {
	canvas := capture + capture&1
	far := canvas + beyond
	full := max(2, evenNear(mul(capture, scale)))
	if full <= pane {
		crop1 := edge(canvas, far, scale)
		at := (pane - full) / 2 &^ 1
		return stretch{0, crop1, max(full, evenNear(mul(crop1, scale))), 0, full, at}
	}
	// The window's near edge in scaled pixels, even and inside the capture.
	near := new(big.Rat).Sub(new(big.Rat).Mul(mul(capture, scale), centre), big.NewRat(int64(pane), 2))
	from := min(max(evenNear(near), 0), full-pane)
	to := from + pane
	if scale.Num().Cmp(scale.Denom()) == 0 {
		return stretch{from, to, pane, 0, pane, 0} // nothing is scaled, so no margin
	}
	back := new(big.Rat).Inv(scale)
	crop0 := edge(max(0, floor(mul(from, back))-margin)&^1, 0, scale)
	crop1 := edge(min(canvas, (-floor(mul(-to, back))+margin+1)&^1), far, scale)
	before := evenNear(mul(crop0, scale))
	after := max(evenNear(mul(crop1, scale)), to)
	return stretch{crop0, crop1, after - before, from - before, to - before, 0}
}

// How far an edge is looked for, and how far beyond the capture it may lie, in
// capture pixels; and how near to a whole even pixel of the scaled picture is near
// enough.
const (
	farthest   = 128
	beyond     = 128
	nearEnough = 1.0 / 64
)

// edge returns the first even number from n towards the limit that the scale makes
// a whole even one, or as nearly as there is one.
func edge(n, limit int, scale *big.Rat) int {
	step := 2
	if limit < n {
		step = -2
	}
	best, least := n, 2.0
	for at := n; ; at += step {
		exact := mul(at, scale)
		off, _ := new(big.Rat).Sub(exact, big.NewRat(int64(evenNear(exact)), 1)).Float64()
		if off = max(off, -off); off < least {
			best, least = at, off
		}
		if least < nearEnough || at == limit || at-n == farthest || n-at == farthest {
			return best
		}
	}
}

// floor rounds down.
func floor(r *big.Rat) int { return int(new(big.Int).Div(r.Num(), r.Denom()).Int64()) }

func mul(n int, r *big.Rat) *big.Rat { return new(big.Rat).Mul(big.NewRat(int64(n), 1), r) }

// evenNear rounds to the nearest even integer, halves up.
func evenNear(r *big.Rat) int {
	half := new(big.Rat).Quo(r, big.NewRat(2, 1))
	return 2 * floor(half.Add(half, big.NewRat(1, 2)))
}

func floorDiv(a, b int) int {
	q := a / b
	if a%b != 0 && (a < 0) != (b < 0) {
		q--
	}
	return q
}

func ceilDiv(a, b int) int { return -floorDiv(-a, b) }
