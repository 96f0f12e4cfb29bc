package comparison

import (
	"cmp"
	"fmt"
	"reflect"
	"slices"
	"time"

	"fairframe/layout"
)

// view completes the options of the scene's view and removes those of the others. The
// scene's own options of another view are a mistake. Options under defaults are for the
// scenes with their view.
func (r *sceneResolver) view() {
	s := r.s
	s.View = cmp.Or(s.View, ViewAuto)
	for _, view := range []string{ViewSingle, ViewInset, ViewWipe, ViewAlternate, ViewDifference} {
		if n := child(r.n, view); n != nil && view != s.View {
			r.fail(n, "set view: "+view+", or remove "+view+":", "%s: says nothing with view %s", view,
				s.View)
		}
	}
	if len(s.Captures) > 0 && r.takes() {
		switch s.View {
		case ViewSingle:
			r.shown(&s.Single, "single")
		case ViewInset:
			r.shown(&s.Inset.Whole, "whole")
		case ViewWipe:
			r.wipe(&s.Wipe)
		case ViewAlternate:
			r.alternate(&s.Alternate)
		}
	}
	r.only(s.View)
}

// only removes the options of all views but one.
func (r *sceneResolver) only(view string) {
	s := r.s
	for of, options := range map[string]any{ViewSingle: &s.Single, ViewInset: &s.Inset, ViewWipe: &s.Wipe,
		ViewAlternate: &s.Alternate, ViewDifference: &s.Difference} {
		if of != view {
			reflect.ValueOf(options).Elem().SetZero()
		}
	}
}

// takes checks that the view can show as many captures as the scene has.
func (r *sceneResolver) takes() bool {
	s := r.s
	n := len(s.Captures)
	view, ok := layout.ParseView(s.View)
	if !ok || n > layout.MaxCaptures || view.Takes(n) {
		return true // an unknown view and a list that is too long have their own errors
	}
	least, most := view.Limits()
	hint := "set view: columns, or name more captures"
	if n > most {
		hint = fmt.Sprintf("set view: columns, or make scenes of at most %d captures each", most)
	}
	return r.failAt(r.at[&s.View], hint, "view: %s takes %d to %d captures, scene %s shows %d",
		s.View, least, most, quote(s.ID), n)
}

// shown checks the key of a capture of the scene, which is the first one unless set.
func (r *sceneResolver) shown(key *string, name string) {
	s, at := r.s, r.at[key]
	switch {
	case !at.ok:
		*key = s.Captures[0]
	case slices.Contains(s.Captures, *key):
	case !slices.Contains(r.keys, *key):
		r.failAt(at, Suggest(*key, s.Captures, "captures of this scene"), "%s: no capture %s", name,
			quote(*key))
	default:
		r.notShown(key, name)
	}
}

// swingEdge is how near to the picture's edge a swinging line comes.
var swingEdge = [2]Ratio{{Num: 1, Den: 10}, {Num: 9, Den: 10}}

// lines checks that there is a place for each line between the captures.
func (r *sceneResolver) lines(places *[]Ratio) bool {
	at, lines := r.at[places], len(r.s.Captures)-1
	if at.ok && len(*places) != lines {
		hint := [...]string{1: "two captures are divided by one line, such as at: 0.4",
			"three captures are divided by two lines, such as at: [0.3, 0.7]",
			"four captures are divided by three lines, such as at: [0.25, 0.5, 0.75]"}[lines]
		return r.failAt(at, hint, "at: %d of %d lines", len(*places), lines)
	}
	return at.ok
}

func (r *sceneResolver) wipe(w *Wipe) {
	lines := len(r.s.Captures) - 1
	at, swing := r.at[&w.At], r.at[&w.Swing]
	if !r.lines(&w.At) {
		w.At = nil
		for i := range lines {
			w.At = append(w.At, lowest(int64(i+1), int64(lines+1)))
		}
	}
	// A scene that says how its line moves does not mean the defaults' way.
	ownAt, ownKeys, ownSwing := r.own("wipe", "at"), r.own("wipe", "keys"), r.own("wipe", "swing")
	if ownAt || ownKeys || ownSwing {
		if !ownKeys {
			w.Keys = nil
		}
		if !ownSwing {
			w.Swing = 0
		}
	}
	switch {
	case len(w.Keys) > 0 && w.Swing > 0:
		r.failAt(swing, "remove one of the two", "swing: the line follows keys: already")
	case len(w.Keys) > 0 && ownAt:
		r.failAt(at, "put it into keys:, as the place at t: 0s", "at: the line follows keys:")
	case w.Swing > 0 && (w.At[0].Cmp(swingEdge[0]) <= 0 || w.At[lines-1].Cmp(swingEdge[1]) >= 0):
		r.failAt(swing, "a line swings about at:, which lies between 0.1 and 0.9",
			"swing: there is no room for it")
	}
	last := time.Duration(-1)
	for i := range w.Keys {
		k := &w.Keys[i]
		t := r.at[&k.T]
		if !t.ok || !r.lines(&k.At) {
			continue
		}
		if k.T <= last {
			r.failAt(t, "", "t: %s is not after the key before it", quote(t.text))
		}
		last = k.T
	}
}

// lowest is a fraction in lowest terms, of numbers as small as captures are.
func lowest(num, den int64) Ratio {
	for d := int64(2); d <= num; d++ {
		for num%d == 0 && den%d == 0 {
			num, den = num/d, den/d
		}
	}
	return Ratio{Num: num, Den: den}
}

func (r *sceneResolver) alternate(a *Alternate) {
	every := r.at[&a.Every]
	ownEvery, ownAt := r.own("alternate", "every"), r.own("alternate", "at")
	if ownEvery && !ownAt {
		a.At = nil
	}
	switch {
	case len(a.At) == 0:
		return
	case every.present() && (ownEvery || !ownAt):
		r.failAt(every, "remove one of the two", "every: the times are given by at: already")
	}
	a.Every = 0
	last := time.Duration(0)
	for i := range a.At {
		at := r.at[&a.At[i]]
		if at.ok && a.At[i] <= last {
			r.failAt(at, "the first capture is shown from 0s to the first time, the next one from there on",
				"at: %s is not after the time before it", quote(at.text))
		}
		last = a.At[i]
	}
}
