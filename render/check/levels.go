package check

import (
	"fmt"
	"image"
	"math"
	"time"
)

// Limited range of 8-bit luma (ITU-R BT.709-6, item 5.6: black 16, white 235).
const (
	blackCode = 16
	whiteCode = 235
)

// Levels counts the luma codes of sampled pictures of one capture in one scene.
type Levels struct {
	Full   bool // the capture is tagged full range, or assumed so
	size   image.Point
	counts [256]int64
	rows   []uint8 // brightest code of each row, over all pictures
	cols   []uint8
	n      int64
}

// NewLevels returns Levels for pictures of that size.
func NewLevels(size image.Point, full bool) *Levels {
	return &Levels{Full: full, size: size, rows: make([]uint8, size.Y), cols: make([]uint8, size.X)}
}

// Add takes a packed picture of 8-bit luma codes.
func (l *Levels) Add(luma []byte) {
	for y := range l.size.Y {
		for x, v := range luma[y*l.size.X : (y+1)*l.size.X] {
			l.counts[v]++
			l.rows[y] = max(l.rows[y], v)
			l.cols[x] = max(l.cols[x], v)
		}
	}
	l.n += int64(l.size.X * l.size.Y)
}

// share is the part of the pixels whose code lies in [lo, hi].
func (l *Levels) share(lo, hi int) float64 {
	var n int64
	for _, c := range l.counts[lo : hi+1] {
		n += c
	}
	return float64(n) / float64(max(1, l.n))
}

// quantile is the code below or at which a share q of the pixels lies.
func (l *Levels) quantile(q float64) int {
	var sum int64
	for v, c := range l.counts {
		if sum += c; float64(sum) >= q*float64(l.n) && sum > 0 {
			return v
		}
	}
	return 255
}

const (
	// outside is the share of codes beyond limited range that ringing and noise
	// of an encoder do not explain (common practice).
	outside = 0.01
	// dark is the share of the darkest pixels that show where black is.
	dark = 0.001
	// blackGap is a difference of black points, in codes of limited range, that
	// is seen on a display in the dark.
	blackGap = 8
)

// Range judges whether the codes contradict the range that the capture says it
// has.
func (l *Levels) Range(at time.Duration) []Finding {
	if l.n == 0 {
		return nil
	}
	below, above := l.share(0, blackCode-1), l.share(whiteCode+1, 255)
	if !l.Full {
		if below <= outside && above <= outside {
			return nil
		}
		return []Finding{Finding{Severity: Misleads,
			What: "taken as limited range, its codes look like full range",
			Evidence: fmt.Sprintf("%.1f %% of the luma codes are below 16, %.1f %% above 235",
				100*below, 100*above),
			Remedy: "shadows and highlights would be cut off: set the recorder to limited range, or " +
				"tag the capture as full range"}.AtTime(at)}
	}
	low, high := l.quantile(dark), l.quantile(1-dark)
	// Full-range play that never leaves 16..235 and has pixels close to both ends
	// would be a coincidence.
	if below+above > 0.0001 || low > blackCode+4 || high < whiteCode-8 {
		return nil
	}
	return []Finding{Finding{Severity: Misleads,
		What: "taken as full range, its codes look like limited range",
		Evidence: fmt.Sprintf("all luma codes lie within 16 to 235, the darkest at %d, the brightest at %d",
			low, high),
		Remedy: "blacks would be grey and whites dull: tag the capture as limited range"}.AtTime(at)}
}

// pqWhite is the signal, of 1, from which on PQ (SMPTE ST 2084, ITU-R BT.2100) stands
// for 1000 cd/m² and more.
const pqWhite = 0.752

// Transfer judges whether the codes contradict a tag of PQ: pictures for ordinary
// displays have much of themselves where PQ keeps the brightest highlights.
func (l *Levels) Transfer(tag string, at time.Duration) []Finding {
	if tag != "smpte2084" || l.n == 0 {
		return nil
	}
	low, high := blackCode, whiteCode
	if l.Full {
		low, high = 0, 255
	}
	const much = 0.1
	bright := l.share(low+int(math.Ceil(pqWhite*float64(high-low))), 255)
	if bright < much {
		return nil
	}
	return []Finding{Finding{Severity: Misleads,
		What:     "tagged as PQ, its codes look like those of an ordinary picture",
		Evidence: fmt.Sprintf("%.0f %% of the pixels would be brighter than 1000 cd/m²", 100*bright),
		Remedy: "look at a preview; if its highlights are flat and its shadows dark, tag the " +
			"capture as BT.709"}.AtTime(at)}
}

// Bars judges black bars at the picture's edges.
func (l *Levels) Bars(at time.Duration) []Finding {
	black := uint8(blackCode + 6)
	if l.Full {
		black = 7
	}
	top, bottom := edges(l.rows, black)
	left, right := edges(l.cols, black)
	if top == l.size.Y || left == l.size.X {
		return nil // a black picture has no bars
	}
	// An edge of less than a hundredth is overscan that no one sees.
	if max(top, bottom)*100 < l.size.Y && max(left, right)*100 < l.size.X {
		return nil
	}
	f := Finding{Severity: Misleads, What: "black bars in the picture",
		Evidence: fmt.Sprintf("left %d, right %d, top %d, bottom %d pixels of %dx%d are black in all "+
			"sampled pictures", left, right, top, bottom, l.size.X, l.size.Y),
		Remedy: "turn letterboxing off at the machine; " +
			"bars make the picture smaller than the other captures'"}
	if min(left, right) > 0 && min(top, bottom) > 0 {
		f.What = "a black border on all sides"
		f.Remedy = "turn overscan compensation off, which is often called screen area or safe zone " +
			"at the machine; it makes the picture smaller and resamples it"
	}
	return []Finding{f.AtTime(at)}
}

