package check

import (
	"fmt"
	"math"
	"time"
)

// Flashes counts, for each pixel of small pictures, the flashes that WCAG 2.2
// defines for success criterion 2.3.1 (Three Flashes or Below Threshold); ITU-R
// BT.1702 sets its limits in the same manner. The definitions, of "general flash
// and red flash thresholds":
//
//   - A general flash is a pair of opposing changes in relative luminance of 10 %
//     or more of the maximum, where the darker image is below 0.80.
//   - A red flash is a pair of opposing transitions involving a saturated red:
//     R/(R+G+B) of at least 0.8 in one of the two states, and a difference of more
//     than 0.2 in the CIE 1976 UCS chromaticity diagram.
//   - Up to three of either within any one second, or a combined area of at most
//     25 % of any 10 degree visual field, is allowed.
//
// The visual field is approximated by the picture itself. Averages over the area
// of a small picture's pixel make a flash weaker, which fine texture is for the
// eye, too.
type Flashes struct {
	linear  [256]float64
	general []changes
	red     []changes
	lum     []float64 // the extreme since the last change
	uv      [][2]float64
	isRed   []bool
	begun   bool
	worst   [2]struct { // general, red
		flashes int
		at      time.Duration
		area    float64
	}
}

// flashesAllowed is how many flashes any one second may hold (WCAG 2.3.1).
const flashesAllowed = 3

// kept is how many changes of a pixel are remembered: enough to count 12 flashes
// in a second.
const kept = 24

// changes are the times of the last opposing changes of one pixel.
type changes struct {
	at   [kept]time.Duration
	next int
	n    int
	up   bool // the last one went up, or to red
}

func (c *changes) add(t time.Duration) {
	c.at[c.next] = t
	c.next = (c.next + 1) % kept
	c.n = min(c.n+1, kept)
}

// flashes counts pairs of opposing changes in the second up to t.
func (c *changes) flashes(t time.Duration) int {
	n := 0
	for i := range c.n {
		if t-c.at[(c.next-1-i+kept)%kept] > time.Second {
			break
		}
		n++
	}
	return n / 2
}

// NewFlashes returns Flashes for pictures of so many pixels.
func NewFlashes(pixels int) *Flashes {
	f := &Flashes{general: make([]changes, pixels), red: make([]changes, pixels), lum: make([]float64, pixels), uv: make([][2]float64, pixels), isRed: make([]bool, pixels)}
	for v := range f.linear {
		// sRGB's transfer function, as WCAG 2.2 defines relative luminance.
		c := float64(v) / 255
		if c <= 0.04045 {
			f.linear[v] = c / 12.92
		} else {
			f.linear[v] = math.Pow((c+0.055)/1.055, 2.4)
		}
	}
	return f
}

// Add takes the packed R'G'B' picture that is on screen from t on.
func (f *Flashes) Add(t time.Duration, rgb []byte) {
	for i := range f.lum {
		r, g, b := f.linear[rgb[3*i]], f.linear[rgb[3*i+1]], f.linear[rgb[3*i+2]]
		y := 0.2126*r + 0.7152*g + 0.0722*b
		uv := chromaticity(r, g, b, y)
		saturated := r > 0 && r/(r+g+b) >= 0.8
		if !f.begun {
			f.lum[i], f.uv[i], f.isRed[i] = y, uv, saturated
			continue
		}
		c := &f.general[i]
		// The extreme moves on with the last change's direction; a change is what
		// goes the other way by enough.
		switch was := f.lum[i]; {
		case math.Abs(y-was) >= 0.1 && min(y, was) < 0.8 && (c.n == 0 || (y > was) != c.up):
			c.up = y > was
			c.add(t)
			f.lum[i] = y
		case c.n > 0 && (y > was) == c.up:
			f.lum[i] = y
		}
		d := &f.red[i]
		if saturated != f.isRed[i] && math.Hypot(uv[0]-f.uv[i][0], uv[1]-f.uv[i][1]) > 0.2 && (d.n == 0 || saturated != d.up) {
			d.up = saturated
			d.add(t)
			f.uv[i], f.isRed[i] = uv, saturated
		}
	}
	f.begun = true
	for k, list := range [2][]changes{f.general, f.red} {
		var at [kept/2 + 1]int
		for i := range list {
			at[list[i].flashes(t)]++
		}
		// The most flashes that more than a quarter of the picture shares.
		sum := 0
		for n := kept / 2; n > 0; n-- {
			if sum += at[n]; 4*sum > len(list) {
				if n > f.worst[k].flashes {
					f.worst[k].flashes, f.worst[k].at, f.worst[k].area = n, t, float64(sum)/float64(len(list))
				}
				break
			}
		}
	}
}

// chromaticity returns u' and v' of linear BT.709 light (CIE 1976 UCS); black
// has those of white.
func chromaticity(r, g, b, y float64) [2]float64 {
	x := 0.4124*r + 0.3576*g + 0.1805*b
	z := 0.0193*r + 0.1192*g + 0.9505*b
	d := x + 15*y + 3*z
	if d < 1e-6 {
		return [2]float64{0.1978, 0.4683}
	}
	return [2]float64{4 * x / d, 9 * y / d}
}

// Findings returns what exceeds the thresholds; times count from start.
func (f *Flashes) Findings(start time.Duration) []Finding {
	var list []Finding
	for k, what := range [2]string{"general", "red"} {
		w := f.worst[k]
		if w.flashes <= flashesAllowed {
			continue
		}
		list = append(list, Finding{Severity: Misleads, What: what + " flashes above the threshold of WCAG 2.3.1",
			Evidence: fmt.Sprintf("%d flashes within a second over %.0f %% of the picture; 3 are allowed, or 25 %% of the visual field", w.flashes, 100*w.area),
			Remedy:   "a caution only: choose another stretch or warn the audience; a broadcaster's own rules (ITU-R BT.1702) and a certified test decide"}.at(start+w.at))
	}
	return list
}
