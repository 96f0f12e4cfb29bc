package scene

import (
	"fmt"
	"image"
	"slices"
	"strings"

	"fairframe/layout"
	"fairframe/render/comparison"
	"fairframe/render/deck"
	"fairframe/render/finding"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
)

// composition is how a scene fills the output: the screen, and for each of its
// panes what it shows.
type composition struct {
	screen   layout.Screen
	panes    []graph.Pane
	dividers []image.Rectangle
	wipe     *graph.Matte
	// windows are the captures' windows as panes of their own, for pictures of
	// one capture alone; Input is -1 where the scene does not show one.
	windows []graph.Pane
	sizes   []image.Point // of the captures
	labels  []deck.Label
	places  []markedPlace
	notes   []string        // of each capture: what its tab always shows
	shown   func(k int) int // which capture is on screen at frame k; nil: all are
	// noteOnly: the scene wants no names, but a pane that is not one to one has to say
	// so. The tabs show that note and nothing else.
	noteOnly bool
	warnings warnings
}

var places = map[string]layout.Place{
	comparison.DeckBelow: layout.Below, comparison.DeckOver: layout.Over, comparison.DeckNone: layout.None,
}

// specOf says what screen a scene needs.
func specOf(f *Footage) layout.Spec {
	s := f.Scene
	view, ok := layout.ParseView(s.View)
	if !ok {
		view = layout.Columns // of auto; the file's reader knows no others
	}
	spec := layout.Spec{
		Size: f.File.Output.Size, Captures: len(s.Captures), View: view, Place: places[s.Deck.Place],
		Tabs: s.Deck.Tabs, Caption: s.Caption != "" && s.Deck.Place != comparison.DeckNone,
		Over: s.Inset.Over, Alone: s.Difference.Alone, Lying: s.Wipe.Angle > 45 || s.Wipe.Angle < -45,
	}
	main := s.Single
	if s.View == comparison.ViewInset {
		main = s.Inset.Whole
	}
	if i := slices.Index(s.Captures, main); i >= 0 {
		spec.Main = i
		spec.Shape = f.Takes[i].Probed.DisplaySize()
		// Windows over the picture must not hide what they magnify. In a wide picture they
		// stand at the left or right, in a narrow one at the top or bottom.
		if w := s.Window[main]; !w.Whole {
			spec.Opposite = middle(w, 3*spec.Size.X < 4*spec.Size.Y) > 0.5
		}
	}
	if rows := spec; s.View == comparison.ViewAuto {
		if rows.View = layout.Rows; wholeScale(f, rows) > wholeScale(f, spec) {
			return rows
		}
	}
	return spec
}

