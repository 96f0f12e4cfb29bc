package scene

import (
	"slices"
	"strings"

	"fairframe/render/comparison"
	"fairframe/render/deck"
	"fairframe/render/media/graph"
)

// signOf lets a clip without a deck say how its scene passes; nil where nothing needs to
// be said.
func signOf(f *Footage, clip *graph.Clip, view composition) (*deck.Sign, error) {
	if f.Scene.Deck.Place != comparison.DeckNone || clip.Time.Plain() {
		return nil, nil
	}
	avoid := view.screen.OnTop()
	for _, l := range view.screen.Labels {
		avoid = append(avoid, l.Box)
	}
	for _, t := range view.screen.Tabs {
		avoid = append(avoid, t.Box)
	}
	return deck.NewSign(clip.Size, clip.Time, f.Fonts, avoid)
}

// drawDeck sets up what Go draws. Without a deck, and with every capture shown one to
// one, that may be nothing at all.
func drawDeck(f *Footage, clip *graph.Clip, view composition, sign *deck.Sign,
	w *warnings) (layers []graph.Layer, err error) {
	screen := view.screen
	if sign != nil {
		layers = append(layers, graph.Layer{Kind: graph.Alpha, Area: sign.Area, Draw: sign.Draw})
	}
	if screen.Strip.Empty() && len(view.labels) == 0 && len(view.places) == 0 {
		return layers, nil
	}
	var places []deck.Frame
	for _, one := range view.places {
		if !one.moves {
			places = append(places, one.frame())
			continue
		}
		layer, err := one.layer(f, clip)
		if err != nil {
			return nil, err
		}
		if layer != nil {
			layers = append(layers, *layer)
		}
	}
	s, d := f.Scene, f.Scene.Deck
	drawn, err := deck.New(deck.Settings{
		Screen: screen, Captures: deckCaptures(f, clip, view), Caption: s.Caption, Rate: clip.Rate,
		Frames: int(clip.Frames), Time: clip.Time,
		RateWindow: d.RateWindow, Trailing: d.Trailing, TreadSpan: d.TreadSpan, Refresh: refreshOf(clip),
		Unlocked: unlocked(clip),
		RateAxis: deck.Axis(d.RateAxis), TimeAxis: deck.Axis(d.TimeAxis), Fonts: f.Fonts,
		Labels: view.labels, Places: places, OnScreen: view.shown,
	})
	if err != nil {
		return nil, err
	}
	w.cut(drawn.Warnings()...)
	kind := func(alpha bool) graph.LayerKind {
		if alpha {
			return graph.Alpha
		}
		return graph.Opaque
	}
	for _, plate := range drawn.Plates() {
		layers = append(layers,
			graph.Layer{Kind: kind(plate.Alpha), Area: plate.Area, Draw: plate.Draw, Still: true})
	}
	if !screen.Strip.Empty() {
		layers = append(layers,
			graph.Layer{Kind: kind(drawn.Translucent()), Area: screen.Strip, Draw: drawn.Draw})
	}
	return layers, nil
}

// deckCaptures are the captures as the deck shows them.
func deckCaptures(f *Footage, clip *graph.Clip, view composition) []deck.Capture {
	list := make([]deck.Capture, len(f.Takes))
	for i, t := range f.Takes {
		list[i] = deck.Capture{Style: t.Style, Start: t.Start, Refresh: t.Probed.Rate, Trace: t.Trace,
			Note: view.notes[i]}
		if light := clip.Note(i); light != "" {
			list[i].Note = strings.TrimPrefix(list[i].Note+", "+light, ", ")
		}
		if !view.noteOnly {
			list[i].Sound = heardAs(clip, i)
			list[i].Name, list[i].Detail, list[i].Raster = t.Name, t.Detail, t.Raster
			list[i].Base = BaseOf(f.File, t.Key)
		}
	}
	return list
}

// heardAs says how a capture is heard, on its name tab; "": it is not, or there is no
// other.
func heardAs(clip *graph.Clip, i int) string {
	at := slices.Index(clip.Sound.Inputs, i)
	if at < 0 || len(clip.Inputs) < 2 {
		return ""
	}
	switch clip.Sound.Kind {
	case graph.Mix:
		return "sound, mixed"
	case graph.Ears:
		return []string{"sound, left", "sound, right"}[at]
	}
	return "sound"
}
