// Package deck draws what a comparison shows besides its footage: name tabs,
// readouts, the frame-rate line, the frame-time graph, caption and clock.
//
// The pictures are raw planar YUV (BT.709, limited range, straight alpha), ready
// for the encoder. What stands still is drawn once; a frame is a copy of it, a
// few columns of the line, the treads, and digits from a cache.
package deck

import (
	"fmt"
	"image"
	"math/big"
	"time"

	"fairframe/fonts"
	"fairframe/layout"
	"fairframe/render/pacing"
)

// Capture is one capture's part in the deck.
type Capture struct {
	Name    string
	Detail  string        // optional second text of the name tab
	Raster  image.Point   // resolution the machine renders at; zero: not stated
	Base    Base          // what Raster is compared with
	Note    string        // scale of the pane, such as "3x, true pixels"; never dropped
	Sound   string        // how it is heard, such as "sound"; "": it is not, or there is one capture only
	Trace   *pacing.Trace // nil: nothing is known of its pacing
	Start   time.Duration // capture time of output frame 0
	Refresh pacing.Rate   // of the display it was recorded from; zero: that of the settings
	Style   int           // 1 to Styles: its colour and dash; 0: by its place in the list
}

// Axis is a range of values. The zero value lets the deck choose.
type Axis struct{ Min, Max float64 }

// good tells whether the axis is left open or a range that can be drawn.
func (a Axis) good() bool { return a == Axis{} || a.Min >= 0 && a.Max > a.Min && a.Max <= 1e6 }

// Settings says what to draw.
type Settings struct {
	Screen   layout.Screen
	Captures []Capture
	Caption  string
	Rate     pacing.Rate // of the output
	Frames   int         // of the output
	// Time says which instant of the scene each output frame shows. The clock, the
	// line and the treads follow the scene. Zero: frame k shows k/rate.
	Time pacing.TimeMap

	RateWindow time.Duration // over which the frame rate is the mean; 0: 1 s
	Trailing   bool          // the mean crosses the borders of spans; see [pacing.RateLine]
	TreadSpan  time.Duration // of the frame-time graph; 0: 1.5 s
	RateAxis   Axis          // in frames a second
	TimeAxis   Axis          // in milliseconds
	Refresh    pacing.Rate   // of the display the captures were made for; zero: 60 Hz
	// Unlocked says that a capture keeps to no refresh: gridlines then stand at round
	// numbers, and not at divisors and multiples of it.
	Unlocked bool
	Fonts    *fonts.Set // nil: the embedded fonts

	Labels []Label // what the screen's labels say, in their order
	Places []Frame // places marked in the output
	// OnScreen, if set, returns the index of the capture that is on screen at
	// output frame k; its name tab then stands out.
	OnScreen func(k int) int
}

// Deck draws the strip of a screen. It serves one goroutine at a time.
type Deck struct {
	Settings
	size     image.Point
	alpha    bool
	faces    faces
	em       float64
	warnings []string

	rateAxis, timeAxis Axis
	rateMax            float64 // highest frame rate of the scene
	// how much of the scene a page of the line holds, in frames at the output's rate
	pageFrames int
	static     *canvas
	current    *page
	readouts   []readout
	clock      *field
	pace       pace
	lines      []pacing.RateLine
	treads     *treads
	plates     []Plate
	lit        []planes // the tabs of captures on screen
	playhead   fx       // width
}

// faces are the type the deck is set in.
type faces struct {
	small, smallBold, name, rate, time, caption *fonts.Face
}

// New prepares a deck. It reports unusable settings and text with glyphs that
// no font has.
func New(s Settings) (*Deck, error) {
	if err := check(&s); err != nil {
		return nil, err
	}
	given := s.Screen.Strip
	sc := shift(s.Screen)
	s.Screen = sc
	d := &Deck{Settings: s, size: sc.Strip.Size(), em: float64(sc.Type.Small)}
	d.alpha = sc.Place != layout.Below
	origin := given.Min
	if sc.Strip.Empty() && len(sc.Labels) == 0 && len(s.Places) == 0 {
		return d, nil
	}
	if err := d.loadFaces(); err != nil {
		return nil, err
	}
	d.makePaceRoom()
	d.chooseAxes()
	d.playhead = fx(2*max(1, int(d.em/20+0.5))) * fxOne
	d.static = newCanvas(d.size)
	d.drawStatic()
	d.drawPlates(origin)
	if !sc.Deck.Empty() {
		d.pageFrames = pageFrames(d.sceneFrames(), s.Rate, s.RateWindow, sc.Line.Area.Dx(), d.em)
		d.newReadouts()
		d.newClock()
		d.newPace()
		d.treads = newTreads(d)
	}
	return d, nil
}

