package render

import (
	"fmt"
	"image"
	"math"
	"slices"
	"strings"

	"fairframe/fonts"
	"fairframe/layout"
	"fairframe/render/comparison"
	"fairframe/render/deck"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
	"fairframe/render/wipe"
)

// composition is how a scene fills the output: the screen, and for each of its
// panes what it shows.
type composition struct {
	screen   layout.Screen
	panes    []graph.Pane
	dividers []image.Rectangle
	wipe     *graph.Matte
	// windows are the captures' windows as panes of their own, for pictures of
	// one capture alone; Leg is -1 where the scene does not show one.
	windows []graph.Pane
	sizes   []image.Point // of the captures
	labels  []deck.Label
	places  []markedPlace
	notes   []string        // of each capture: what its tab may not drop
	shown   func(k int) int // which capture is on screen at frame k; nil: all are
	// noteOnly: names were to be left away, but that a picture is not one to one
	// may not, so its tab is there for the note alone.
	noteOnly bool
	warnings []string
}

var places = map[string]layout.Place{
	comparison.DeckBelow: layout.Below, comparison.DeckOver: layout.Over, comparison.DeckNone: layout.None,
}

// specOf says what screen a scene needs.
func (p *Project) specOf(s *comparison.Scene, captures []sceneCapture) layout.Spec {
	view, _ := layout.ParseView(s.View) // the file's reader knows no others
	spec := layout.Spec{
		Size: p.File.Output.Size, Captures: len(s.Captures), View: view, Place: places[s.Deck.Place],
		Tabs: s.Deck.Tabs, Caption: s.Caption != "" && s.Deck.Place != comparison.DeckNone,
		Over: s.Inset.Over, Alone: s.Difference.Alone, Lying: s.Wipe.Angle > 45 || s.Wipe.Angle < -45,
	}
	main := s.Single
	if s.View == comparison.ViewInset {
		main = s.Inset.Whole
	}
	if i := slices.Index(s.Captures, main); i >= 0 {
		spec.Main = i
		spec.Shape = captures[i].probed.DisplaySize()
		// Windows that lie over the picture keep away from what they magnify: at
		// the right of a wide picture, at the foot of a narrow one.
		if w := s.Window[main]; !w.Whole {
			spec.Opposite = middle(w, 3*spec.Size.X < 4*spec.Size.Y) > 0.5
		}
	}
	return spec
}

// middle is where a window looks across, or down, as a fraction of the capture; of
// one that moves, in the middle between its extremes.
func middle(w comparison.Window, down bool) float64 {
	of := func(p comparison.Point) float64 {
		if down {
			return p.Y.Float()
		}
		return p.X.Float()
	}
	if len(w.Moves) == 0 {
		return of(w.Center)
	}
	least, most := 1.0, 0.0
	for _, m := range w.Moves {
		least, most = min(least, of(m.Center)), max(most, of(m.Center))
	}
	return (least + most) / 2
}

// compose solves the screen of a scene and cuts its windows, for an output of
// that rate and so many frames.
func (p *Project) compose(s *comparison.Scene, captures []sceneCapture, rate pacing.Rate,
	frames int64) (composition, error) {
	spec := p.specOf(s, captures)
	c, err := shoot(spec, s, captures, rate, frames)
	if err != nil || spec.Tabs || !c.needsTabs() {
		return c, err
	}
	spec.Tabs = true
	c, err = shoot(spec, s, captures, rate, frames)
	c.noteOnly = true
	return c, err
}

// needsTabs reports whether a pane that no label names is not one to one.
func (c *composition) needsTabs() bool {
	for i, p := range c.screen.Panes {
		labelled := slices.ContainsFunc(c.screen.Labels, func(l layout.Label) bool { return l.Pane == i })
		if !labelled && (c.windows[p.Capture].Glide != nil || !c.windows[p.Capture].Shot.OneToOne()) {
			return true
		}
	}
	return false
}

