package deck

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"math"
	"strings"
	"time"

	"fairframe/fonts"
	"fairframe/layout"
	"fairframe/render/pacing"
)

// ChartSettings says what a chart shows: the frame-rate line and the frame times
// of a whole scene, as a still for an article.
type ChartSettings struct {
	Size     image.Point   // in pixels; an SVG scales from there
	Title    string        // what the scene is
	Captures []Capture     // Note is not shown
	Length   time.Duration // of the scene
	Rate     pacing.Rate   // of the output: how often the line is looked at

	RateWindow time.Duration // over which the frame rate is the mean; 0: 1 s
	Trailing   bool          // as in Settings
	RateAxis   Axis          // in frames a second
	TimeAxis   Axis          // in milliseconds
	Refresh    pacing.Rate   // of the display; zero: 60 Hz
	Unlocked   bool          // a capture keeps to no refresh, see Settings
	Fonts      *fonts.Set    // nil: the embedded fonts
}

// Chart is a still with axes, drawn in the deck's style. It serves one goroutine
// at a time.
type Chart struct {
	ChartSettings
	deck     *Deck // for its axes; it draws nothing
	em       float64
	types    *typecase
	warnings []string

	small, bold, name, title typeface

	heading   []chartText
	legend    []legendEntry
	rateTitle float64 // the middle of the line's title
	rate      image.Rectangle
	lanes     []chartLane
	band      time.Duration // length of a step of the range; 0: single treads
	gap       float64       // between treads
}

type chartText struct {
	t    typeface
	x, y float64
	text string
}

type legendEntry struct {
	swatch image.Rectangle
	words  []chartText // the name, then what is known of the picture
}

type chartLane struct {
	title float64 // its middle
	area  image.Rectangle
}

// NewChart prepares a chart. It reports what cannot be drawn. Glyphs that no font
// has are an error of PNG and Image only, because an SVG is set by its viewer's
// fonts.
func NewChart(s ChartSettings) (*Chart, error) {
	if s.Size.X < layout.MinSide || s.Size.Y < layout.MinSide || s.Size.X > layout.MaxSide ||
		s.Size.Y > layout.MaxSide {
		return nil, fmt.Errorf("deck: chart of %dx%d pixels (%d to %d a side)",
			s.Size.X, s.Size.Y, layout.MinSide, layout.MaxSide)
	}
	n := len(s.Captures)
	if n == 0 || n > len(capture) {
		return nil, fmt.Errorf("deck: chart of %d captures (1 to %d)", n, len(capture))
	}
	if s.Length <= 0 || !s.Rate.Valid() {
		return nil, fmt.Errorf("deck: chart of %v at rate %v", s.Length, s.Rate)
	}
	if s.RateWindow < 0 || s.RateWindow > maxSpan {
		return nil, fmt.Errorf("deck: rate window %v (up to %v)", s.RateWindow, maxSpan)
	}
	if !s.RateAxis.good() || !s.TimeAxis.good() {
		return nil, fmt.Errorf("deck: axes from %v to %v fps and %v to %v ms",
			s.RateAxis.Min, s.RateAxis.Max, s.TimeAxis.Min, s.TimeAxis.Max)
	}
	if s.RateWindow == 0 {
		s.RateWindow = time.Second
	}
	if !s.Refresh.Valid() {
		s.Refresh = pacing.Rate{Num: 60, Den: 1}
	}
	if s.Fonts == nil {
		set, err := fonts.New()
		if err != nil {
			return nil, err
		}
		s.Fonts = set
	}
	s.Captures = append([]Capture(nil), s.Captures...)
	if err := styles(s.Captures); err != nil {
		return nil, err
	}
	c := &Chart{ChartSettings: s, em: stillEm(s.Size)}
	c.small = typeface{px: c.em}
	c.bold = typeface{bold: true, px: c.em}
	c.name = typeface{bold: true, px: math.Round(1.2 * c.em)}
	c.title = typeface{bold: true, px: math.Round(1.4 * c.em)}
	var err error
	if c.types, err = newTypecase(s.Fonts, c.small, c.bold, c.name, c.title); err != nil {
		return nil, err
	}
	c.deck = &Deck{Settings: Settings{Captures: s.Captures, Rate: s.Rate,
		Frames:     int(s.Rate.FramesIn(s.Length)),
		RateWindow: s.RateWindow, Trailing: s.Trailing, RateAxis: s.RateAxis, TimeAxis: s.TimeAxis,
		Refresh: s.Refresh, Unlocked: s.Unlocked}, em: c.em}
	c.deck.chooseAxes()
	c.arrange()
	c.chooseBand()
	return c, nil
}

// stillEm is the size of the smallest text of a still, as layout has it for the
// deck: at least 1/60 of the height, a little more where there is room.
func stillEm(size image.Point) float64 {
	if 4*size.X <= 3*size.Y {
		return float64((size.Y + 59) / 60)
	}
	return float64((size.Y + 53) / 54)
}

// Warnings tells what had to be shortened or left out to fit.
func (c *Chart) Warnings() []string { return append([]string(nil), c.warnings...) }