// maxSpan bounds rate window and tread span: more than that is not a moment.
const maxSpan = time.Minute

// check fills in defaults and refuses what cannot be drawn.
func check(s *Settings) error {
	n := len(s.Captures)
	if n != s.Screen.Captures {
		return fmt.Errorf("deck: %d captures for a screen of %d", n, s.Screen.Captures)
	}
	if len(s.Labels) != len(s.Screen.Labels) {
		return fmt.Errorf("deck: %d labels for %d", len(s.Labels), len(s.Screen.Labels))
	}
	if n > len(capture) {
		return fmt.Errorf("deck: %d captures (%d have a colour)", n, len(capture))
	}
	if !s.Rate.Valid() || s.Frames <= 0 {
		return fmt.Errorf("deck: %d frames at rate %v", s.Frames, s.Rate)
	}
	if s.RateWindow < 0 || s.TreadSpan < 0 {
		return fmt.Errorf("deck: negative span (rate window %v, treads %v)", s.RateWindow, s.TreadSpan)
	}
	if s.RateWindow > maxSpan || s.TreadSpan > maxSpan {
		return fmt.Errorf("deck: span over %v (rate window %v, treads %v)",
			maxSpan, s.RateWindow, s.TreadSpan)
	}
	if !s.RateAxis.good() {
		return fmt.Errorf("deck: rate axis from %v to %v", s.RateAxis.Min, s.RateAxis.Max)
	}
	if !s.TimeAxis.good() {
		return fmt.Errorf("deck: time axis from %v to %v", s.TimeAxis.Min, s.TimeAxis.Max)
	}
	if s.RateWindow == 0 {
		s.RateWindow = time.Second
	}
	if s.TreadSpan == 0 {
		s.TreadSpan = 1500 * time.Millisecond
	}
	if !s.Refresh.Valid() {
		s.Refresh = pacing.Rate{Num: 60, Den: 1}
	}
	if s.Fonts == nil {
		set, err := fonts.New()
		if err != nil {
			return err
		}
		s.Fonts = set
	}
	s.Captures = append([]Capture(nil), s.Captures...)
	if err := styles(s.Captures); err != nil {
		return err
	}
	for i, c := range s.Captures {
		for _, p := range []struct{ what, text string }{{"name", c.Name}, {"detail", c.Detail},
			{"note", c.Note}} {
			if err := s.Fonts.Missing(p.text); err != nil {
				return fmt.Errorf("deck: %s of capture %d (%q): %w", p.what, i+1, p.text, err)
			}
		}
	}
	if err := s.Fonts.Missing(s.Caption); err != nil {
		return fmt.Errorf("deck: caption (%q): %w", s.Caption, err)
	}
	return nil
}

// styles fills in what is left open and sees to it that no two captures look the
// same.
func styles(list []Capture) error {
	taken := map[int]bool{}
	for i := range list {
		if list[i].Style == 0 {
			list[i].Style = i + 1
		}
		n := list[i].Style
		if n < 1 || n > len(capture) || taken[n] {
			return fmt.Errorf("deck: style %d of capture %d (1 to %d, each once)", n, i+1, len(capture))
		}
		taken[n] = true
	}
	return nil
}

// style is the index of capture i's colour and dash.
func (d *Deck) style(i int) int { return d.Captures[i].Style - 1 }

// backing is the opacity of this deck's ground over footage.
func (d *Deck) backing() uint8 {
	most := 0
	for _, c := range d.Captures {
		most = max(most, c.Style)
	}
	return backing(most)
}

func (d *Deck) loadFaces() error {
	t := d.Screen.Type
	for _, f := range []struct {
		face  **fonts.Face
		style fonts.Style
		px    int
	}{
		{&d.faces.small, fonts.Regular, t.Small},
		{&d.faces.smallBold, fonts.Bold, t.Small},
		{&d.faces.name, fonts.Bold, t.Name},
		{&d.faces.rate, fonts.Bold, t.Rate},
		{&d.faces.time, fonts.Bold, t.Time},
		{&d.faces.caption, fonts.Regular, t.Time},
	} {
		face, err := d.Fonts.Face(f.style, float64(f.px))
		if err != nil {
			return err
		}
		*f.face = face
	}
	return nil
}

// Size returns the size of the strip in pixels, both even. It is zero when
// there is nothing to draw.
func (d *Deck) Size() image.Point { return d.size }

// Translucent reports whether footage shows through what is drawn: Draw then
// writes yuva420p with straight alpha, and yuv420p otherwise.
func (d *Deck) Translucent() bool { return d.alpha }

// FrameBytes returns the size of one frame in bytes.
func (d *Deck) FrameBytes() int { return frameBytes(d.size.X, d.size.Y, d.alpha) }

// Warnings tells what had to be shortened or left out to fit.
func (d *Deck) Warnings() []string { return append([]string(nil), d.warnings...) }