// shoot solves a screen and works out what each pane shows of its capture.
func shoot(spec layout.Spec, s *comparison.Scene, captures []sceneCapture, rate pacing.Rate,
	frames int64) (composition, error) {
	screen, err := layout.Solve(spec)
	if err != nil {
		return composition{}, err
	}
	c := composition{screen: screen, dividers: screen.Dividers, notes: make([]string, len(captures))}
	if screen.Place != spec.Place {
		c.warnings = append(c.warnings,
			fmt.Sprintf("deck: place over would hide the lowest capture of view %s; it is drawn below",
				spec.View))
	}
	shot := func(i int, w comparison.Window, area image.Rectangle) (graph.Pane, error) {
		one := captures[i]
		seen := area.Dy()
		if screen.Place == layout.Over {
			seen = screen.Strip.Min.Y - area.Min.Y
		}
		shot, err := windowOf(w).Shoot(one.probed.DisplaySize(), area.Size(), spec.Size)
		if err != nil {
			return graph.Pane{}, fmt.Errorf("scene %s, capture %s: %w", s.ID, one.Key, err)
		}
		shot = shot.Raised(seen)
		shot.PixelX, shot.PixelY = one.probed.SampleAspect()
		glide, err := glideOf(s, w, one, area.Size(), spec.Size, seen, rate)
		if err != nil {
			return graph.Pane{}, fmt.Errorf("scene %s, capture %s: %w", s.ID, one.Key, err)
		}
		return graph.Pane{Input: i, Shot: shot, Glide: glide, Kernel: w.Kernel, Area: area}, nil
	}
	for _, one := range captures {
		c.sizes = append(c.sizes, one.probed.DisplaySize())
		c.windows = append(c.windows, graph.Pane{Input: -1})
	}
	for _, area := range screen.Panes {
		w := s.Window[captures[area.Capture].Key]
		if area.Role == layout.AsWhole {
			w.Whole, w.Moves = true, nil
		}
		pane, err := shot(area.Capture, w, area.Area)
		if err != nil {
			return composition{}, err
		}
		if area.Role == layout.AsMinus {
			less, err := shot(area.Other, s.Window[captures[area.Other].Key], area.Area)
			if err != nil {
				return composition{}, err
			}
			pane.Subtrahend = &graph.Subtrahend{Input: area.Other, Shot: less.Shot, Glide: less.Glide, Kernel: less.Kernel,
				Gain: layout.Fraction(s.Difference.Gain), Colour: s.Difference.Colour}
		}
		c.panes = append(c.panes, pane)
		// Of a difference alone, the windows are those it is made of.
		for _, one := range []graph.Pane{pane, lessPane(pane)} {
			if one.Input >= 0 && area.Role != layout.AsWhole && c.windows[one.Input].Input < 0 {
				one.Subtrahend = nil
				c.windows[one.Input] = one
			}
		}
	}
	for i, w := range c.windows {
		if w.Input >= 0 {
			c.notes[i] = paneNote(w)
		}
	}
	c.label(s, captures)
	switch s.View {
	case comparison.ViewSingle:
		c.shown = func(int) int { return spec.Main }
	case comparison.ViewInset:
		c.markPlaces(spec.Main, frames)
	case comparison.ViewWipe:
		c.addWipe(s, rate)
	case comparison.ViewAlternate:
		c.addTurns(s, rate, frames)
	}
	return c, nil
}

// lessPane is the other half of a difference; its leg is -1 where there is none.
func lessPane(p graph.Pane) graph.Pane {
	if p.Subtrahend == nil {
		return graph.Pane{Input: -1}
	}
	return graph.Pane{Input: p.Subtrahend.Input, Shot: p.Subtrahend.Shot, Glide: p.Subtrahend.Glide, Kernel: p.Subtrahend.Kernel,
		Area: p.Area}
}

// label says what the panes are that no tab names.
func (c *composition) label(s *comparison.Scene, captures []sceneCapture) {
	for _, l := range c.screen.Labels {
		pane, area := c.panes[l.Pane], c.screen.Panes[l.Pane]
		note := paneNote(pane)
		text := deck.Label{Capture: area.Capture, Note: note}
		switch area.Role {
		case layout.AsMinus:
			of := "luma"
			if s.Difference.Colour {
				of = "colour"
			}
			text.Note = fmt.Sprintf("difference of %s x%s",
				of, shortDecimal(layout.Fraction(s.Difference.Gain).Rat()))
			// The scales come first, so that long names cannot push them out.
			one, other := captures[area.Capture].Name, captures[area.Other].Name
			switch second := paneNote(lessPane(pane)); {
			case note == second && note != "":
				text.Note += ", both " + note
			case note != second:
				text.Note += fmt.Sprintf(", %s and %s", orOne(note), orOne(second))
			}
			if s.Deck.Tabs && (len(captures) > 2 || s.Difference.Alone) {
				text.Note += ", " + one + " and " + other
			}
		default:
			if s.Deck.Tabs {
				text.Name = captures[area.Capture].Name
			}
			if area.Role == layout.AsWhole && (note != "" || s.Deck.Tabs) {
				text.Note = strings.TrimSpace("whole " + note)
			}
		}
		c.labels = append(c.labels, text)
	}
}

