package deck

import (
	"image"
	"math/big"
	"slices"
	"strings"

	"golang.org/x/image/math/fixed"

	"fairframe/fonts"
	"fairframe/layout"
	"fairframe/render/pacing"
)

// Words for how fast the scene plays. A picture that is slowed, sped up or held says
// so, with a deck and without one. A viewer could take it for the game's own pace otherwise.
const (
	clockLead = "Scene at "
	heldWord  = "held"
)

// SpeedText says how fast a scene plays: "¼ speed", "0.3 speed", "speed 1.5x";
// "" at its own pace.
func SpeedText(speed *big.Rat) string {
	glyphs := map[string]string{"1/4": "¼", "1/2": "½", "3/4": "¾"}
	text := speed.RatString()
	switch short := strings.TrimSuffix(strings.TrimRight(speed.FloatString(3), "0"), "."); {
	case text == "1":
		return ""
	case glyphs[text] != "":
		text = glyphs[text]
	case isDecimal(speed, short):
		text = short
	}
	if speed.Cmp(big.NewRat(1, 1)) < 0 {
		return text + " speed"
	}
	return "speed " + text + "x"
}

func isDecimal(v *big.Rat, text string) bool {
	r, ok := new(big.Rat).SetString(text)
	return ok && r.Cmp(v) == 0
}

// paceTexts are what is said of a scene while it passes and while it is held; the
// first is "" for a scene that passes at its own pace.
func paceTexts(m pacing.TimeMap) (passing, held string) { return SpeedText(m.Speed()), heldWord }

// pace is what a deck says before the clock.
type pace struct{ passing, held *stencil }

// clockLead is how much room is kept before the clock's number where the clock
// heads the readouts.
func (d *Deck) clockLead() fixed.Int26_6 {
	small := d.faces.small
	if d.Time.Plain() {
		return small.Measure(clockLead)
	}
	return d.paceWidth()
}

// paceWidth is the width of the widest text that stands before the clock, with
// the gap after it.
func (d *Deck) paceWidth() fixed.Int26_6 {
	passing, held := paceTexts(d.Time)
	if passing == "" {
		passing = strings.TrimSpace(clockLead)
	}
	return max(d.faces.smallBold.Measure(passing),
		d.faces.smallBold.Measure(held)) + d.faces.small.Measure("  ")
}

// newPace makes the pictures of what stands before the clock. Where the clock
// closes the line's title row, that row was shortened for it.
func (d *Deck) newPace() {
	if d.Time.Plain() {
		return
	}
	r := d.Screen.Clock
	small, bold := d.faces.small, d.faces.smallBold
	dot := fixed.Point26_6{X: fixed.I(r.Min.X), Y: baseline(bold, r)}
	passing, held := paceTexts(d.Time)
	if !d.clockLeads() {
		dot.X = d.clock.right - bold.Measure(d.clockText(d.Frames-1)) - d.paceWidth()
	}
	switch {
	case passing != "":
		d.pace.passing = newStencil(bold.Mask(dot, passing))
	case d.clockLeads():
		d.pace.passing = newStencil(small.Mask(dot, strings.TrimSpace(clockLead)))
	}
	d.pace.held = newStencil(bold.Mask(dot, held))
}

// makePaceRoom shortens the title row of the line for what stands before a clock
// at its end.
func (d *Deck) makePaceRoom() {
	if !d.Time.Plain() && !d.Screen.Deck.Empty() && !d.clockLeads() {
		d.Screen.Line.Title.Max.X -= d.paceWidth().Ceil()
	}
}

func (d *Deck) drawPace(p *planes, k int) {
	if d.Time.Plain() {
		return
	}
	st := d.pace.passing
	if d.Time.Held(int64(k)) {
		st = d.pace.held
	}
	if st != nil {
		p.stamp(st, 0, encode(bright), image.Rect(0, 0, p.w, p.h))
	}
}

// Sign says how the scene passes where there is no deck: a small tag in the upper
// left corner of the safe area, or where there is room.
type Sign struct {
	Area          image.Rectangle // in the output, even; empty: nothing needs to be said
	passing, held planes
	time          pacing.TimeMap
}

// NewSign makes the sign of a clip of that size, clear of what it is to avoid.
func NewSign(size image.Point, m pacing.TimeMap, set *fonts.Set, avoid []image.Rectangle) (*Sign, error) {
	s := &Sign{time: m}
	if m.Plain() {
		return s, nil
	}
	em := stillEm(size)
	face, err := set.Face(fonts.Bold, 1.2*em)
	if err != nil {
		return nil, err
	}
	passing, held := paceTexts(m)
	width := max(face.Measure(passing), face.Measure(held)).Ceil()
	pad := int(0.6*em + 0.5)
	s.Area = signPlace(layout.Safe(size), image.Pt(width+2*pad, int(2*em)), avoid)
	draw := func(text string) planes {
		c := newCanvas(s.Area.Size())
		all := image.Rectangle{Max: s.Area.Size()}
		g := ground
		g.A = 0
		if text != "" {
			g.A = backing(len(capture))
		}
		c.fill(all, g)
		if text != "" {
			c.text(face, all.Add(image.Pt(pad, 0)), left, text, bright)
		}
		return c.planes(all, true)
	}
	s.passing, s.held = draw(passing), draw(held)
	return s, nil
}

// signPlace finds room for the sign: in an upper corner, the left one first, or
// else below what takes it.
func signPlace(safe image.Rectangle, size image.Point, avoid []image.Rectangle) image.Rectangle {
	places := []image.Point{safe.Min, image.Pt(safe.Max.X-size.X&^1-2, safe.Min.Y)}
	for _, a := range avoid {
		places = append(places, image.Pt(safe.Min.X, a.Max.Y+size.Y/4))
	}
	for _, at := range places {
		r := even(image.Rectangle{at, at.Add(size)})
		if r.Max.Y <= safe.Max.Y && !slices.ContainsFunc(avoid, r.Overlaps) {
			return r
		}
	}
	return even(image.Rectangle{safe.Min, safe.Min.Add(size)})
}

// Draw writes the sign at output frame k as yuva420p with straight alpha.
func (s *Sign) Draw(dst []byte, k int) {
	p := s.passing
	if s.time.Held(int64(k)) {
		p = s.held
	}
	for _, plane := range [][]byte{p.y, p.u, p.v, p.a} {
		dst = dst[copy(dst, plane):]
	}
}