func (c *Chart) warn(format string, args ...any) {
	c.warnings = append(c.warnings, fmt.Sprintf(format, args...))
}

// Image draws the chart as a picture.
func (c *Chart) Image() (*image.NRGBA, error) {
	for _, text := range append([]string{c.Title}, c.texts()...) {
		if err := c.Fonts.Missing(text); err != nil {
			return nil, fmt.Errorf("deck: chart (%q): %w", text, err)
		}
	}
	r := picture{newCanvas(c.Size), c.types}
	c.draw(r)
	return r.img, nil
}

// PNG draws the chart as a PNG file.
func (c *Chart) PNG() ([]byte, error) {
	img, err := c.Image()
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	enc := png.Encoder{CompressionLevel: png.BestCompression}
	err = enc.Encode(&out, img)
	return out.Bytes(), err
}

// SVG draws the chart as an SVG file. Its error is always nil, and there because
// callers choose between SVG and PNG.
func (c *Chart) SVG() ([]byte, error) {
	d := &drawing{size: c.Size}
	c.draw(d)
	var names []string
	for _, capture := range c.Captures {
		names = append(names, capture.Name)
	}
	return d.document(c.Title, fmt.Sprintf("Frame rate (%s) and frame times of %s over %s",
		c.deck.meanText(c.lineWindow()), strings.Join(names, ", "), seconds(c.Length))), nil
}

// texts are the user's texts.
func (c *Chart) texts() []string {
	var out []string
	for _, capture := range c.Captures {
		out = append(out, capture.Name, capture.Detail)
	}
	return out
}

// arrange places everything, from top to bottom.
func (c *Chart) arrange() {
	em := c.em
	px := func(ems float64) int { return int(ems*em + 0.5) }
	page := image.Rectangle{Max: c.Size}.Inset(px(1.5))
	y := page.Min.Y
	if c.Title != "" {
		title, short := c.types.wrap(c.title, c.Title, float64(page.Dx()), headingLines(c.Size))
		if short {
			c.warn("title shortened to %q", strings.Join(title, " "))
		}
		for _, line := range title {
			c.heading = append(c.heading,
				chartText{c.title, float64(page.Min.X), c.types.below(c.title, float64(y)+0.9*em), line})
			y += px(2.2)
		}
	}
	y = c.arrangeLegend(page, y) + px(1.0)

	values := 0.0
	for _, t := range append(c.deck.rateTicks(), c.deck.timeTicks()...) {
		values = max(values, c.types.width(c.small, t.label))
	}
	x0 := page.Min.X + int(math.Ceil(values)) + px(0.6)
	x1 := page.Max.X - px(0.5)
	// Below every graph: the time labels under the last one, and its axis title.
	bottom := page.Max.Y - px(3.0)
	n := len(c.Captures)
	titles := px(2.0)
	between := px(0.7)
	room := bottom - y - (n+1)*titles - n*between
	rate := room * 46 / 100
	if n == 1 {
		rate = room / 2
	}
	lane := (room - rate) / n
	c.rateTitle = float64(y) + 0.9*em
	y += titles
	c.rate = image.Rect(x0, y, x1, y+rate)
	y += rate
	for range n {
		y += between
		title := float64(y) + 0.9*em
		y += titles
		c.lanes = append(c.lanes, chartLane{title, image.Rect(x0, y, x1, y+lane)})
		y += lane
	}
}

// arrangeLegend places swatch, name and what is known of the picture of each
// capture one after the other, in as many rows as it takes, and returns where
// they end.
func (c *Chart) arrangeLegend(page image.Rectangle, y int) int {
	em := c.em
	row := int(1.9 * em)
	x := float64(page.Min.X)
	swatch := math.Round(2.4 * em)
	for i, capture := range c.Captures {
		var parts []string
		if capture.Detail != "" {
			parts = append(parts, capture.Detail)
		}
		if r := capture.Raster; r.X > 0 && r.Y > 0 {
			text := raster(r)
			if ratio, _ := capture.Base.ratio(r); ratio != "" {
				text += " · " + ratio
			}
			parts = append(parts, text)
		}
		about := strings.Join(parts, " · ")
		lead := swatch + 0.7*em
		width := func(name, about string) float64 {
			w := lead + c.types.width(c.name, name)
			if about != "" {
				w += 0.7*em + c.types.width(c.small, about)
			}
			return w
		}
		name := capture.Name
		most := float64(page.Dx())
		if width(name, about) > most {
			var short bool
			if name, short = c.types.fit(c.name, name, most-lead); short {
				c.warn("name of capture %d shortened to %q", i+1, name)
			}
			left := most - width(name, "") - 0.7*em
			if cut, short := c.types.fit(c.small, about, left); short {
				c.warn("the text about capture %d shortened to %q", i+1, cut)
				about = cut
			}
		}
		if x > float64(page.Min.X) && x+width(name, about) > float64(page.Max.X) {
			x = float64(page.Min.X)
			y += row
		}
		mid := float64(y) + 0.8*em
		thick := max(2, int(0.3*em+0.5))
		top := int(mid) - thick/2
		e := legendEntry{swatch: image.Rect(int(x), top, int(x+swatch), top+thick)}
		base := c.types.below(c.name, mid)
		e.words = append(e.words, chartText{c.name, x + lead, base, name})
		if about != "" {
			e.words = append(e.words, chartText{c.small, x + lead + c.types.width(c.name, name) + 0.7*em,
				base, about})
		}
		c.legend = append(c.legend, e)
		x += width(name, about) + 2.4*em
	}
	return y + row
}