func edges(brightest []uint8, black uint8) (before, after int) {
	for before < len(brightest) && brightest[before] <= black {
		before++
	}
	for after < len(brightest) && brightest[len(brightest)-1-after] <= black {
		after++
	}
	return before, after
}

// black returns the black point as a code of limited range.
func (l *Levels) black() float64 {
	v := float64(l.quantile(dark))
	if l.Full {
		v = blackCode + v*(whiteCode-blackCode)/255
	}
	return v
}

// crushed is the share of pixels at the very end of the range, or below it.
func (l *Levels) crushed() float64 {
	if l.Full {
		return l.share(0, 0)
	}
	return l.share(0, blackCode)
}

// Named is something of a capture.
type Named[T any] struct {
	Key   string
	Value T
}

// Blacks compares the captures of one scene: lifted blacks, crushed blacks.
func Blacks(list []Named[*Levels]) []Finding {
	if len(list) < 2 {
		return nil
	}
	var found []Finding
	low, high := list[0], list[0]
	few, many := list[0], list[0]
	for _, l := range list[1:] {
		if l.Value.black() < low.Value.black() {
			low = l
		}
		if l.Value.black() > high.Value.black() {
			high = l
		}
		if l.Value.crushed() < few.Value.crushed() {
			few = l
		}
		if l.Value.crushed() > many.Value.crushed() {
			many = l
		}
	}
	if gap := high.Value.black() - low.Value.black(); gap >= blackGap {
		found = append(found, Finding{Severity: Misleads, What: "blacks are lifted against the other capture",
			Capture: high.Key,
			Evidence: fmt.Sprintf("black at code %.0f, %s has it at %.0f (limited range)",
				high.Value.black(), low.Key, low.Value.black()),
			Remedy: "one of the two may have the wrong range, which makes a false verdict: compare " +
				"the settings of machines and recorders"})
	}
	if more := many.Value.crushed() - few.Value.crushed(); more >= 0.1 {
		found = append(found, Finding{Severity: Misleads,
			What: "blacks are crushed against the other capture", Capture: many.Key,
			Evidence: fmt.Sprintf("%.0f %% of its pixels are at black or below, %s has %.0f %%",
				100*many.Value.crushed(), few.Key, 100*few.Value.crushed()),
			Remedy: "one of the two may have the wrong range, which makes a false verdict: " +
				"compare the settings of machines and recorders"})
	}
	return found
}

// Tones gathers the brightness and the saturation of small pictures.
type Tones struct {
	luma, chroma [256]int64
	n            int64
}

// Add takes packed full-range R'G'B' of 8 bits.
func (t *Tones) Add(rgb []byte) {
	for i := 0; i+2 < len(rgb); i += 3 {
		r, g, b := float64(rgb[i]), float64(rgb[i+1]), float64(rgb[i+2])
		// ITU-R BT.709-6, items 3.2 and 3.3, full scale 255.
		y := 0.2126*r + 0.7152*g + 0.0722*b
		cb, cr := (b-y)/1.8556, (r-y)/1.5748
		t.luma[clamp(y)]++
		t.chroma[clamp(2*math.Hypot(cb, cr))]++
		t.n++
	}
}

func clamp(v float64) uint8 { return uint8(min(255, max(0, math.Round(v)))) }

func median(counts *[256]int64, n int64) float64 {
	var sum int64
	for v, c := range counts {
		if sum += c; 2*sum >= n && sum > 0 {
			return float64(v) / 2.55
		}
	}
	return 0
}

// toneGap is a difference of medians, in percent of full scale, that is worth a
// warning: matched moments of one game seldom differ by that much.
const toneGap = 10

// SideBySide sets the brightness and the saturation of the captures of a scene
// side by side, at matched moments.
func SideBySide(list []Named[*Tones]) []Finding {
	if len(list) < 2 {
		return nil
	}
	f := Finding{Severity: Note, What: "brightness and saturation at matching moments"}
	var text string
	lo, hi := [2]float64{100, 100}, [2]float64{}
	for i, one := range list {
		v := [2]float64{median(&one.Value.luma, one.Value.n), median(&one.Value.chroma, one.Value.n)}
		for k := range v {
			lo[k], hi[k] = min(lo[k], v[k]), max(hi[k], v[k])
		}
		if i > 0 {
			text += "; "
		}
		text += fmt.Sprintf("%s %.0f %% and %.0f %%", one.Key, v[0], v[1])
	}
	f.Evidence = "medians: " + text
	if hi[0]-lo[0] >= toneGap || hi[1]-lo[1] >= toneGap {
		f.Severity, f.What = Misleads, "brightness or saturation differs at matching moments"
		f.Remedy = "unless the games really differ: compare range, gamma and colour settings of " +
			"machines and recorders, and the starts"
	}
	return []Finding{f}
}
