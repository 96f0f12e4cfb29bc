package deck

import (
	"cmp"
	"fmt"
	"image"
	"math"
	"slices"
	"time"

	"fairframe/render/pacing"
)

// chooseBand decides how treads are drawn, for all lanes alike, by the width of a
// short one: a tenth of a capture's frames are shorter. Below a pixel, lanes show
// the range of the frame times in steps of at least three pixels instead, because
// thinner treads would be noise; a little above, treads stand without gaps, which
// would be all there is to see.
func (c *Chart) chooseBand() {
	least := math.Inf(1)
	for i := range c.Captures {
		var times []float64
		for _, f := range c.shown(i) {
			if f.Kind == pacing.Normal {
				times = append(times, float64(f.Time))
			}
		}
		slices.Sort(times)
		if len(times) > 0 {
			least = min(least, c.width(time.Duration(pacing.Quantile(times, 0.1))))
		}
	}
	if gap := max(0.5, c.em/20); least >= 2.5*gap {
		c.gap = gap
	}
	if least < 1 {
		step := niceStep(3 * c.Length.Seconds() / float64(c.rate.Dx()))
		c.band = time.Duration(math.Round(step * float64(time.Second)))
	}
}

// width returns how wide a stretch of time is.
func (c *Chart) width(t time.Duration) float64 {
	return float64(t) / float64(c.Length) * float64(c.rate.Dx())
}

// laneTitle says what a lane shows and of which capture.
func (c *Chart) laneTitle(s surface, i int) {
	l := c.lanes[i]
	base := c.types.below(c.bold, l.title)
	x := float64(l.area.Min.X)
	const title = "Frame time (ms)"
	s.text(c.bold, x, base, left, title, bright)
	x += c.types.width(c.bold, title) + 0.8*c.em
	swatch := math.Round(1.8 * c.em)
	thick := max(2, int(0.24*c.em+0.5))
	top := int(l.title) - thick/2
	c.swatch(s, image.Rect(int(x), top, int(x+swatch), top+thick), i)
	x += swatch + 0.5*c.em
	// From the right: the key to the marks, then what the range is.
	end := float64(l.area.Max.X)
	if c.anyTorn(i) {
		const key = "torn"
		mark := c.deck.tornMark()
		s.text(c.small, end, base, right, key, soft)
		end -= c.types.width(c.small, key) + 0.35*c.em + float64(mark.X)
		y := math.Round(l.title - float64(mark.Y)/2)
		s.boxes("", []box{{end, y, end + float64(mark.X), y + float64(mark.Y)}}, bright)
		end -= c.em
	}
	doubtful := 0
	for _, f := range c.shown(i) {
		if hollow(f) {
			doubtful++
		}
	}
	if doubtful > 0 {
		key := "hollow: doubtful"
		if c.band > 0 { // a range does not show single frames
			key = fmt.Sprintf("%d doubtful", doubtful)
		}
		if w := c.types.width(c.small, key); x+4*c.em+w < end {
			s.text(c.small, end, base, right, key, soft)
			end -= w + c.em
		}
	}
	if c.band > 0 {
		note := fmt.Sprintf("range in each %s", seconds(c.band))
		if w := c.types.width(c.small, note); x+4*c.em+w < end {
			s.text(c.small, end, base, right, note, soft)
			end -= w + c.em
		}
	}
	name, _ := c.types.fit(c.bold, c.Captures[i].Name, end-x) // the legend has it whole
	s.text(c.bold, x, base, left, name, bright)
}

func (c *Chart) anyTorn(i int) bool {
	return slices.ContainsFunc(c.shown(i), func(f pacing.Frame) bool { return f.Tear > 0 })
}

