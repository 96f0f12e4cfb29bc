package deck

import (
	"fmt"
	"image"
	"math"
	"time"

	"github.com/fogleman/gg"
	"golang.org/x/image/math/fixed"

	"fairframe/render/pacing"
)

// page is a stretch of the scene in the frame-rate graph: the whole strip
// without the line, and the graph with the line as it will have been drawn when
// the page ends.
type page struct {
	index int
	bare  planes
	full  planes
	r     image.Rectangle // of full, even
}

// pageFrames returns how many output frames a page holds: all of them, or as
// many as keep what the rate line can show (nothing shorter than its window)
// wide enough to see.
func pageFrames(frames int, rate pacing.Rate, window time.Duration, width int, em float64) int {
	perWindow := 0.6 * em
	most := float64(width) / perWindow * max(window.Seconds(), 0.25)
	if float64(frames) <= most*rate.Hz() {
		return frames
	}
	nice := 1.0
	for _, s := range []float64{2, 5, 10, 15, 20, 30, 45, 60, 90, 120, 180, 300, 600, 1200, 1800, 3600} {
		if s <= most {
			nice = s
		}
	}
	return min(frames, max(1, int(rate.FramesIn(time.Duration(nice*float64(time.Second))))))
}

// pages returns how many there are.
func (d *Deck) pages() int { return (d.sceneFrames() + d.pageFrames - 1) / d.pageFrames }

// page returns the page that output frame k is on; the last one is kept.
func (d *Deck) page(k int) *page {
	index := 0
	if d.pageFrames > 0 {
		index = int(d.position(k)) / d.pageFrames
	}
	if d.current == nil || d.current.index != index {
		d.current = d.newPage(index)
	}
	return d.current
}

func (d *Deck) newPage(index int) *page {
	pg := &page{index: index}
	all := image.Rectangle{Max: d.size}
	if d.Screen.Deck.Empty() {
		pg.bare = d.static.planes(all, d.alpha)
		return pg
	}
	c := d.static.clone()
	d.drawPageAxis(c, index)
	pg.bare = c.planes(all, d.alpha)
	lw := d.lineWidth()
	area := d.Screen.Line.Area
	pad := int(lw/2) + 1
	pg.r = even(image.Rect(area.Min.X, area.Min.Y-pad, area.Max.X, area.Max.Y+pad)).Intersect(all)
	// Solid lies below, dashes over it, dots on top: where lines coincide, each
	// shows through the gaps of the next.
	for style := range capture {
		for i := range d.Captures {
			if d.style(i) == style {
				c.over(d.lineMask(pg, i), capture[style])
			}
		}
	}
	pg.full = c.planes(pg.r, d.alpha)
	return pg
}

// even grows a rectangle to even edges.
func even(r image.Rectangle) image.Rectangle {
	return image.Rect(r.Min.X&^1, r.Min.Y&^1, (r.Max.X+1)&^1, (r.Max.Y+1)&^1)
}

func (d *Deck) lineWidth() float64 { return max(2, 0.18*d.em) }

// lineX returns where a position in the scene stands in the graph of its page.
func (d *Deck) lineX(position float64) float64 {
	a := d.Screen.Line.Area
	return float64(a.Min.X) + math.Mod(position, float64(d.pageFrames))*float64(a.Dx())/float64(d.pageFrames)
}

// lineMask strokes capture i's line over a page. It breaks where the log has no
// value.
func (d *Deck) lineMask(pg *page, i int) *image.Alpha {
	line := d.lineStroke(pg, i, d.lineWidth())
	first := pg.index * d.pageFrames
	area := d.Screen.Line.Area
	per := float64(d.pageFrames) / float64(area.Dx())
	doubtful := func(x int) bool {
		k := first + int(float64(x-area.Min.X)*per)
		return k >= first && k < d.sceneFrames() &&
			d.lines[i].Doubt(d.Captures[i].Start+d.Rate.TimeOf(int64(k))).Uncertain()
	}
	if d.doubtOf(i).Time > 0 {
		thin(line, d.lineStroke(pg, i, thinLine*d.lineWidth()), doubtful)
	}
	return line
}

