package check

import (
	"fmt"
	"image"
	"math"
	"time"
)

// Flashes watches the pictures of a clip for the flashes that WCAG 2.2 defines
// for success criterion 2.3.1 (Three Flashes or Below Threshold) under "general
// flash and red flash thresholds" (read in W3C's repository w3c/wcag,
// guidelines/terms/20/general-flash-and-red-flash-thresholds.html), and that ITU-R
// BT.1702 limits in the same manner (its text was not at hand: its figures are
// those that articles about it quote, and from memory). The definitions:
//
//   - A general flash is a pair of opposing changes in relative luminance of 10 %
//     or more of the maximum, where the darker image is below 0.80. BT.1702 says 20
//     and 160 cd/m², which is the same on its screen of 200 cd/m².
//   - A red flash is a pair of opposing transitions, of which one is to or from a
//     state with R/(R+G+B) of at least 0.8, and the states are more than 0.2 apart
//     in the CIE 1976 UCS chromaticity diagram.
//   - Up to three flashes within any one second are allowed, or flashes whose
//     combined area, where they occur concurrently, is at most a quarter: of any 10
//     degree visual field (WCAG, which takes a rectangle of 341x256 anywhere on a
//     screen of 1024x768 for it), or of the displayed screen area (BT.1702).
//
// Each pixel of the small pictures tells of the changes it makes, measured from
// its own extremes. A field, of which there are many that overlap and one that is
// the whole picture, makes a change when more than a quarter of its pixels have
// made it at one time. Scenery that merely passes by, each pixel changing at a
// time of its own and some all the time, is no flash.
//
// A pixel of the small picture should span about a tenth of a degree: what
// alternates in a finer balanced pattern is exempt (WCAG 2.2), and averages to
// little here.
type Flashes struct {
	size   image.Point
	linear [256]float64
	pixels []flashing
	begun  bool
	fields []field
	// changed marks the pixels that have just made a change, of each kind, as sums
	// over the rectangle above and to the left of each corner.
	changed [kinds][]int32
	worst   [2]worstFlash // general, red; of the whole picture or of a field
}

// The kinds of change.
const (
	brighter = iota
	darker
	toRed
	fromRed
	kinds
)

// flashing is what one pixel has been since its last change of each sort.
type flashing struct {
	low, high float64    // relative luminance
	up        int8       // last change: 1 brighter, -1 darker, 0 none so far
	plain     [2]float32 // the chromaticity farthest from red
	red       [2]float32 // the reddest
	wasRed    int8       // last change: 1 to red, -1 from red, 0 none so far
	reddened  bool       // red holds one
	whitened  bool       // plain holds one
}

type worstFlash struct {
	flashes int
	at      time.Duration // when they were first too many
	area    float64       // of the field, the least of the changes counted
	whole   bool          // over the whole picture, not only in a field
}

// field is a rectangle and its changes.
type field struct {
	image.Rectangle
	whole bool
	sorts [2]alternation // general, red
}

// alternation is a row of opposing changes of one field.
type alternation struct {
	recent [2][]moment // of the pixels, in both directions, within a second
	sum    [2]float64  // of their areas
	begun  bool
	begin  time.Duration
	last   int // direction of the last change of the field: 1, -1; 0 none
	lastAt time.Duration
	at     []time.Duration // of the changes of the field within a second
	areas  []float64
}

type moment struct {
	at   time.Duration
	area float64
}

const (
	// flashesAllowed is how many flashes any one second may hold.
	flashesAllowed = 3
	// flashArea is the share of a field that may flash.
	flashArea = 0.25
	// flashStep is the change in relative luminance that counts, and flashDark how
	// bright the darker image may be.
	flashStep, flashDark = 0.10, 0.80
	// redShare is R/(R+G+B) of a saturated red, redStep the distance of states.
	redShare, redStep = 0.8, 0.2
	// redLeast is the relative luminance below which a red is noise in black.
	redLeast = 0.002
	// gather is how far apart in time the pixels' changes may be to count as
	// concurrent when they are so many times as dense as on average. The standards
	// give no figures; these let a change take three frames at 60 Hz.
	gather = 50 * time.Millisecond
	dense  = 2
)

