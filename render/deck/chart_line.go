package deck

import (
	"fmt"
	"math"
	"time"

	"fairframe/render/pacing"
)

// lineWindow is the window of the line's mean: the one that was asked for, or in
// long scenes as much time as is wide enough to see. A shorter mean would be
// noise, and the lanes keep what a longer one levels out.
func (c *Chart) lineWindow() time.Duration {
	least := 0.6 * c.em / float64(c.rate.Dx()) * c.Length.Seconds()
	if least <= c.RateWindow.Seconds() {
		return c.RateWindow
	}
	return time.Duration(math.Round(niceStep(least) * float64(time.Second)))
}

// lineNote says what the line is.
func (c *Chart) lineNote() string {
	w := c.lineWindow()
	note := c.deck.meanText(w)
	if w != c.RateWindow {
		note += fmt.Sprintf(" (%s would be too fine to see)", seconds(c.RateWindow))
	}
	for _, one := range c.Captures {
		if one.Trace != nil && one.Trace.Doubt(one.Start, one.Start+c.Length).Time > 0 {
			return note + thinText
		}
	}
	return note
}

// lineTimes returns the scene times at which the line is looked at: at every
// output frame or, where these are closer than pixels, in every column of pixels.
func (c *Chart) lineTimes() []time.Duration {
	frames := int(c.Rate.FramesIn(c.Length))
	n := min(frames, c.rate.Dx())
	out := make([]time.Duration, n+1)
	for k := range n {
		if n == frames {
			out[k] = c.Rate.TimeOf(int64(k))
		} else {
			out[k] = time.Duration(math.Round(float64(c.Length) * float64(k) / float64(n)))
		}
	}
	out[n] = c.Length
	return out
}

// drawLines draws the frame-rate lines, solid below dashed below dotted: where
// they coincide, each shows through the gaps of the next.
func (c *Chart) drawLines(s surface) {
	for style := range capture {
		for i, one := range c.Captures {
			if one.Style-1 != style || one.Trace == nil {
				continue
			}
			var pattern []float64
			for _, v := range dashes[style] {
				pattern = append(pattern, v*c.em/10)
			}
			width := max(2, 0.18*c.em)
			sure, doubtful := c.linePoints(i)
			s.lines(fmt.Sprintf("rate-%d", i+1), sure, pen{width, pattern, capture[style]})
			s.lines(fmt.Sprintf("rate-%d-doubtful", i+1), doubtful,
				pen{thinLine * width, pattern, capture[style]})
		}
	}
}

// linePoints returns capture i's line in pieces, those that are doubtful apart. It
// breaks where the log has no value.
func (c *Chart) linePoints(i int) (sure, doubtful [][]point) {
	one := c.Captures[i]
	line := c.deck.rateLine(one, c.lineWindow())
	var piece []point
	weak := false
	end := func() {
		switch {
		case len(piece) < 2:
		case weak:
			doubtful = append(doubtful, piece)
		default:
			sure = append(sure, piece)
		}
		piece = nil
	}
	for _, t := range c.lineTimes() {
		v, ok := line.At(one.Start + t)
		if !ok {
			end()
			continue
		}
		// Gridlines hang below their row, so the line's middle is lowered by half
		// a gridline to lie on them.
		y := float64(c.rate.Max.Y) - c.deck.rateAxis.unit(v)*float64(c.rate.Dy()) +
			float64(c.deck.hairline())/2
		at := point{c.x(t), min(max(y, float64(c.rate.Min.Y)), float64(c.rate.Max.Y))}
		piece = append(piece, at)
		if now := line.Doubt(one.Start + t).Uncertain(); now != weak {
			end() // the next piece begins where this one ends
			weak, piece = now, []point{at}
		}
	}
	end()
	return sure, doubtful
}

// shown returns capture i's frames of the scene.
func (c *Chart) shown(i int) []pacing.Frame {
	one := c.Captures[i]
	if one.Trace == nil {
		return nil
	}
	return one.Trace.Over(one.Start, one.Start+c.Length)
}