// lineStroke strokes the line in some width.
func (d *Deck) lineStroke(pg *page, i int, lw float64) *image.Alpha {
	area := d.Screen.Line.Area
	first := pg.index * d.pageFrames
	last := min(first+d.pageFrames, d.sceneFrames()) - 1
	return shape(pg.r, func(dc *gg.Context) {
		dc.SetLineWidth(lw)
		dc.SetLineCapButt()
		dc.SetLineJoinRound()
		var pattern []float64
		for _, v := range dashes[d.style(i)] {
			pattern = append(pattern, v*d.em/10)
		}
		dc.SetDash(pattern...)
		open := false
		for k := first; k <= last; k++ {
			v, ok := d.rateAt(i, d.Rate.TimeOf(int64(k)))
			if !ok {
				open = false
				continue
			}
			x := d.lineX(float64(k))
			// Gridlines hang below their row, so the line's middle is lowered
			// by half a gridline to lie on them.
			y := float64(area.Max.Y) - d.rateAxis.unit(v)*float64(area.Dy()) + float64(d.hairline())/2
			y = min(max(y, -1e4), 1e4)
			if !open {
				dc.MoveTo(x, y)
				open = true
			} else {
				dc.LineTo(x, y)
			}
		}
		dc.Stroke()
	})
}

// drawPageAxis draws title and time labels of a page.
func (d *Deck) drawPageAxis(c *canvas, index int) {
	l := d.Screen.Line
	c.text(d.faces.small, l.Title, left, d.lineTitle(index), soft)
	hz := d.Rate.Hz()
	from := float64(index*d.pageFrames) / hz
	length := float64(d.pageFrames) / hz
	perSecond := float64(l.Area.Dx()) / length
	widest := d.faces.small.Measure(short(from+length) + ".0 s")
	step := niceStep((float64(widest)/64 + 1.2*d.em) / perSecond)
	h := d.hairline()
	for n := math.Ceil(from/step - 1e-6); n*step <= from+length+1e-6; n++ {
		x := float64(l.Area.Min.X) + (n*step-from)*perSecond
		xi := min(int(x+0.5), l.Area.Max.X-h)
		c.fill(image.Rect(xi, l.Area.Max.Y, xi+h, l.Area.Max.Y+h*4), hair)
		label := short(n*step) + " s"
		w := d.faces.small.Measure(label)
		at := fixed.Int26_6(x*64) - w/2
		at = min(max(at, fixed.I(l.Times.Min.X)), fixed.I(l.Times.Max.X)-w)
		c.textAt(d.faces.small, at, l.Times, left, label, soft)
	}
}

// lineTitle says what the graph shows: how much of the scene, and that the line
// is a mean. It takes the longest wording that fits.
func (d *Deck) lineTitle(index int) string {
	where := "whole scene"
	if n := d.pages(); n > 1 {
		where = fmt.Sprintf("page %d of %d", index+1, n)
	}
	room := fixed.I(d.Screen.Line.Title.Dx())
	means := d.lineMeans()
	for _, mean := range means {
		for _, t := range []string{
			fmt.Sprintf("Frame rate, %s (%s)", where, mean),
			fmt.Sprintf("Rate, %s (%s)", where, mean),
			fmt.Sprintf("Frame rate (%s)", mean),
			fmt.Sprintf("Rate (%s)", mean),
		} {
			if d.faces.small.Measure(t) <= room {
				return t
			}
		}
	}
	t, _ := d.faces.small.Fit(means[len(means)-1], room)
	return t
}

// reveal copies the line up to the playhead and draws the playhead.
func (d *Deck) reveal(p *planes, pg *page, k int) {
	area := d.Screen.Line.Area
	at := fx(math.Floor(d.lineX(d.position(k))*256 + 0.5))
	// The column the playhead stands in is hidden by it, being at least two
	// pixels wide; everything right of it is still to come.
	p.copyColumns(&pg.full, pg.r, int(at>>8))
	over := int(0.25 * d.em)
	p.bar(at-d.playhead/2, at+d.playhead/2, area.Min.Y-over, area.Max.Y+over, encode(bright))
}
