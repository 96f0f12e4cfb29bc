package deck

import (
	"image"
	"math/big"
	"strconv"
	"time"

	"golang.org/x/image/math/fixed"

	"fairframe/fonts"
)

// unknown stands where the log has no value.
const unknown = "–"

// oneDecimal formats a value of a readout. Values too long for its field lose
// their decimal.
func oneDecimal(v float64) string {
	if v >= 999.95 {
		return strconv.Itoa(int(min(v, 99999) + 0.5))
	}
	return strconv.FormatFloat(v, 'f', 1, 64)
}

func ms(d time.Duration) float64 { return float64(d) / float64(time.Millisecond) }

// field is a right-aligned number whose digits do not move: each stands in a
// cell counted from the right end, and its picture is kept.
type field struct {
	face     *fonts.Face
	right    fixed.Int26_6
	baseline fixed.Int26_6
	ink      ink
	cell     fixed.Int26_6 // width of any digit
	cache    map[glyph]*stencil
}

type glyph struct {
	r rune
	x fixed.Int26_6
}

// newField sets numbers in rows of r, their right end at x.
func newField(f *fonts.Face, x fixed.Int26_6, base fixed.Int26_6, c ink) *field {
	// A user's own font may have digits of differing widths.
	cell := fixed.Int26_6(0)
	for _, digit := range "0123456789" {
		cell = max(cell, f.Measure(string(digit)))
	}
	return &field{face: f, right: x, baseline: base, ink: c, cell: cell, cache: map[glyph]*stencil{}}
}

func (f *field) draw(p *planes, text string) {
	x := f.right
	all := image.Rect(0, 0, p.w, p.h)
	rs := []rune(text)
	for i := len(rs) - 1; i >= 0; i-- {
		r := rs[i]
		g := glyph{r, x}
		s, ok := f.cache[g]
		if !ok {
			str := string(r)
			width, advance := f.face.Measure(str), f.face.Measure(str)
			if r >= '0' && r <= '9' {
				advance = f.cell
			}
			s = newStencil(f.face.Mask(fixed.Point26_6{X: x - (advance+width)/2, Y: f.baseline}, str))
			s.advance = advance
			f.cache[g] = s
		}
		p.stamp(s, 0, f.ink, all)
		x -= s.advance
	}
}

// readout is one capture's pair of numbers, and what may be said of the first.
type readout struct {
	rate, time *field
	states     [leastRate + 1]*stencil
}

func (d *Deck) newReadouts() {
	for i, r := range d.Screen.Readouts {
		rateWidth := d.faces.rate.Measure(d.widestRate(i))
		timeWidth := d.faces.time.Measure("000.0")
		stacked := r.Rate.Min.X == r.Time.Min.X
		if stacked {
			rateWidth = max(rateWidth, timeWidth)
			timeWidth = rateWidth
		}
		rateRight := fixed.I(r.Rate.Min.X) + rateWidth
		timeRight := fixed.I(r.Time.Min.X) + timeWidth
		rateBase := baseline(d.faces.rate, r.Rate)
		timeBase := rateBase
		if stacked {
			// The two lines stand close together, centred on their row.
			row := r.Rate.Union(r.Time)
			rateCap, timeCap := d.faces.rate.CapHeight(), d.faces.time.CapHeight()
			gap := fixed.I(int(d.em*0.55 + 0.5))
			top := fixed.I(row.Min.Y+row.Max.Y)/2 - (rateCap+gap+timeCap)/2
			rateBase = fixed.I((top + rateCap).Round())
			timeBase = fixed.I((top + rateCap + gap + timeCap).Round())
		}
		gap := fixed.Int26_6(d.em * 0.4 * 64)
		d.readouts = append(d.readouts, readout{
			rate:   newField(d.faces.rate, rateRight, rateBase, encode(bright)),
			time:   newField(d.faces.time, timeRight, timeBase, encode(bright)),
			states: d.stateMarks(i, rateRight+gap, rateBase, stacked),
		})
		d.static.over(d.faces.small.Mask(fixed.Point26_6{X: rateRight + gap, Y: rateBase}, "fps"), soft)
		d.static.over(d.faces.small.Mask(fixed.Point26_6{X: timeRight + gap, Y: timeBase}, "ms"), soft)
	}
}

// widestRate is as wide as any frame rate of the scene.
func (d *Deck) widestRate(i int) string {
	if d.rateMax >= 99.95 {
		return "000.0"
	}
	return "00.0"
}

func (d *Deck) drawReadouts(p *planes, k int) {
	for i, r := range d.readouts {
		rate, time := d.readoutText(i, k)
		r.rate.draw(p, rate)
		r.time.draw(p, time)
		d.drawState(p, i, k)
	}
}

// readoutText returns what capture i's readout says at output frame k.
func (d *Deck) readoutText(i, k int) (rate, time string) {
	rate, time = unknown, unknown
	if v, ok := d.rateAt(i, d.sceneTime(k)); ok {
		rate = oneDecimal(v)
	}
	if v, ok := d.frameTimeAt(i, k); ok {
		time = oneDecimal(ms(v))
	}
	return rate, time
}

// clockText is scene time at output frame k in seconds with two decimals.
func (d *Deck) clockText(k int) string {
	// Rounded to the nearest hundredth, from the exact fraction.
	n := (int64(k)*d.Rate.Den*200 + d.Rate.Num) / (2 * d.Rate.Num)
	if !d.Time.Plain() {
		v := new(big.Rat).Mul(d.Time.Scene(int64(k)), big.NewRat(100, 1))
		v.Add(v, big.NewRat(1, 2))
		n = new(big.Int).Div(v.Num(), v.Denom()).Int64()
	}
	frac := strconv.FormatInt(n%100+100, 10)[1:]
	return strconv.FormatInt(n/100, 10) + "." + frac
}

func (d *Deck) newClock() {
	r := d.Screen.Clock
	f := d.faces.smallBold
	base := baseline(f, r)
	unit := " s"
	width := f.Measure(d.clockText(d.Frames - 1))
	x := fixed.I(r.Max.X) - d.faces.small.Measure(unit)
	if d.clockLeads() {
		x = fixed.I(r.Min.X) + d.clockLead() + width
		if d.Time.Plain() {
			d.static.text(d.faces.small, r, left, clockLead, soft)
		}
	}
	d.static.over(d.faces.small.Mask(fixed.Point26_6{X: x, Y: base}, unit), soft)
	d.clock = newField(f, x, base, encode(bright))
}

// clockLeads tells whether the clock heads the readouts, rather than closing
// the line's title row.
func (d *Deck) clockLeads() bool { return d.Screen.Clock.Min.X < d.Screen.Line.Title.Min.X }

func (d *Deck) drawClock(p *planes, k int) { d.clock.draw(p, d.clockText(k)) }