// wholeScale is the scale at which a screen shows the captures that it shows whole, added
// up. Any other window has the same scale in every arrangement.
func wholeScale(f *Footage, spec layout.Spec) (sum float64) {
	screen, err := layout.Solve(spec)
	if err != nil || screen.Place != spec.Place {
		return 0
	}
	for _, p := range screen.Panes {
		t := f.Takes[p.Capture]
		if size := t.Probed.DisplaySize(); f.Scene.Window[t.Key].Whole && size.X > 0 && size.Y > 0 {
			sum += min(float64(p.Area.Dx())/float64(size.X), float64(p.Area.Dy())/float64(size.Y))
		}
	}
	return sum
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
func compose(f *Footage, rate pacing.Rate, frames int64) (composition, error) {
	spec := specOf(f)
	c, err := shoot(spec, f, rate, frames)
	if err != nil || spec.Tabs || !c.needsTabs() {
		return c, err
	}
	spec.Tabs = true
	c, err = shoot(spec, f, rate, frames)
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
func shoot(spec layout.Spec, f *Footage, rate pacing.Rate, frames int64) (composition, error) {
	s := f.Scene
	screen, err := layout.Solve(spec)
	if err != nil {
		return composition{}, err
	}
	c := composition{screen: screen, dividers: screen.Dividers, notes: make([]string, len(f.Takes))}
	if screen.Place != spec.Place {
		words := fmt.Sprintf("deck: place over would hide the lowest capture of view %s; it is drawn below",
			spec.View)
		c.warnings.add(finding.Finding{Severity: finding.Note, What: "the deck is not where the file puts it",
			Evidence: words, Remedy: "set deck: {place: below}, or choose another view", Words: words})
	}
	for _, t := range f.Takes {
		c.sizes = append(c.sizes, t.Probed.DisplaySize())
		c.windows = append(c.windows, graph.Pane{Input: -1})
	}
	for _, area := range screen.Panes {
		pane, err := c.pane(f, spec, area, rate)
		if err != nil {
			return composition{}, err
		}
		c.panes = append(c.panes, pane)
		// Of a difference alone, the windows are those it is made of.
		for _, one := range []graph.Pane{pane, LessPane(pane)} {
			if one.Input >= 0 && area.Role != layout.AsWhole && c.windows[one.Input].Input < 0 {
				one.Subtrahend = nil
				c.windows[one.Input] = one
			}
		}
	}
	for i, w := range c.windows {
		if w.Input >= 0 {
			c.notes[i] = PaneNote(w)
		}
	}
	c.label(f)
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

// pane is what one area of the screen shows.
func (c *composition) pane(f *Footage, spec layout.Spec, area layout.Pane,
	rate pacing.Rate) (graph.Pane, error) {
	w := f.Scene.Window[f.Takes[area.Capture].Key]
	if area.Role == layout.AsWhole {
		w.Whole, w.Moves = true, nil
	}
	pane, err := c.shot(f, spec, area.Capture, w, area.Area, rate)
	if err != nil || area.Role != layout.AsMinus {
		return pane, err
	}
	less, err := c.shot(f, spec, area.Other, f.Scene.Window[f.Takes[area.Other].Key], area.Area, rate)
	pane.Subtrahend = &graph.Subtrahend{Input: area.Other, Shot: less.Shot, Glide: less.Glide,
		Kernel: less.Kernel, Gain: f.Scene.Difference.Gain, Colour: f.Scene.Difference.Colour}
	return pane, err
}

// shot is a window of a capture in an area of the screen.
func (c *composition) shot(f *Footage, spec layout.Spec, i int, w comparison.Window, area image.Rectangle,
	rate pacing.Rate) (graph.Pane, error) {
	one := f.Takes[i]
	failed := func(err error) (graph.Pane, error) {
		return graph.Pane{}, fmt.Errorf("scene %s, capture %s: %w", f.Scene.ID, one.Key, err)
	}
	seen := area.Dy()
	if c.screen.Place == layout.Over {
		seen = c.screen.Strip.Min.Y - area.Min.Y
	}
	shot, err := windowOf(w).Shoot(one.Probed.DisplaySize(), area.Size(), spec.Size)
	if err != nil {
		return failed(err)
	}
	shot = shot.Raised(seen)
	shot.PixelX, shot.PixelY = one.Probed.SampleAspect()
	glide, err := glideOf(f.Scene, w, one, area.Size(), spec.Size, seen, rate)
	if err != nil {
		return failed(err)
	}
	return graph.Pane{Input: i, Shot: shot, Glide: glide, Kernel: w.Kernel, Area: area}, nil
}

// LessPane is the other half of a difference; its leg is -1 where there is none.
func LessPane(p graph.Pane) graph.Pane {
	if p.Subtrahend == nil {
		return graph.Pane{Input: -1}
	}
	s := p.Subtrahend
	return graph.Pane{Input: s.Input, Shot: s.Shot, Glide: s.Glide, Kernel: s.Kernel, Area: p.Area}
}

// label says what the panes are that no tab names.
func (c *composition) label(f *Footage) {
	s, captures := f.Scene, f.Takes
	for _, l := range c.screen.Labels {
		pane, area := c.panes[l.Pane], c.screen.Panes[l.Pane]
		note := PaneNote(pane)
		text := deck.Label{Capture: area.Capture, Note: note}
		switch area.Role {
		case layout.AsMinus:
			of := "luma"
			if s.Difference.Colour {
				of = "colour"
			}
			text.Note = fmt.Sprintf("difference of %s x%s",
				of, ShortDecimal(s.Difference.Gain.Rat()))
			// The scales come first, so that long names cannot push them out.
			one, other := captures[area.Capture].Name, captures[area.Other].Name
			switch second := PaneNote(LessPane(pane)); {
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
