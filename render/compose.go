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
	"fairframe/render/media"
	"fairframe/render/pacing"
	"fairframe/render/wipe"
)

// composition is how a scene fills the output: the screen, and for each of its
// panes what it shows.
type composition struct {
	screen   layout.Screen
	panes    []media.Pane
	dividers []image.Rectangle
	wipe     *media.Map
	// windows are the captures' windows as panes of their own, for pictures of
	// one capture alone; Leg is -1 where the scene does not show one.
	windows []media.Pane
	sizes   []image.Point // of the captures
	labels  []deck.Label
	marks   []deck.Frame
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

var views = map[string]layout.View{
	comparison.ViewColumns: layout.Columns, comparison.ViewRows: layout.Rows, comparison.ViewSingle: layout.Single,
	comparison.ViewInset: layout.Inset, comparison.ViewWipe: layout.Wipe, comparison.ViewAlternate: layout.Alternate,
	comparison.ViewDifference: layout.Difference,
}

// specOf says what screen a scene needs.
func (p *Project) specOf(s *comparison.Scene, captures []sceneCapture) layout.Spec {
	spec := layout.Spec{
		Size: p.File.Output.Size, Captures: len(s.Captures), View: views[s.View], Place: places[s.Deck.Place],
		Tabs: s.Deck.Tabs, Caption: s.Caption != "" && s.Deck.Place != comparison.DeckNone,
		Over: s.Inset.Over, Alone: s.Difference.Alone,
	}
	main := s.Single
	if s.View == comparison.ViewInset {
		main = s.Inset.Whole
	}
	if i := slices.Index(s.Captures, main); i >= 0 {
		spec.Main = i
		spec.Shape = captures[i].probed.Shape()
		// Windows that lie over the picture keep away from what they magnify: at
		// the right of a wide picture, at the foot of a narrow one.
		if w := s.Window[main]; !w.Whole {
			at := w.Center.X
			if 3*spec.Size.X < 4*spec.Size.Y {
				at = w.Center.Y
			}
			spec.Opposite = at.Float() > 0.5
		}
	}
	return spec
}

// compose solves the screen of a scene and cuts its windows, for an output of
// that rate and so many frames.
func (p *Project) compose(s *comparison.Scene, captures []sceneCapture, rate pacing.Rate, frames int64) (composition, error) {
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
func shoot(spec layout.Spec, s *comparison.Scene, captures []sceneCapture, rate pacing.Rate, frames int64) (composition, error) {
	screen, err := layout.Solve(spec)
	if err != nil {
		return composition{}, err
	}
	c := composition{screen: screen, dividers: screen.Dividers, notes: make([]string, len(captures))}
	shot := func(i int, w comparison.Window, area image.Rectangle) (media.Pane, error) {
		one := captures[i]
		shot, err := windowOf(w).Shoot(one.probed.Shape(), area.Size(), spec.Size)
		if err != nil {
			return media.Pane{}, fmt.Errorf("scene %s, capture %s: %w", s.ID, one.Key, err)
		}
		shot.PixelX, shot.PixelY = one.probed.Stretch()
		glide, err := glideOf(s, w, one, area.Size(), spec.Size, rate)
		if err != nil {
			return media.Pane{}, fmt.Errorf("scene %s, capture %s: %w", s.ID, one.Key, err)
		}
		return media.Pane{Leg: i, Shot: shot, Glide: glide, Kernel: w.Kernel, Area: area}, nil
	}
	for _, one := range captures {
		c.sizes = append(c.sizes, one.probed.Shape())
		c.windows = append(c.windows, media.Pane{Leg: -1})
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
			pane.Less = &media.Less{Leg: area.Other, Shot: less.Shot, Glide: less.Glide, Kernel: less.Kernel,
				Gain: layout.Fraction(s.Difference.Gain), Colour: s.Difference.Colour}
		}
		c.panes = append(c.panes, pane)
		// Of a difference alone, the windows are those it is made of.
		for _, one := range []media.Pane{pane, lessPane(pane)} {
			if one.Leg >= 0 && area.Role != layout.AsWhole && c.windows[one.Leg].Leg < 0 {
				one.Less = nil
				c.windows[one.Leg] = one
			}
		}
	}
	for i, w := range c.windows {
		if w.Leg >= 0 {
			c.notes[i] = paneNote(w)
		}
	}
	c.label(s, captures)
	switch s.View {
	case comparison.ViewSingle:
		c.shown = func(int) int { return spec.Main }
	case comparison.ViewInset:
		c.markPlaces(spec.Main)
	case comparison.ViewWipe:
		c.addWipe(s, rate)
	case comparison.ViewAlternate:
		c.addTurns(s, rate, frames)
	}
	return c, nil
}

// lessPane is the other half of a difference; its leg is -1 where there is none.
func lessPane(p media.Pane) media.Pane {
	if p.Less == nil {
		return media.Pane{Leg: -1}
	}
	return media.Pane{Leg: p.Less.Leg, Shot: p.Less.Shot, Glide: p.Less.Glide, Kernel: p.Less.Kernel, Area: p.Area}
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
			text.Note = fmt.Sprintf("difference of %s x%s", of, shortDecimal(layout.Fraction(s.Difference.Gain).Rat()))
			one, other := captures[area.Capture], captures[area.Other]
			if s.Deck.Tabs && (len(captures) > 2 || s.Difference.Alone) {
				text.Note += ", " + one.Name + " and " + other.Name
			}
			switch second := paneNote(lessPane(pane)); {
			case note == second && note != "":
				text.Note += ", both " + note
			case note != second:
				text.Note += fmt.Sprintf(", %s %s, %s %s", one.Name, orOne(note), other.Name, orOne(second))
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
// is the same part of the picture for all of them.
func (c *composition) markPlaces(main int) {
	whole := c.panes[0]
	var seen []image.Rectangle
	for i, w := range c.windows {
		if w.Leg < 0 || w.Glide != nil { // the frame would have to move too
			continue
		}
		// The place in the whole capture's own pixels.
		r, from, to := w.Shot.Shown(), c.sizes[i], c.sizes[main]
		r = image.Rect(r.Min.X*to.X/from.X, r.Min.Y*to.Y/from.Y, r.Max.X*to.X/from.X, r.Max.Y*to.Y/from.Y)
		x0, y0 := whole.Shot.Place(float64(r.Min.X), float64(r.Min.Y))
		x1, y1 := whole.Shot.Place(float64(r.Max.X), float64(r.Max.Y))
		r = image.Rect(int(math.Round(x0)), int(math.Round(y0)), int(math.Round(x1)), int(math.Round(y1))).Add(whole.Area.Min)
		if slices.ContainsFunc(seen, func(o image.Rectangle) bool { return near(o, r) }) {
			continue
		}
		seen = append(seen, r)
		c.marks = append(c.marks, deck.Frame{Area: r, Capture: i})
	}
	if len(c.marks) == 1 {
		c.marks[0].Capture = -1
	}
}

// near reports whether two places differ by no more than rounding.
func near(a, b image.Rectangle) bool {
	d := a.Min.Sub(b.Min)
	e := a.Max.Sub(b.Max)
	for _, v := range []int{d.X, d.Y, e.X, e.Y} {
		if v < -2 || v > 2 {
			return false
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
	m := &media.Map{Half: half, Still: path.Still()}
	field := wipe.Field{Size: picture.Size(), Angle: s.Wipe.Angle, Reach: m.Reach(), Codes: media.MapCode(1, 2)}
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
	if n == 2 {
		return []string{words[0], words[2]}
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
	moves := slices.ContainsFunc(c.panes, func(p media.Pane) bool { return p.Glide != nil })
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
	turns := make([]media.Turn, n)
	if every := s.Alternate.Every; every > 0 {
		// Whole frames, so that each is shown for the same time.
		each := max(1, r.FramesIn(every))
		for i := range n {
			turns[i] = media.Turn{Cycle: n * each, Spans: []media.Span{{From: i * each, To: (i + 1) * each}}}
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
				turn.Spans = append(turn.Spans, media.Span{From: from, To: to})
				from = to
			}
		}
	}
	var list []media.Pane
	for i, p := range c.panes {
		turn := turns[i]
		if len(turn.Spans) == 0 || turn.Spans[0].From >= frames {
			c.warnings = append(c.warnings, fmt.Sprintf("capture %s never has its turn on screen", s.Captures[i]))
			continue
		}
		p.Turn = &turn
		list = append(list, p)
	}
	c.panes = list
	c.shown = func(k int) int {
		for _, p := range list {
			if p.Turn.Shown(int64(k)) {
				return p.Leg
			}
		}
		return -1
	}
}

// addSign lets a clip without a deck say how its scene passes.
func addSign(plan *Plan, set *fonts.Set) error {
	if plan.Scene.Deck.Place != comparison.DeckNone {
		return nil
	}
	sign, err := deck.NewSign(plan.Clip.Size, plan.Clip.Time, set)
	if err == nil && !sign.Area.Empty() {
		plan.Clip.Parts = append(plan.Clip.Parts, media.Part{Kind: media.Alpha, Area: sign.Area, Draw: sign.Draw})
	}
	return err
}

// addDeck sets up what Go draws. Without a deck, and with every capture shown
// one to one, that may be nothing at all.
func (p *Project) addDeck(plan *Plan, view *composition, shown []deck.Capture) error {
	screen := view.screen
	set, err := p.fonts()
	if err != nil {
		return err
	}
	if err := addSign(plan, set); err != nil || screen.Strip.Empty() && len(view.labels) == 0 && len(view.marks) == 0 {
		return err
	}
	s, d := plan.Scene, plan.Scene.Deck
	drawn, err := deck.New(deck.Settings{
		Screen: screen, Captures: shown, Caption: s.Caption, Rate: plan.Clip.Rate, Frames: int(plan.Clip.Frames), Time: plan.Clip.Time,
		RateWindow: d.RateWindow, TreadSpan: d.TreadSpan, Refresh: refreshOf(plan.Clip),
		RateAxis: deck.Axis(d.RateAxis), TimeAxis: deck.Axis(d.TimeAxis), Fonts: set,
		Labels: view.labels, Places: view.marks, OnScreen: view.shown,
	})
	if err != nil {
		return err
	}
	plan.warn(drawn.Warnings()...)
	kind := func(alpha bool) media.Kind {
		if alpha {
			return media.Alpha
		}
		return media.Opaque
	}
	for _, plate := range drawn.Plates() {
		plan.Clip.Parts = append(plan.Clip.Parts, media.Part{Kind: kind(plate.Alpha), Area: plate.Area, Draw: plate.Draw, Still: true})
	}
	if !screen.Strip.Empty() {
		plan.Clip.Parts = append(plan.Clip.Parts, media.Part{Kind: kind(drawn.Translucent()), Area: screen.Strip, Draw: drawn.Draw})
	}
	return nil
}
