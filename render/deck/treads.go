package deck

import (
	"fmt"
	"image"
	"image/color"
	"time"

	"golang.org/x/image/math/fixed"

	"fairframe/render/pacing"
)

// treads draws the frame times of the last moments: every frame as wide as it
// lasted and as high as its frame time, the present at the right edge.
type treads struct {
	d         *Deck
	body, cap []ink
	tick      ink
	still     ink
	capHeight int
	gap       fx
	labels    map[label]*stencil
}

// label names a cached picture of text: what it says, its lane, and its place
// within two pixels, in quarters.
type label struct {
	text  string
	lane  int
	phase int
}

func newTreads(d *Deck) *treads {
	t := &treads{
		d:         d,
		tick:      encode(bright),
		still:     encode(soft),
		capHeight: max(2, int(0.16*d.em+0.5)),
		gap:       max(fxOne/2, fx(d.em/20*256+0.5)),
		labels:    map[label]*stencil{},
	}
	for i := range d.Captures {
		t.body = append(t.body, encode(body(i, d.alpha)))
		t.cap = append(t.cap, encode(capture[i]))
	}
	return t
}

// body is the colour of a tread below its cap.
func body(i int, alpha bool) color.NRGBA {
	under := well
	if alpha {
		under = ground
	}
	return mix(capture[i], under, bodyShare)
}

func (d *Deck) drawTreadsTitle() {
	t := d.Screen.Treads
	title := fmt.Sprintf("Frame time, last %s", seconds(d.TreadSpan))
	small := d.faces.small
	s, short := small.Fit(title, fixed.I(t.Title.Dx()))
	if short {
		s, _ = small.Fit("Frame time", fixed.I(t.Title.Dx()))
	}
	end := d.static.text(small, t.Title, left, s, soft)
	if !d.anyTorn() {
		return
	}
	// The key to the mark of torn frames, if there is room.
	const word = "torn"
	x := fixed.I(t.Title.Max.X) - small.Measure(word)
	mark := d.tornMark()
	at := x.Floor() - mark.X - int(d.em*0.35)
	if fixed.I(at) < end+fixed.I(int(d.em*0.6)) {
		return
	}
	d.static.textAt(small, x, t.Title, left, word, soft)
	y := (t.Title.Min.Y + t.Title.Max.Y - mark.Y) / 2
	d.static.rect(image.Rect(at, y, at+mark.X, y+mark.Y), bright)
}

// tornMark is the size of the mark of a torn frame.
func (d *Deck) tornMark() image.Point {
	return image.Pt(max(1, int(0.12*d.em+0.5)), max(2, int(0.4*d.em+0.5)))
}

// anyTorn tells whether the scene shows a torn frame.
func (d *Deck) anyTorn() bool {
	for i, c := range d.Captures {
		if c.Trace == nil {
			continue
		}
		for _, f := range c.Trace.Over(c.Start-d.TreadSpan, d.at(i, d.Frames)) {
			if f.Tear > 0 {
				return true
			}
		}
	}
	return false
}

func (t *treads) draw(p *planes, k int) {
	for i := range t.d.Captures {
		t.lane(p, i, k)
	}
}

// lane draws capture i's treads up to the instant of output frame k.
func (t *treads) lane(p *planes, i, k int) {
	trace := t.d.Captures[i].Trace
	if trace == nil {
		return
	}
	now := t.d.at(i, k)
	from := now - t.d.TreadSpan
	frames := trace.Over(from, now)
	area := t.d.Screen.Treads.Lanes[i].Area
	for j, f := range frames {
		end := min(f.End(), now)
		growing := f.End() > now
		if j+1 < len(frames) {
			end = min(end, frames[j+1].Begin)
		}
		x0, x1 := t.x(area, f.Begin-now), t.x(area, end-now)
		if !growing {
			x1 -= min(t.gap, (x1-x0)/3)
		}
		t.tread(p, i, f, x0, x1, area)
	}
	t.marks(p, i, frames, now, area)
	t.pen(p, i, now)
}

// x returns where an instant stands, given its distance from now (negative).
func (t *treads) x(area image.Rectangle, ago time.Duration) fx {
	w := int64(area.Dx()) * int64(fxOne)
	// Spans are bounded by what is on screen, but a frame may have begun long
	// before: clip first, so that the product stays small.
	ago = max(ago, -2*t.d.TreadSpan)
	return fx(area.Max.X)*fxOne + fx(divRound(int64(ago)*w, int64(t.d.TreadSpan)))
}

func divRound(a, b int64) int64 { return div(a, b) }

// tread draws one frame, clipped to its lane.
func (t *treads) tread(p *planes, i int, f pacing.Frame, x0, x1 fx, area image.Rectangle) {
	begin := x0
	x0 = max(x0, fx(area.Min.X)*fxOne)
	if x0 >= x1 {
		return
	}
	if f.Kind == pacing.Still {
		t.drawStill(p, begin, x0, x1, area)
		return
	}
	top := t.d.timeAxis.row(ms(f.Time), area)
	if top < area.Min.Y {
		// Longer than the axis: no cap, but a cut through the tread; marks adds
		// its value.
		p.bar(x0, x1, area.Min.Y, area.Max.Y, t.body[i])
	} else {
		top = min(top, area.Max.Y-t.capHeight)
		p.bar(x0, x1, top, area.Max.Y, t.body[i])
		p.bar(x0, x1, top, top+t.capHeight, t.cap[i])
	}
}

// marks draws what stands on top of treads: torn marks, cuts and values.
func (t *treads) marks(p *planes, i int, frames []pacing.Frame, now time.Duration, area image.Rectangle) {
}

// pen marks the frame time now on screen at the right edge, before its tread
// has grown.
func (t *treads) pen(p *planes, i int, now time.Duration) {
}

func (t *treads) drawStill(p *planes, begin, x0, x1 fx, area image.Rectangle) {
	p.bar(x0, x1, area.Max.Y-t.capHeight, area.Max.Y, t.still)
}