// Draw writes the strip at output frame k to dst, which holds at least
// FrameBytes bytes: the Y, U and V planes and, with alpha, the A plane. The
// picture depends on k alone. Frames outside the scene show its nearest one.
func (d *Deck) Draw(dst []byte, k int) {
	if d.FrameBytes() == 0 {
		return
	}
	k = min(max(k, 0), d.Frames-1)
	p := planesOf(dst[:d.FrameBytes()], d.size.X, d.size.Y, d.alpha)
	pg := d.page(k)
	copy(p.y, pg.bare.y)
	copy(p.u, pg.bare.u)
	copy(p.v, pg.bare.v)
	copy(p.a, pg.bare.a)
	d.light(&p, k)
	if d.Screen.Deck.Empty() {
		return
	}
	d.reveal(&p, pg, k)
	d.treads.draw(&p, k)
	d.drawReadouts(&p, k)
	d.drawClock(&p, k)
	d.drawPace(&p, k)
}

// Image returns the strip at output frame k as a picture: what Draw writes,
// converted to RGB.
func (d *Deck) Image(k int) *image.NRGBA {
	img := image.NewNRGBA(image.Rectangle{Max: d.size})
	buf := make([]byte, d.FrameBytes())
	d.Draw(buf, k)
	w, h := d.size.X, d.size.Y
	if w == 0 || h == 0 {
		return img
	}
	p := planesOf(buf, w, h, d.alpha)
	for y := range h {
		for x := range w {
			c := y/2*(w/2) + x/2
			o := img.Pix[img.PixOffset(x, y):][:4:4]
			o[0], o[1], o[2] = decode(p.y[y*w+x], p.u[c], p.v[c])
			o[3] = 255
			if d.alpha {
				o[3] = p.a[y*w+x]
			}
		}
	}
	return img
}

// sceneTime returns the instant of the scene that output frame k shows.
func (d *Deck) sceneTime(k int) time.Duration {
	if d.Time.Plain() {
		return d.Rate.TimeOf(int64(k))
	}
	return d.Time.SceneTime(int64(k))
}

// sceneFrames is how long the scene is, in frames at the output's rate.
func (d *Deck) sceneFrames() int {
	if d.Time.Plain() {
		return d.Frames
	}
	return int(d.Rate.FramesIn(d.Time.Length()))
}

// position is where output frame k stands in the scene, in frames at the output's
// rate: k itself, unless the scene is slowed, sped up or held.
func (d *Deck) position(k int) float64 {
	if d.Time.Plain() {
		return float64(k)
	}
	v, _ := new(big.Rat).Mul(d.Time.Scene(int64(k)), big.NewRat(d.Rate.Num, d.Rate.Den)).Float64()
	return v
}

// at returns capture i's time at output frame k.
func (d *Deck) at(i, k int) time.Duration { return d.Captures[i].Start + d.sceneTime(k) }

// end returns capture i's time when the scene ends.
func (d *Deck) end(i int) time.Duration {
	return d.Captures[i].Start + d.Rate.TimeOf(int64(d.sceneFrames()))
}

// rateAt returns the frame rate of capture i at an instant of the scene.
func (d *Deck) rateAt(i int, scene time.Duration) (float64, bool) {
	if d.Captures[i].Trace == nil {
		return 0, false
	}
	return d.lines[i].At(d.Captures[i].Start + scene)
}

// rateLine is a capture's frame-rate line; the zero one where nothing is known of its
// pacing.
func (s *Settings) rateLine(c Capture, window time.Duration) pacing.RateLine {
	if c.Trace == nil {
		return pacing.RateLine{}
	}
	if s.Trailing {
		return c.Trace.TrailingRate(window)
	}
	if !c.Refresh.Valid() {
		c.Refresh = s.Refresh
	}
	return c.Trace.SpanRate(window, c.Refresh)
}

// meanText says what the line is a mean of.
func (s *Settings) meanText(window time.Duration) string {
	if s.Trailing {
		return "trailing mean of " + seconds(window)
	}
	return "mean of " + seconds(window) + " within spans"
}

// frameTimeAt returns the time of capture i's frame on screen at output frame
// k, if it has one.
func (d *Deck) frameTimeAt(i, k int) (time.Duration, bool) {
	t := d.Captures[i].Trace
	if t == nil {
		return 0, false
	}
	f, ok := t.At(d.at(i, k))
	return f.Time, ok && f.Kind == pacing.Normal
}

func (d *Deck) warn(format string, args ...any) {
	d.warnings = append(d.warnings, fmt.Sprintf(format, args...))
}

// shift moves a screen so that the strip's corner is the origin.
func shift(s layout.Screen) layout.Screen { return s.Sub(s.Strip.Min) }
