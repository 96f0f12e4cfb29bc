package render

import (
	"fmt"
	"slices"

	"fairframe/fonts"
	"fairframe/layout"
	"fairframe/render/comparison"
	"fairframe/render/deck"
	"fairframe/render/media"
)

// composition is how a scene fills the output: the screen, and for each of its
// panes what it shows.
type composition struct {
	screen layout.Screen
	panes  []media.Pane
	// noteOnly: names were to be left away, but that a picture is not one to one
	// may not, so its tab is there for the note alone.
	noteOnly bool
}

var places = map[string]layout.Place{
	comparison.DeckBelow: layout.Below, comparison.DeckOver: layout.Over, comparison.DeckNone: layout.None,
}

// compose solves the screen of a scene and cuts its windows.
func (p *Project) compose(s *comparison.Scene, captures []sceneCapture) (composition, error) {
	spec := layout.Spec{
		Size: p.File.Output.Size, Captures: len(s.Captures), View: layout.Columns, Place: places[s.Deck.Place],
		Tabs: s.Deck.Tabs, Caption: s.Caption != "" && s.Deck.Place != comparison.DeckNone,
	}
	c, err := shoot(spec, s, captures)
	if err != nil || spec.Tabs || !slices.ContainsFunc(c.panes, func(p media.Pane) bool { return !p.Shot.OneToOne() }) {
		return c, err
	}
	spec.Tabs = true
	c, err = shoot(spec, s, captures)
	c.noteOnly = true
	return c, err
}

// shoot solves a screen and works out what each pane shows of its capture.
func shoot(spec layout.Spec, s *comparison.Scene, captures []sceneCapture) (composition, error) {
	screen, err := layout.Solve(spec)
	if err != nil {
		return composition{}, err
	}
	c := composition{screen: screen}
	for i, area := range screen.Panes {
		one := captures[i]
		w := s.Window[one.Key]
		shot, err := windowOf(w).Shoot(one.probed.Size, area.Size(), spec.Size)
		if err != nil {
			return composition{}, fmt.Errorf("scene %s, capture %s: %w", s.ID, one.Key, err)
		}
		c.panes = append(c.panes, media.Pane{Leg: i, Shot: shot, Kernel: w.Kernel, Area: area})
	}
	return c, nil
}

// paneOf returns the first pane that shows capture i.
func (c *composition) paneOf(i int) (media.Pane, bool) {
	for _, p := range c.panes {
		if p.Leg == i {
			return p, true
		}
	}
	return media.Pane{}, false
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
func (p *Project) addDeck(plan *Plan, screen layout.Screen, shown []deck.Capture) error {
	set, err := p.fonts()
	if err != nil {
		return err
	}
	if err := addSign(plan, set); err != nil || screen.Strip.Empty() {
		return err
	}
	s, d := plan.Scene, plan.Scene.Deck
	drawn, err := deck.New(deck.Settings{
		Screen: screen, Captures: shown, Caption: s.Caption, Rate: plan.Clip.Rate, Frames: int(plan.Clip.Frames), Time: plan.Clip.Time,
		RateWindow: d.RateWindow, TreadSpan: d.TreadSpan, Refresh: refreshOf(plan.Clip),
		RateAxis: deck.Axis(d.RateAxis), TimeAxis: deck.Axis(d.TimeAxis), Fonts: set,
	})
	if err != nil {
		return err
	}
	plan.warn(drawn.Warnings()...)
	kind := media.Opaque
	if drawn.Translucent() {
		kind = media.Alpha
	}
	plan.Clip.Parts = append(plan.Clip.Parts, media.Part{Kind: kind, Area: screen.Strip, Draw: drawn.Draw})
	return nil
}