// orOne names a scale that has no note.
func orOne(note string) string {
	if note == "" {
		return "1x"
	}
	return note
}

// markPlaces frames, in the whole capture, what the windows show: once where it
// is the same part of the picture for all of them. The frame of a window that moves
// goes with it.
func (c *composition) markPlaces(main int, frames int64) {
	whole := c.panes[0]
	avoid := c.lying()
	if c.screen.Place == layout.Over {
		avoid = append(avoid, c.screen.Strip)
	}
	var seen []func(k int64) box
	for i, w := range c.windows {
		if w.Input < 0 {
			continue
		}
		at := placeOf(w, c.sizes[i], whole, c.sizes[main])
		if slices.ContainsFunc(seen,
			func(o func(k int64) box) bool { return nearThroughout(o, at, frames) }) {
			continue
		}
		seen = append(seen, at)
		c.places = append(c.places, markedPlace{capture: i, moves: w.Glide != nil, at: at, within: whole.Area,
			avoid: avoid})
	}
	if len(c.places) == 1 {
		c.places[0].capture = -1
	}
}

// markedPlace is what a window shows, as it lies in the picture of the whole capture.
type markedPlace struct {
	capture int // whose line it is framed with; -1: all of them show it
	moves   bool
	at      func(k int64) box
	within  image.Rectangle
	avoid   []image.Rectangle
}

// frame is a place that stands still, in whole pixels.
func (p markedPlace) frame() deck.Frame {
	b := p.at(0)
	n := func(v float64) int { return int(math.Round(v)) }
	return deck.Frame{Area: image.Rect(n(b.x0), n(b.y0), n(b.x1), n(b.y1)), Capture: p.capture,
		Within: p.within, Avoid: p.avoid}
}

// addPlace draws the frame of a place that moves.
func (plan *Plan) addPlace(one markedPlace, set *fonts.Set, shown []deck.Capture) error {
	mark := func(k int64) deck.Mark {
		b := one.at(k)
		m := deck.Mark{Shape: deck.Box, X0: b.x0, Y0: b.y0, X1: b.x1, Y1: b.y1}
		if one.capture >= 0 {
			if m.Style = shown[one.capture].Style; m.Style == 0 {
				m.Style = one.capture + 1
			}
		}
		return m
	}
	s := deck.MarkSettings{Size: plan.Clip.Size, Area: one.within, Avoid: one.avoid, Fonts: set}
	drawn, err := deck.NewMoving(s, 0, plan.Clip.Frames, func(int64) bool { return true }, mark)
	if err == nil && !drawn.Bounds().Empty() {
		plan.Clip.Layers = append(plan.Clip.Layers,
			graph.Layer{Kind: graph.Alpha, Area: drawn.Bounds(), Draw: drawn.Draw})
	}
	return err
}

// box is a rectangle of the output, to fractions of a pixel.
type box struct{ x0, y0, x1, y1 float64 }

// placeOf returns where the picture of a whole capture has what a window shows, by
// the output's frame. Size and to are those of the two captures.
func placeOf(window graph.Pane, size image.Point, whole graph.Pane, to image.Point) func(k int64) box {
	shown := func(int64) box {
		r := window.Shot.Shown()
		return box{float64(r.Min.X), float64(r.Min.Y), float64(r.Max.X), float64(r.Max.Y)}
	}
	if g := window.Glide; g != nil {
		shown = func(k int64) box {
			x, y, scale := g.At(float64(k))
			w, h := float64(g.Pane.X)/2/scale, float64(g.Pane.Y)/2/scale
			return box{x - w, y - h, x + w, y + h}
		}
	}
	return func(k int64) box {
		b := shown(k)
		put := func(x, y float64) (float64, float64) {
			x, y = max(0, min(x, float64(size.X))), max(0, min(y, float64(size.Y)))
			return whole.Place(k, x*float64(to.X)/float64(size.X), y*float64(to.Y)/float64(size.Y))
		}
		b.x0, b.y0 = put(b.x0, b.y0)
		b.x1, b.y1 = put(b.x1, b.y1)
		return b
	}
}