// NewFlashes returns Flashes for pictures of that size.
func NewFlashes(size image.Point) *Flashes {
	f := &Flashes{size: size, pixels: make([]flashing, size.X*size.Y)}
	for v := range f.linear {
		// sRGB's transfer function, as WCAG 2.2 defines relative luminance.
		c := float64(v) / 255
		if c <= 0.04045 {
			f.linear[v] = c / 12.92
		} else {
			f.linear[v] = math.Pow((c+0.055)/1.055, 2.4)
		}
	}
	for k := range f.changed {
		f.changed[k] = make([]int32, (size.X+1)*(size.Y+1))
	}
	f.fields = []field{{Rectangle: image.Rectangle{Max: size}, whole: true}}
	// A third of the screen's height, as 256 is of 768, and 4:3 like 341x256.
	high := max(1, (size.Y+1)/3)
	if size.X < size.Y { // a screen held upright
		high = max(1, (size.X*3/4+1)/3)
	}
	wide := min(size.X, max(1, (high*341+128)/256))
	for _, y := range steps(size.Y, high) {
		for _, x := range steps(size.X, wide) {
			f.fields = append(f.fields, field{Rectangle: image.Rect(x, y, x+wide, y+high)})
		}
	}
	return f
}

// steps are the places at which a window is tried: a quarter of it apart.
func steps(size, window int) []int {
	var list []int
	for at := 0; at < size-window; at += max(1, window/4) {
		list = append(list, at)
	}
	return append(list, size-window)
}

// Add takes the packed R'G'B' picture that is on screen from t on.
func (f *Flashes) Add(t time.Duration, rgb []byte) {
	for k := range f.changed {
		clear(f.changed[k][:f.size.X+1])
	}
	for y := range f.size.Y {
		var row [kinds]int32
		below := (y+1)*(f.size.X+1) + 1
		for x := range f.size.X {
			i := y*f.size.X + x
			made := f.see(&f.pixels[i], rgb[3*i], rgb[3*i+1], rgb[3*i+2])
			for k := range row {
				row[k] += int32(made >> k & 1)
				f.changed[k][below+x] = f.changed[k][below+x-f.size.X-1] + row[k]
			}
		}
		for k := range f.changed {
			f.changed[k][below-1] = 0
		}
	}
	f.begun = true
	for i := range f.fields {
		one := &f.fields[i]
		for sort := range one.sorts {
			a := &one.sorts[sort]
			a.see(t, [2]float64{f.share(one.Rectangle, 2*sort), f.share(one.Rectangle, 2*sort+1)})
			if n := len(a.at) / 2; n > flashesAllowed {
				w := worstFlash{flashes: n, at: t, area: least(a.areas), whole: one.whole}
				if was := f.worst[sort]; was.lessThan(w) {
					if was.whole == w.whole && was.flashes > 0 {
						w.at = was.at
					}
					f.worst[sort] = w
				}
			}
		}
	}
}

// lessThan orders by what is more severe: the whole picture, then the number, then
// the area.
func (w worstFlash) lessThan(v worstFlash) bool {
	if w.whole != v.whole {
		return v.whole
	}
	if w.flashes != v.flashes {
		return w.flashes < v.flashes
	}
	return w.area < v.area
}

func least(list []float64) float64 {
	m := list[0]
	for _, v := range list {
		m = min(m, v)
	}
	return m
}

// see updates a pixel and returns the changes it has made, a bit for each kind.
func (f *Flashes) see(p *flashing, r8, g8, b8 byte) (made int) {
	r, g, b := f.linear[r8], f.linear[g8], f.linear[b8]
	y := 0.2126*r + 0.7152*g + 0.0722*b
	if !f.begun {
		p.low, p.high = y, y
	}
	p.low, p.high = min(p.low, y), max(p.high, y)
	switch {
	case p.up <= 0 && y-p.low >= flashStep && p.low < flashDark:
		p.up, p.high = 1, y
		made |= 1 << brighter
	case p.up >= 0 && p.high-y >= flashStep && y < flashDark:
		p.up, p.low = -1, y
		made |= 1 << darker
	}
	// Most pictures hold no red, and the chromaticity costs divisions.
	saturated := y >= redLeast && r >= redShare*(r+g+b)
	if !saturated && !p.reddened {
		if !p.whitened {
			p.plain, p.whitened = chromaticity(r, g, b, y), true
		} else if uv := chromaticity(r, g, b, y); uv[0] < p.plain[0] {
			p.plain = uv
		}
		return made
	}
	uv := chromaticity(r, g, b, y)
	if saturated {
		if !p.reddened || uv[0] > p.red[0] {
			p.red, p.reddened = uv, true
		}
		if p.wasRed <= 0 && p.whitened && apart(uv, p.plain) {
			p.wasRed, p.red = 1, uv
			made |= 1 << toRed
		}
		return made
	}
	if !p.whitened || uv[0] < p.plain[0] {
		p.plain, p.whitened = uv, true
	}
	if p.wasRed >= 0 && apart(uv, p.red) {
		p.wasRed, p.plain = -1, uv
		made |= 1 << fromRed
	}
	return made
}