// x returns where a time of the scene stands.
func (c *Chart) x(t time.Duration) float64 {
	return float64(c.rate.Min.X) + float64(t)/float64(c.Length)*float64(c.rate.Dx())
}

// draw draws the chart from back to front.
func (c *Chart) draw(s surface) {
	s.boxes("ground", []box{boxOf(image.Rectangle{Max: c.Size})}, ground)
	for _, h := range c.heading {
		s.text(h.t, h.x, h.y, left, h.text, bright)
	}
	for i, e := range c.legend {
		c.swatch(s, e.swatch, i)
		for j, w := range e.words {
			colour := bright
			if j > 0 {
				colour = soft
			}
			s.text(w.t, w.x, w.y, left, w.text, colour)
		}
	}
	c.drawGround(s)
	c.drawTimeAxis(s)
	c.drawLines(s)
	for i := range c.Captures {
		c.drawLane(s, i)
	}
}

// swatch draws a piece of capture i's line along r.
func (c *Chart) swatch(s surface, r image.Rectangle, i int) {
	style := c.Captures[i].Style - 1
	y := float64(r.Min.Y+r.Max.Y) / 2
	s.lines("", [][]point{{{float64(r.Min.X), y}, {float64(r.Max.X), y}}},
		pen{float64(r.Dy()), fitDash(dashes[style], c.em/10, float64(r.Dx())), capture[style]})
}

// drawGround draws the graphs' grounds, gridlines, value labels and titles.
func (c *Chart) drawGround(s surface) {
	x := float64(c.rate.Min.X)
	s.boxes("", []box{boxOf(c.rate)}, well)
	c.values(s, c.deck.rateAxis, c.deck.rateTicks(), c.rate)
	s.text(c.bold, x, c.types.below(c.bold, c.rateTitle), left, "Frame rate (fps)", bright)
	s.text(c.small, x+c.types.width(c.bold, "Frame rate (fps)")+0.6*c.em, c.types.below(c.bold, c.rateTitle),
		left, c.lineNote(), soft)
	for i, l := range c.lanes {
		s.boxes("", []box{boxOf(l.area)}, well)
		c.values(s, c.deck.timeAxis, c.deck.timeTicks(), l.area)
		c.laneTitle(s, i)
	}
}

// values draws gridlines and value labels; a tick whose label would touch that
// of a more telling one is left out.
func (c *Chart) values(s surface, a Axis, ticks []tick, area image.Rectangle) {
	height := float64(c.types.faces[c.small].CapHeight()) / 64
	thick := float64(c.deck.hairline())
	var taken []float64
	var grid []box
	for _, t := range ticks {
		y := float64(a.row(t.value, area))
		free := true
		for _, o := range taken {
			free = free && math.Abs(o-y) >= 1.4*height
		}
		if !free {
			continue
		}
		taken = append(taken, y)
		if t.line {
			grid = append(grid, box{float64(area.Min.X), y, float64(area.Max.X), y + thick})
		}
		s.text(c.small, float64(area.Min.X)-0.6*c.em, c.types.below(c.small, y), right, t.label, soft)
	}
	s.boxes("", grid, hair)
}

// drawTimeAxis draws the time labels below the last graph and a line through all
// graphs at each.
func (c *Chart) drawTimeAxis(s surface) {
	length := c.Length.Seconds()
	perSecond := float64(c.rate.Dx()) / length
	step := niceStep((c.types.width(c.small, short(length)+".0") + 1.6*c.em) / perSecond)
	thick := float64(c.deck.hairline())
	foot := c.lanes[len(c.lanes)-1].area.Max.Y
	areas := []image.Rectangle{c.rate}
	for _, l := range c.lanes {
		areas = append(areas, l.area)
	}
	base := c.types.below(c.small, float64(foot)+0.95*c.em)
	var grid []box
	for n := 0; float64(n)*step <= length+1e-9; n++ {
		t := float64(n) * step
		x := float64(c.rate.Min.X) + t*perSecond
		at := min(math.Round(x), float64(c.rate.Max.X)-thick)
		for _, a := range areas {
			grid = append(grid, box{at, float64(a.Min.Y), at + thick, float64(a.Max.Y)})
		}
		grid = append(grid, box{at, float64(foot), at + thick, float64(foot) + 0.25*c.em})
		s.text(c.small, x, base, centre, short(t), soft)
	}
	s.boxes("", grid, hair)
	for _, a := range areas {
		s.boxes("", []box{{float64(a.Min.X), float64(a.Max.Y), float64(a.Max.X), float64(a.Max.Y) + thick}},
			hair)
	}
	s.text(c.bold, float64(c.rate.Max.X), c.types.below(c.bold, float64(foot)+2.4*c.em), right,
		"Time from the scene's start (s)", bright)
}