// nearThroughout reports whether two places differ by no more than rounding, all
// the clip long.
func nearThroughout(a, b func(k int64) box, frames int64) bool {
	const most = 200
	for k := int64(0); k < frames; k += max(1, frames/most) {
		p, q := a(k), b(k)
		for _, d := range []float64{p.x0 - q.x0, p.y0 - q.y0, p.x1 - q.x1, p.y1 - q.y1} {
			if math.Abs(d) > 2 {
				return false
			}
		}
	}
	return true
}

// addWipe parts the panes, which share one place, by a line. An upright or lying
// line that stands still is a matter of cutting; any other needs a map.
func (c *composition) addWipe(s *comparison.Scene, r pacing.Rate) {
	for i, side := range sides(s.Wipe.Angle, len(c.panes)) {
		c.notes[i] = strings.TrimSuffix(side+" · "+c.notes[i], " · ")
	}
	path := wipe.Path{At: floats(s.Wipe.At), Swing: s.Wipe.Swing}
	for _, k := range s.Wipe.Keys {
		path.Keys = append(path.Keys, wipe.Key{T: k.T, At: floats(k.At)})
	}
	picture := c.panes[0].Area
	half := 2 * max(1, (min(picture.Dx(), picture.Dy())+270)/1080) // as of dividers
	if path.Still() && c.cutAt(path.At, s.Wipe.Angle, half) {
		return
	}
	m := &graph.Matte{Half: half, Still: path.Still()}
	field := wipe.Field{Size: picture.Size(), Angle: s.Wipe.Angle, Reach: m.Reach(),
		Codes: graph.MatteCode(1, 2)}
	m.Draw = func(dst []byte, k int) { field.Draw(dst, path.Places(r.TimeOf(int64(k)))) }
	c.wipe = m
}

// sides are the words for where the captures stand in a wipe.
func sides(angle, n int) []string {
	words := []string{"left", "middle", "right"}
	switch {
	case angle > 45:
		words = []string{"top", "middle", "bottom"}
	case angle < -45:
		words = []string{"bottom", "middle", "top"}
	}
	switch n {
	case 2:
		return []string{words[0], words[2]}
	case 4:
		return []string{words[0], "second", "third", words[2]}
	}
	return words
}

func floats(list []comparison.Ratio) []float64 {
	var out []float64
	for _, r := range list {
		out = append(out, r.Float())
	}
	return out
}

// cutAt cuts the panes apart along upright or lying lines; it reports whether
// that can be done.
func (c *composition) cutAt(places []float64, angle, half int) bool {
	moves := slices.ContainsFunc(c.panes, func(p graph.Pane) bool { return p.Glide != nil })
	if moves || angle != 0 && angle != 90 && angle != -90 {
		return false
	}
	picture := c.panes[0].Area
	long := picture.Dx()
	if angle != 0 {
		long = picture.Dy()
	}
	cuts := []int{0}
	for _, p := range places {
		cuts = append(cuts, int(p*float64(long)/2+0.5)*2)
	}
	cuts = append(cuts, long)
	panes := slices.Clone(c.panes)
	var bars []image.Rectangle
	for i := range panes {
		from, to := cuts[i], cuts[i+1]
		if angle == -90 {
			from, to = long-to, long-from
		}
		r := image.Rectangle{Max: picture.Size()}
		bar := image.Rect(to-half, 0, to+half, r.Max.Y)
		if angle == 0 {
			r.Min.X, r.Max.X = from, to
		} else {
			r.Min.Y, r.Max.Y = from, to
			bar = image.Rect(0, to-half, r.Max.X, to+half)
		}
		if r.Dx() < 2 || r.Dy() < 2 {
			return false
		}
		shot, ok := panes[i].Shot.Cut(r)
		if !ok {
			return false
		}
		panes[i].Shot, panes[i].Area = shot, r.Add(picture.Min)
		if to < long {
			bars = append(bars, bar.Add(picture.Min).Intersect(picture))
		}
	}
	c.panes, c.dividers = panes, append(c.dividers, bars...)
	return true
}