func apart(a, b [2]float32) bool {
	return math.Hypot(float64(a[0]-b[0]), float64(a[1]-b[1])) > redStep
}

// share is the part of a rectangle's pixels that have just made a change.
func (f *Flashes) share(r image.Rectangle, kind int) float64 {
	c, w := f.changed[kind], f.size.X+1
	n := c[r.Max.Y*w+r.Max.X] - c[r.Min.Y*w+r.Max.X] - c[r.Max.Y*w+r.Min.X] + c[r.Min.Y*w+r.Min.X]
	return float64(n) / float64(r.Dx()*r.Dy())
}

// see takes the shares of a field's pixels that have changed at t in each
// direction, and notes a change of the field.
func (a *alternation) see(t time.Duration, shares [2]float64) {
	if !a.begun {
		a.begun, a.begin = true, t
	}
	for dir, v := range shares {
		list := a.recent[dir]
		for len(list) > 0 && t-list[0].at > time.Second {
			a.sum[dir] -= list[0].area
			list = list[1:]
		}
		if v > 0 {
			list = append(list, moment{t, v})
			a.sum[dir] += v
		}
		a.recent[dir] = list
	}
	for len(a.at) > 0 && t-a.at[0] > time.Second {
		a.at, a.areas = a.at[1:], a.areas[1:]
	}
	for dir, sign := range [2]int{1, -1} {
		if a.last == sign {
			continue
		}
		// What came before the last change, or with it, is not its opposite.
		var area, most float64
		for i := len(a.recent[dir]) - 1; i >= 0; i-- {
			m := a.recent[dir][i]
			if t-m.at > gather || a.last != 0 && m.at <= a.lastAt {
				break
			}
			area, most = area+m.area, max(most, m.area)
		}
		usual := a.sum[dir] * float64(gather) / float64(max(gather, min(time.Second, t-a.begin)))
		if most > flashArea || area > flashArea && area > dense*usual {
			a.last, a.lastAt = sign, t
			a.at, a.areas = append(a.at, t), append(a.areas, min(1, area))
			return
		}
	}
}

// chromaticity returns u' and v' of linear BT.709 light (CIE 1976 UCS); black
// has those of white.
func chromaticity(r, g, b, y float64) [2]float32 {
	x := 0.4124*r + 0.3576*g + 0.1805*b
	z := 0.0193*r + 0.1192*g + 0.9505*b
	d := x + 15*y + 3*z
	if y < redLeast {
		return [2]float32{0.1978, 0.4683}
	}
	return [2]float32{float32(4 * x / d), float32(9 * y / d)}
}

// Findings returns what exceeds the thresholds; times count from start.
func (f *Flashes) Findings(start time.Duration) []Finding {
	var list []Finding
	for k, what := range [2]string{"general", "red"} {
		w := f.worst[k]
		if w.flashes == 0 {
			continue
		}
		where, standards := "in a 10 degree visual field", "WCAG 2.3.1"
		if w.whole {
			where, standards = "of the picture", "WCAG 2.3.1 and ITU-R BT.1702"
		}
		list = append(list, Finding{Severity: Harms,
			What: fmt.Sprintf("%s flashes above the threshold of %s", what, standards),
			Evidence: fmt.Sprintf("%d flashes within a second over %.0f %% %s; %d are allowed, or %.0f %%",
				w.flashes, 100*w.area, where, flashesAllowed, 100*flashArea),
			Remedy: "a caution only: choose another stretch, change it less often, or warn the " +
				"audience; the broadcaster's own rules and a certified test decide"}.AtTime(start+w.at))
	}
	return list
}