// drawLane draws capture i's frame times.
func (c *Chart) drawLane(s surface, i int) {
	style := c.Captures[i].Style - 1
	area := c.lanes[i].area
	var bodies, caps, cuts, torn []box
	if c.band > 0 {
		bodies, caps = c.ranges(i, area)
	} else {
		bodies, caps = c.treadBoxes(i, area)
	}
	mark := c.deck.tornMark()
	last := math.Inf(-1)
	for _, f := range c.shown(i) {
		x := c.x(f.Begin - c.Captures[i].Start)
		if f.Tear > 0 && x >= float64(area.Min.X) && x >= last {
			last = x + float64(mark.X)
			torn = append(torn, box{x, float64(area.Max.Y - mark.Y), min(last, float64(area.Max.X)),
				float64(area.Max.Y)})
		}
	}
	s.boxes(fmt.Sprintf("bodies-%d", i+1), bodies, body(style, false))
	s.boxes(fmt.Sprintf("caps-%d", i+1), caps, capture[style])
	c.drawStills(s, i, area)
	s.boxes(fmt.Sprintf("torn-%d", i+1), torn, bright)

	// Frames longer than the axis are cut, and their values written.
	hair := float64(c.deck.hairline())
	room := c.labelRoom()
	for _, f := range c.long(i, area) {
		x0, x1 := c.span(i, f, area)
		for n := range 2 {
			y := float64(area.Min.Y) + room + 2*float64(n)*hair
			cuts = append(cuts, box{x0, y, max(x1, x0+1), y + hair})
		}
	}
	s.boxes(fmt.Sprintf("cuts-%d", i+1), cuts, capture[style])
	for _, f := range c.labelled(i, area) {
		x0, _ := c.span(i, f, area)
		if c.band > 0 { // beside the range that it belongs to
			last := (f.End() - c.Captures[i].Start - 1) / c.band
			x0 = c.x(min((last+1)*c.band, c.Length))
		}
		value := oneDecimal(ms(f.Time))
		width := c.types.width(c.small, value)
		x := min(x0+0.15*c.em, float64(area.Max.X)-width-0.15*c.em)
		if c.band > 0 { // a range is too bright to read on
			s.boxes("", []box{{x - 0.15*c.em, float64(area.Min.Y), x + width + 0.15*c.em,
				float64(area.Min.Y) + room}}, well)
		}
		s.text(c.small, x, float64(area.Min.Y)+room-0.15*c.em, left, value, bright)
	}
}

// labelRoom is the height of a value at the top of a lane.
func (c *Chart) labelRoom() float64 {
	return math.Ceil(float64(c.types.faces[c.small].CapHeight())/64) + 2*math.Floor(0.15*c.em)
}

// span returns between which columns a frame stands, clipped to its lane.
func (c *Chart) span(i int, f pacing.Frame, area image.Rectangle) (x0, x1 float64) {
	start := c.Captures[i].Start
	x0 = max(c.x(f.Begin-start), float64(area.Min.X))
	x1 = min(c.x(f.End()-start), float64(area.Max.X))
	return x0, max(x0, x1)
}

func (c *Chart) capHeight() float64 { return float64(max(2, int(0.16*c.em+0.5))) }

// top returns the row of a frame time, inside the lane with room for its cap.
func (c *Chart) top(t time.Duration, area image.Rectangle) float64 {
	y := float64(area.Max.Y) - c.deck.timeAxis.unit(ms(t))*float64(area.Dy())
	return min(max(y, float64(area.Min.Y)), float64(area.Max.Y)-c.capHeight())
}

// treadBoxes returns each frame's tread: as wide as it lasted and as high as its
// frame time.
func (c *Chart) treadBoxes(i int, area image.Rectangle) (bodies, caps []box) {
	for _, f := range c.shown(i) {
		if f.Kind == pacing.Still {
			continue
		}
		x0, x1 := c.span(i, f, area)
		x1 -= min(c.gap, (x1-x0)/3)
		top := c.top(f.Time, area)
		if c.beyond(f, area) {
			if !hollow(f) {
				bodies = append(bodies, box{x0, float64(area.Min.Y), x1, float64(area.Max.Y)})
			}
			continue
		}
		if !hollow(f) {
			bodies = append(bodies, box{x0, top + c.capHeight(), x1, float64(area.Max.Y)})
		}
		caps = append(caps, box{x0, top, x1, top + c.capHeight()})
	}
	return bodies, caps
}