// addTurns gives each pane the frames at which it is shown.
func (c *composition) addTurns(s *comparison.Scene, r pacing.Rate, frames int64) {
	n := int64(len(c.panes))
	turns := make([]graph.Turn, n)
	if every := s.Alternate.Every; every > 0 {
		// Whole frames, so that each is shown for the same time.
		each := max(1, r.FramesIn(every))
		for i := range n {
			turns[i] = graph.Turn{Cycle: n * each, Spans: []graph.Span{{From: i * each, To: (i + 1) * each}}}
		}
	} else {
		from := int64(0)
		for i, t := range append(slices.Clone(s.Alternate.At), 0) {
			to := r.FrameAt(t)
			if r.TimeOf(to) < t {
				to++
			}
			if i == len(s.Alternate.At) {
				to = frames
			}
			if to = min(to, frames); from < to {
				turn := &turns[int64(i)%n]
				turn.Spans = append(turn.Spans, graph.Span{From: from, To: to})
				from = to
			}
		}
	}
	var list []graph.Pane
	for i, p := range c.panes {
		turn := turns[i]
		if len(turn.Spans) == 0 || turn.Spans[0].From >= frames {
			c.warnings = append(c.warnings, fmt.Sprintf("capture %s is never on screen", s.Captures[i]))
			continue
		}
		p.Turn = &turn
		list = append(list, p)
	}
	c.panes = list
	c.shown = func(k int) int {
		for _, p := range list {
			if p.Turn.Shown(int64(k)) {
				return p.Input
			}
		}
		return -1
	}
}

// newSign lets a clip without a deck say how its scene passes; nil where nothing
// needs to be said.
func (p *Project) newSign(plan *Plan, c *composition) (*deck.Sign, error) {
	if plan.Scene.Deck.Place != comparison.DeckNone || plan.Clip.Time.Plain() {
		return nil, nil
	}
	set, err := p.fonts()
	if err != nil {
		return nil, err
	}
	avoid := c.lying()
	for _, l := range c.screen.Labels {
		avoid = append(avoid, l.Box)
	}
	for _, t := range c.screen.Tabs {
		avoid = append(avoid, t.Box)
	}
	return deck.NewSign(plan.Clip.Size, plan.Clip.Time, set, avoid)
}

// lying are the panes that lie over another one, with the bars around them.
func (c *composition) lying() []image.Rectangle {
	var list []image.Rectangle
	for i, p := range c.screen.Panes {
		if slices.ContainsFunc(c.screen.Panes[:i],
			func(q layout.Pane) bool { return q.Area != p.Area && q.Area.Overlaps(p.Area) }) {
			list = append(list, p.Area)
		}
	}
	if list != nil {
		list = append(list, c.screen.Dividers...)
	}
	return list
}

// addDeck sets up what Go draws. Without a deck, and with every capture shown
// one to one, that may be nothing at all.
func (p *Project) addDeck(plan *Plan, view *composition, shown []deck.Capture) error {
	screen := view.screen
	set, err := p.fonts()
	if err != nil {
		return err
	}
	if plan.sign != nil {
		plan.Clip.Layers = append(plan.Clip.Layers,
			graph.Layer{Kind: graph.Alpha, Area: plan.sign.Area, Draw: plan.sign.Draw})
	}
	if screen.Strip.Empty() && len(view.labels) == 0 && len(view.places) == 0 {
		return nil
	}
	var places []deck.Frame
	for _, one := range view.places {
		if !one.moves {
			places = append(places, one.frame())
		} else if err := plan.addPlace(one, set, shown); err != nil {
			return err
		}
	}
	s, d := plan.Scene, plan.Scene.Deck
	drawn, err := deck.New(deck.Settings{
		Screen: screen, Captures: shown, Caption: s.Caption, Rate: plan.Clip.Rate,
		Frames: int(plan.Clip.Frames), Time: plan.Clip.Time,
		RateWindow: d.RateWindow, Trailing: d.Trailing, TreadSpan: d.TreadSpan, Refresh: refreshOf(plan.Clip),
		Unlocked: unlocked(plan.Clip),
		RateAxis: deck.Axis(d.RateAxis), TimeAxis: deck.Axis(d.TimeAxis), Fonts: set,
		Labels: view.labels, Places: places, OnScreen: view.shown,
	})
	if err != nil {
		return err
	}
	plan.warn(drawn.Warnings()...)
	kind := func(alpha bool) graph.LayerKind {
		if alpha {
			return graph.Alpha
		}
		return graph.Opaque
	}
	for _, plate := range drawn.Plates() {
		plan.Clip.Layers = append(plan.Clip.Layers,
			graph.Layer{Kind: kind(plate.Alpha), Area: plate.Area, Draw: plate.Draw, Still: true})
	}
	if !screen.Strip.Empty() {
		plan.Clip.Layers = append(plan.Clip.Layers,
			graph.Layer{Kind: kind(drawn.Translucent()), Area: screen.Strip, Draw: drawn.Draw})
	}
	return nil
}
