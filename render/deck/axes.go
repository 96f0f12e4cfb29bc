package deck

import (
	"fmt"
	"image"
	"math"
	"strconv"
	"time"

	"fairframe/fonts"
	"fairframe/render/pacing"
)

// tick is a labelled value of an axis.
type tick struct {
	value float64
	label string
	line  bool // false: label only
}

// chooseAxes sets the ranges that were left open.
func (d *Deck) chooseAxes() {
	d.rateAxis, d.timeAxis = d.RateAxis, d.TimeAxis
	for i, c := range d.Captures {
		d.lines = append(d.lines, d.rateLine(c, d.RateWindow))
		for j := range d.sceneFrames() {
			if v, ok := d.rateAt(i, d.Rate.TimeOf(int64(j))); ok {
				d.rateMax = max(d.rateMax, v)
			}
		}
	}
	if d.rateAxis == (Axis{}) {
		// Up to the refresh rate, or to what the captures reach without v-sync.
		d.rateAxis.Max = max(d.Refresh.Hz(), math.Ceil(d.rateMax/10)*10) * 1.1
		if d.rateMax <= d.Refresh.Hz()*1.05 {
			d.rateAxis.Max = d.Refresh.Hz() * 1.1
		}
	}
	if d.timeAxis == (Axis{}) {
		d.timeAxis.Max = d.timeRange()
	}
}

// The most refreshes, and the most milliseconds where frame times are no multiples, that
// the frame times' axis shows of itself. Longer treads are cut.
const mostRefreshes, mostTime = 4, 70

// timeRange is the greatest frame time that lanes show: one scale for all captures, which
// fits what happens in the scene.
func (d *Deck) timeRange() float64 {
	longest := 0.0
	for i, c := range d.Captures {
		if c.Trace == nil {
			continue
		}
		for _, f := range c.Trace.Over(c.Start-d.TreadSpan, d.end(i)) {
			if f.Kind == pacing.Normal {
				longest = max(longest, ms(f.Time))
			}
		}
	}
	step, least, most := 1000/d.Refresh.Hz(), 2.0, float64(mostRefreshes)
	if d.Unlocked {
		step, least, most = 10, 3, mostTime/10
	}
	return step * (min(max(math.Ceil(longest/step-0.1), least), most) + 0.35)
}

// unit returns where v lies on the axis, 0 at Min and 1 at Max.
func (a Axis) unit(v float64) float64 { return (v - a.Min) / (a.Max - a.Min) }

// row returns the pixel row boundary at which v stands in r, unclipped.
func (a Axis) row(v float64, r image.Rectangle) int {
	return r.Max.Y - int(math.Floor(a.unit(v)*float64(r.Dy())+0.5))
}

// rateTicks returns the divisors of the refresh rate, then its multiples, most
// telling first.
func (d *Deck) rateTicks() []tick {
	var out []tick
	add := func(v float64, line bool) {
		if v >= d.rateAxis.Min && v <= d.rateAxis.Max {
			out = append(out, tick{v, short(v), line})
		}
	}
	if d.Unlocked {
		for _, step := range []float64{60, 30, 20, 10} {
			for v := step; v <= d.rateAxis.Max; v += step {
				add(v, true)
			}
		}
		add(d.rateAxis.Min, false)
		return out
	}
	hz := d.Refresh.Hz()
	add(hz, true)
	if top := math.Ceil(d.rateMax/10) * 10; d.rateMax > hz*1.05 && top < 2*hz {
		add(top, true) // what goes beyond the refresh has a scale too
	}
	for n := 2.0; n <= 4; n++ {
		add(hz/n, true)
	}
	for n := 2.0; n <= 8; n++ {
		add(hz*n, true)
	}
	add(d.rateAxis.Min, false)
	if len(out) < 2 {
		add(d.rateAxis.Max, true)
	}
	return out
}

// timeTicks returns the multiples of the refresh interval.
func (d *Deck) timeTicks() []tick {
	var out []tick
	for n := 1.0; n <= 64 && len(out) < mostTime/10; n++ {
		v := 1000 * n / d.Refresh.Hz()
		if d.Unlocked {
			v = 10 * n
		}
		if v > d.timeAxis.Min && v <= d.timeAxis.Max {
			out = append(out, tick{v, strconv.FormatFloat(v, 'f', 1, 64), true})
		}
	}
	if len(out) == 0 {
		out = append(out, tick{d.timeAxis.Max, short(d.timeAxis.Max), true},
			tick{d.timeAxis.Min, short(d.timeAxis.Min), false})
	}
	return out
}

// short writes a value with one decimal unless it is whole.
func short(v float64) string {
	if math.Abs(v-math.Round(v)) < 0.005 {
		return strconv.Itoa(int(math.Round(v)))
	}
	return strconv.FormatFloat(v, 'f', 1, 64)
}

// valueAxis draws gridlines over area and labels right-aligned in labels. Ticks
// come most telling first; one whose label would touch another's keeps its line alone, so
// that all clips of a file have the same lines.
func (d *Deck) valueAxis(c *canvas, f *fonts.Face, a Axis, ticks []tick, labels, area image.Rectangle) {
	box := f.CapHeight().Ceil()
	var taken []int
	thick := d.hairline()
	for _, t := range ticks {
		row := a.row(t.value, area)
		y := min(max(row, labels.Min.Y+box/2), labels.Max.Y-(box+1)/2)
		free := true
		for _, o := range taken {
			free = free && abs(o-y) >= box+max(2, box/3)
		}
		if t.line {
			c.fill(image.Rect(area.Min.X, row, area.Max.X, row+thick).Intersect(area), hair)
		}
		if !free {
			continue
		}
		taken = append(taken, y)
		c.text(f, image.Rect(labels.Min.X, y-box, labels.Max.X, y+box), right, t.label, soft)
	}
}

// hairline is the thickness of gridlines.
func (d *Deck) hairline() int { return max(1, int(d.em/20+0.5)) }

func abs(n int) int { return max(n, -n) }

// niceStep returns the least of a series of round steps, in seconds, that is at
// least s.
func niceStep(s float64) float64 {
	steps := []float64{0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600}
	for _, v := range steps {
		if v >= s {
			return v
		}
	}
	return 3600 * math.Ceil(s/3600)
}

// seconds writes a duration as "1.5 s".
func seconds(t time.Duration) string {
	return strconv.FormatFloat(t.Seconds(), 'f', -1, 64) + " s"
}

func raster(p image.Point) string { return fmt.Sprintf("%d × %d", p.X, p.Y) }
