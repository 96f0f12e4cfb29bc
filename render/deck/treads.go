package deck

import (
	"cmp"
	"image"
	"image/color"
	"slices"
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
	hatch     ink
	capHeight int
	gap       fx
	long      []map[time.Duration]bool // frames whose value is written, by their begin
	labels    map[label]*stencil
}

// maxLabels bounds the cache, so that memory does not grow with the scene.
const maxLabels = 512

// label names a cached picture of text: what it says, its baseline, and its
// place within two pixels, in quarters.
type label struct {
	text  string
	base  int
	phase int
}

func newTreads(d *Deck) *treads {
	t := &treads{
		d:         d,
		tick:      encode(bright),
		still:     encode(soft),
		hatch:     encode(hair),
		capHeight: d.capHeight(),
		gap:       max(fxOne/2, fx(d.em/20*256+0.5)),
		labels:    map[label]*stencil{},
	}
	for i := range d.Captures {
		t.body = append(t.body, encode(body(d.style(i), d.alpha)))
		t.cap = append(t.cap, encode(capture[d.style(i)]))
	}
	for i := range d.Captures {
		t.long = append(t.long, t.labelLong(i))
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

// A sign explains one mark of the graph in its key.
type sign struct {
	word string
	size image.Point
	draw func(at image.Point)
}

// signs returns what the key explains: the marks that the scene shows.
func (d *Deck) signs() []sign {
	var list []sign
	if d.shows(func(f pacing.Frame) bool { return f.Tear > 0 }) {
		mark := d.tornMark()
		list = append(list, sign{"torn", mark, func(at image.Point) {
			d.static.fill(image.Rectangle{at, at.Add(mark)}, bright)
		}})
	}
	if d.shows(hollow) {
		mark := d.hollowMark()
		list = append(list, sign{"doubtful", mark, func(at image.Point) {
			// A hollow tread beside a full one.
			h := d.capHeight()
			half := mark.X / 2
			gap := max(1, int(d.em/20+0.5))
			d.static.fill(image.Rect(at.X, at.Y, at.X+half-gap, at.Y+h), bright)
			d.static.fill(image.Rect(at.X+half, at.Y, at.X+mark.X, at.Y+h), bright)
			d.static.fill(image.Rect(at.X+half, at.Y+h, at.X+mark.X, at.Y+mark.Y),
				mix(bright, well, bodyShare))
		}})
	}
	return list
}

// drawTreadsTitle says what the graph shows, and explains its marks where the
// scene has any. It takes the longest wording that fits.
func (d *Deck) drawTreadsTitle() {
	t := d.Screen.Treads
	small := d.faces.small
	signs := d.signs()
	between, before := int(d.em*0.6), int(d.em*0.35)
	width := 0
	for _, s := range signs {
		width += between + s.size.X + before + small.Measure(s.word).Ceil()
	}
	span := "ast " + seconds(d.TreadSpan)
	room := fixed.I(t.Title.Dx() - width)
	title := ""
	for _, title = range []string{"Frame time, l" + span, "Time, l" + span, "L" + span} {
		if small.Measure(title) <= room {
			break
		}
	}
	title, _ = small.Fit(title, fixed.I(t.Title.Dx()))
	end := d.static.text(small, t.Title, left, title, soft)
	box := t.Title
	for _, s := range signs {
		at := box.Max.X - small.Measure(s.word).Ceil() - before - s.size.X
		if end > fixed.I(at) {
			return
		}
		d.static.text(small, box, right, s.word, soft)
		s.draw(image.Pt(at, (box.Min.Y+box.Max.Y-s.size.Y)/2))
		box.Max.X = at - between
	}
}

// tornMark is the size of the mark of a torn frame.
func (d *Deck) tornMark() image.Point {
	return image.Pt(max(2, int(0.14*d.em+0.5)), max(3, int(0.42*d.em+0.5)))
}

// hollowMark is the size of the mark of a doubtful frame in the key.
func (d *Deck) hollowMark() image.Point {
	return image.Pt(max(6, int(0.8*d.em+0.5)), max(6, int(0.6*d.em+0.5)))
}

// capHeight is how high the cap of a tread is.
func (d *Deck) capHeight() int { return max(2, int(0.16*d.em+0.5)) }

// hollow tells whether a frame's tread has no body: the evidence for where the
// frame begins or ends was weak, so its frame time is no more than likely.
func hollow(f pacing.Frame) bool { return f.Doubtful && f.Kind == pacing.Normal }

// shows tells whether the scene has a frame of a kind.
func (d *Deck) shows(kind func(pacing.Frame) bool) bool {
	for i, c := range d.Captures {
		if c.Trace != nil && slices.ContainsFunc(c.Trace.Over(c.Start-d.TreadSpan, d.end(i)), kind) {
			return true
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
		t.tread(p, i, f, f.Begin-now, x0, x1, area)
	}
	t.marks(p, i, frames, now, area)
	t.pen(p, i, k)
}

// x returns where an instant stands, given its distance from now (negative).
func (t *treads) x(area image.Rectangle, ago time.Duration) fx {
	w := int64(area.Dx()) * int64(fxOne)
	// Spans are bounded by what is on screen, but a frame may have begun long
	// before: clip first, so that the product stays small.
	ago = max(ago, -2*t.d.TreadSpan)
	return fx(area.Max.X)*fxOne + fx(div(int64(ago)*w, int64(t.d.TreadSpan)))
}

// tread draws one frame, clipped to its lane.
func (t *treads) tread(p *planes, i int, f pacing.Frame, ago time.Duration, x0, x1 fx, area image.Rectangle) {
	x0 = max(x0, fx(area.Min.X)*fxOne)
	if x0 >= x1 {
		return
	}
	if f.Kind == pacing.Still {
		t.drawStill(p, ago, x0, x1, area)
		return
	}
	top := t.d.timeAxis.row(ms(f.Time), area)
	if t.beyond(f, area) {
		// Longer than the axis: no cap, but a cut through the tread; marks adds
		// its value.
		if !hollow(f) {
			p.bar(x0, x1, area.Min.Y, area.Max.Y, t.body[i])
		}
		h := t.d.hairline()
		for n := range 2 {
			y := area.Min.Y + t.labelHeight() + 2*n*h
			p.bar(x0, x1, y, y+h, t.cap[i])
		}
	} else {
		top = min(top, area.Max.Y-t.capHeight)
		if !hollow(f) {
			p.bar(x0, x1, top, area.Max.Y, t.body[i])
		}
		p.bar(x0, x1, top, top+t.capHeight, t.cap[i])
	}
}

// beyond tells whether a frame is longer than the axis shows.
func (t *treads) beyond(f pacing.Frame, area image.Rectangle) bool {
	return t.d.timeAxis.row(ms(f.Time), area) < area.Min.Y
}

// marks draws what stands on top of treads: torn marks, cuts and values.
func (t *treads) marks(p *planes, i int, frames []pacing.Frame, now time.Duration, area image.Rectangle) {
	edge := fx(area.Max.X) * fxOne
	torn := t.d.tornMark()
	for _, f := range frames {
		x := t.x(area, f.Begin-now)
		if f.Tear > 0 && x >= fx(area.Min.X)*fxOne {
			p.bar(x, min(x+fx(torn.X)*fxOne, edge), area.Max.Y-torn.Y, area.Max.Y, t.tick)
		}
		switch {
		case f.Kind == pacing.Still:
			left := max(x, fx(area.Min.X)*fxOne) + t.d.ems(0.4)
			right := min(t.x(area, f.End()-now), edge)
			if left+t.width(stillWord) <= right {
				t.text(p, i, stillWord, left, t.middle(area), area)
			}
		case t.long[i][f.Begin]:
			value := oneDecimal(ms(f.Time))
			t.text(p, i, value, min(x+t.d.ems(0.15), edge-t.width(value)-t.d.ems(0.15)), t.top(area), area)
		}
	}
}

const stillWord = "still"

// ems returns a length given in ems.
func (d *Deck) ems(n float64) fx { return fx(n*d.em*256 + 0.5) }

func (t *treads) width(s string) fx { return fx(t.d.faces.small.Measure(s)) * 4 }

// top and middle are baselines of text in a lane.
func (t *treads) top(area image.Rectangle) int {
	return area.Min.Y + t.labelHeight() - int(0.15*t.d.em)
}

func (t *treads) middle(area image.Rectangle) int {
	return (area.Min.Y + area.Max.Y + t.d.faces.small.CapHeight().Round()) / 2
}

// labelHeight is the room of a value at the top of a lane, the cut below it
// excluded.
func (t *treads) labelHeight() int {
	return t.d.faces.small.CapHeight().Ceil() + 2*int(0.15*t.d.em)
}

// text writes s from x, moving smoothly: its picture exists in steps of a
// quarter of a pixel.
func (t *treads) text(p *planes, lane int, s string, x fx, base int, area image.Rectangle) {
	quarters := int((x + 32) >> 6)
	phase := quarters & 7
	key := label{s, base, phase}
	st, ok := t.labels[key]
	if !ok {
		if len(t.labels) >= maxLabels {
			clear(t.labels)
		}
		st = newStencil(t.d.faces.small.Mask(fixed.Point26_6{X: fixed.Int26_6(phase * 16),
			Y: fixed.I(base)}, s))
		t.labels[key] = st
	}
	clip := image.Rect((area.Min.X+1)&^1, 0, area.Max.X&^1, p.h)
	p.stamp(st, (quarters-phase)/4, t.tick, clip)
}

// pen marks the frame time now on screen right of the graph, so that it shows
// from the frame's first instant, before its tread has grown.
func (t *treads) pen(p *planes, i, k int) {
	v, ok := t.d.frameTimeAt(i, k)
	if !ok {
		return
	}
	l := t.d.Screen.Treads.Lanes[i]
	top := max(t.d.timeAxis.row(ms(v), l.Area), l.Area.Min.Y)
	top = min(top, l.Area.Max.Y-t.capHeight)
	p.bar(fx(l.Pen.Min.X)*fxOne+t.d.playhead, fx(l.Pen.Max.X)*fxOne, top, top+t.capHeight, t.cap[i])
}

// drawStill hatches a stretch without change: it has a length, but no frame
// time and so no height.
func (t *treads) drawStill(p *planes, ago time.Duration, x0, x1 fx, area image.Rectangle) {
	period := t.d.ems(0.6)
	stripe := fx(t.d.hairline()) * fxOne
	// The hatch is fixed to the frame's beginning, wherever that is.
	every := time.Duration(int64(t.d.TreadSpan) * int64(period) / (int64(area.Dx()) * int64(fxOne)))
	phase := fx(0)
	if every > 0 {
		phase = t.x(area, ago%every) - fx(area.Max.X)*fxOne
	}
	for y := area.Min.Y; y < area.Max.Y; y++ {
		at := fx(area.Max.X)*fxOne + phase - fx(area.Max.Y-y)*fxOne
		at -= (at-x0)/period*period + period
		for ; at < x1; at += period {
			p.bar(max(at, x0), min(at+stripe, x1), y, y+1, t.hatch)
		}
	}
	p.bar(x0, x1, area.Min.Y, area.Min.Y+t.d.hairline(), t.still)
}

// labelLong chooses which of the frames longer than the axis get their value
// written: the longest first, and then all whose text does not touch another's.
func (t *treads) labelLong(i int) map[time.Duration]bool {
	c := t.d.Captures[i]
	out := map[time.Duration]bool{}
	if c.Trace == nil {
		return out
	}
	area := t.d.Screen.Treads.Lanes[i].Area
	var long []pacing.Frame
	for _, f := range c.Trace.Over(c.Start-t.d.TreadSpan, t.d.end(i)) {
		if f.Kind == pacing.Normal && t.beyond(f, area) {
			long = append(long, f)
		}
	}
	slices.SortStableFunc(long, func(a, b pacing.Frame) int { return cmp.Compare(b.Time, a.Time) })
	room := time.Duration(int64(t.d.TreadSpan) * int64(t.width("0000.0")) / (int64(area.Dx()) * int64(fxOne)))
	var taken []time.Duration
	for _, f := range long {
		at, _ := slices.BinarySearch(taken, f.Begin)
		if at > 0 && f.Begin-taken[at-1] < room || at < len(taken) && taken[at]-f.Begin < room {
			continue
		}
		taken = slices.Insert(taken, at, f.Begin)
		out[f.Begin] = true
	}
	return out
}