// ranges returns, for each step of the scene, the range from the shortest to the
// longest frame time on screen in it, and the body below.
func (c *Chart) ranges(i int, area image.Rectangle) (bodies, caps []box) {
	one := c.Captures[i]
	if one.Trace == nil {
		return nil, nil
	}
	for at := time.Duration(0); at < c.Length; at += c.band {
		end := min(at+c.band, c.Length)
		least, most := time.Duration(math.MaxInt64), time.Duration(0)
		for _, f := range one.Trace.Over(one.Start+at, one.Start+end) {
			if f.Kind == pacing.Normal {
				least, most = min(least, f.Time), max(most, f.Time)
			}
		}
		if most == 0 {
			continue
		}
		foot := c.top(least, area) + c.capHeight()
		bodies = append(bodies, box{c.x(at), foot, c.x(end), float64(area.Max.Y)})
		caps = append(caps, box{c.x(at), c.top(most, area), c.x(end), foot})
	}
	return bodies, caps
}

// drawStills hatches stretches without change, which have no frame time.
func (c *Chart) drawStills(s surface, i int, area image.Rectangle) {
	var hatch [][]point
	var edges []box
	hairline := float64(c.deck.hairline())
	height := float64(area.Dy())
	type note struct{ x float64 }
	var notes []note
	const word = "still"
	for _, f := range c.shown(i) {
		if f.Kind != pacing.Still {
			continue
		}
		x0, x1 := c.span(i, f, area)
		edges = append(edges, box{x0, float64(area.Min.Y), x1, float64(area.Min.Y) + hairline})
		// Lines that fall by as much as they go left: x + y is constant on each.
		for at := x0; at < x1+height; at += 0.6 * c.em {
			a, b := max(0, at-x1), min(height, at-x0)
			if a < b {
				hatch = append(hatch, []point{{at - a, float64(area.Min.Y) + a},
					{at - b, float64(area.Min.Y) + b}})
			}
		}
		if x1-x0 > c.types.width(c.small, word)+0.8*c.em {
			notes = append(notes, note{(x0 + x1) / 2})
		}
	}
	s.lines(fmt.Sprintf("still-%d", i+1), hatch, pen{width: hairline, colour: hair})
	s.boxes("", edges, soft)
	for _, n := range notes {
		s.text(c.small, n.x, c.types.below(c.small, float64(area.Min.Y)+height/2), centre, word, bright)
	}
}

// beyond tells whether a frame is longer than the axis shows.
func (c *Chart) beyond(f pacing.Frame, area image.Rectangle) bool {
	return c.deck.timeAxis.row(ms(f.Time), area) < area.Min.Y
}

// long returns the frames longer than the axis, in order.
func (c *Chart) long(i int, area image.Rectangle) []pacing.Frame {
	var out []pacing.Frame
	for _, f := range c.shown(i) {
		if f.Kind == pacing.Normal && c.beyond(f, area) {
			out = append(out, f)
		}
	}
	return out
}

// labelled returns which of them get their value written: the longest first, and
// then all whose text does not touch another's.
func (c *Chart) labelled(i int, area image.Rectangle) []pacing.Frame {
	frames := c.long(i, area)
	slices.SortStableFunc(frames, func(a, b pacing.Frame) int { return cmp.Compare(b.Time, a.Time) })
	room := c.types.width(c.small, "000.0") + 0.5*c.em
	if c.band > 0 {
		room *= 2.5
	}
	var taken []float64
	var out []pacing.Frame
	for _, f := range frames {
		x, _ := c.span(i, f, area)
		at, _ := slices.BinarySearch(taken, x)
		if at > 0 && x-taken[at-1] < room || at < len(taken) && taken[at]-x < room {
			continue
		}
		taken = slices.Insert(taken, at, x)
		out = append(out, f)
	}
	return out
}
