package comparison

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"fairframe/layout"
)

// view resolves the options of the scene's view. The scene's own options of
// another view are a mistake; those under defaults wait for scenes that have it.
func (r *resolver) view(s *Scene, doc *sceneDocument) {
	base := &r.doc.Defaults
	for _, o := range []struct {
		view string
		mark
	}{{ViewSingle, doc.Single.mark}, {ViewInset, doc.Inset.mark}, {ViewWipe, doc.Wipe.mark},
		{ViewAlternate, doc.Alternate.mark}, {ViewDifference, doc.Difference.mark}} {
		if o.present() && o.view != s.View {
			r.failAt(o.mark, "set view: "+o.view+", or remove "+o.view+":", "%s: says nothing with view %s",
				o.view, s.View)
		}
	}
	if len(s.Captures) == 0 {
		return
	}
	if !r.takes(s, pick(doc.View, base.View)) {
		return
	}
	switch s.View {
	case ViewSingle:
		s.Single = r.shown(s, pick(doc.Single, base.Single), "single")
	case ViewInset:
		s.Inset.Whole = r.shown(s, pick(doc.Inset.Whole, base.Inset.Whole), "whole")
		s.Inset.Over = pick(doc.Inset.Place, base.Inset.Place).string == "over"
	case ViewWipe:
		r.wipe(s, &doc.Wipe, &base.Wipe)
	case ViewAlternate:
		r.alternate(s, &doc.Alternate, &base.Alternate)
	case ViewDifference:
		s.Difference.Gain = Ratio{4, 1}
		if v := pick(doc.Difference.Gain, base.Difference.Gain); v.ok {
			s.Difference.Gain = v.Ratio
		}
		s.Difference.Colour = pick(doc.Difference.Of, base.Difference.Of).string == "colour"
		s.Difference.Alone = pick(doc.Difference.Show, base.Difference.Show).string == "alone"
	}
}

// takes checks that the view can show as many captures as the scene has.
func (r *resolver) takes(s *Scene, v word) bool {
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
	return r.failAt(v.mark, hint, "view: %s takes %d to %d captures, scene %s shows %d",
		s.View, least, most, quote(s.ID), n)
}

// shown resolves a key of a capture of the scene, the first one unless set.
func (r *resolver) shown(s *Scene, v reference, name string) string {
	switch {
	case !v.present() || !v.ok:
		return s.Captures[0]
	case slices.Contains(s.Captures, v.string):
	case !slices.Contains(r.keys, v.string):
		r.failAt(v.mark, Suggest(v.string, s.Captures, "captures of this scene"), "%s: no capture %s",
			name, quote(v.string))
	default:
		r.failAt(v.mark, "valid there: "+strings.Join(s.Captures, ", "),
			"%s: capture %s is not in the scene on line %d", name, quote(v.string), s.Line)
	}
	return v.string
}

// swingEdge is how near to the picture's edge a swinging line comes.
var swingEdge = [2]Ratio{{1, 10}, {9, 10}}

func (r *resolver) wipe(s *Scene, doc, base *wipe) {
	lines := len(s.Captures) - 1
	places := func(v places) bool {
		if v.ok && len(v.list) != lines {
			hint := [...]string{1: "two captures are divided by one line, such as at: 0.4",
				"three captures are divided by two lines, such as at: [0.3, 0.7]",
				"four captures are divided by three lines, such as at: [0.25, 0.5, 0.75]"}[lines]
			return r.failAt(v.mark, hint, "at: %d of %d lines", len(v.list), lines)
		}
		return v.ok
	}
	for i := range lines {
		s.Wipe.At = append(s.Wipe.At, lowest(int64(i+1), int64(lines+1)))
	}
	at := pick(doc.At, base.At)
	if at.present() && places(at) {
		s.Wipe.At = at.list
	}
	s.Wipe.Angle = pick(doc.Angle, base.Angle).int
	// A scene that says how its line moves does not mean the defaults' way.
	keys, swing := doc.Keys, doc.Swing
	if !keys.present() && !swing.present() && !doc.At.present() {
		keys, swing = base.Keys, base.Swing
	}
	switch {
	case keys.present() && swing.present():
		r.failAt(swing.mark, "remove one of the two", "swing: the line follows keys: already")
	case keys.present() && at.present() && at.mark == doc.At.mark:
		r.failAt(at.mark, "put it into keys:, as the place at t: 0s", "at: the line follows keys:")
	case swing.ok:
		s.Wipe.Swing = swing.Duration
		if s.Wipe.At[0].cmp(swingEdge[0]) <= 0 || s.Wipe.At[lines-1].cmp(swingEdge[1]) >= 0 {
			r.failAt(swing.mark, "a line swings about at:, which lies between 0.1 and 0.9",
				"swing: there is no room for it")
		}
	}
	if !keys.ok {
		return
	}
	last := time.Duration(-1)
	for _, k := range keys.items {
		if !k.T.ok || !places(k.At) {
			continue
		}
		t, ok := r.clipTime(k.T, "t")
		if ok && t <= last {
			r.failAt(k.T.mark, "", "t: %s is not after the key before it", quote(k.T.Time.String()))
		}
		last = t
		s.Wipe.Keys = append(s.Wipe.Keys, WipeKey{T: t, At: k.At.list})
	}
}

// lowest is a fraction in lowest terms, of numbers as small as captures are.
func lowest(num, den int64) Ratio {
	for d := int64(2); d <= num; d++ {
		for num%d == 0 && den%d == 0 {
			num, den = num/d, den/d
		}
	}
	return Ratio{num, den}
}

// clipTime resolves a time that counts from the clip's beginning.
func (r *resolver) clipTime(v moment, name string) (time.Duration, bool) {
	t, err := v.Time.at(r.f.Output.Rate)
	if err != nil {
		return 0, r.failAt(v.mark, err.Hint, "%s: %s", name, err.Msg)
	}
	return t, true
}

func (r *resolver) alternate(s *Scene, doc, base *alternate) {
	every, at := doc.Every, doc.At
	if !every.present() && !at.present() {
		every, at = base.Every, base.At
	}
	switch {
	case every.present() && at.present():
		r.failAt(every.mark, "remove one of the two", "every: the times are given by at: already")
	case at.ok:
		for _, m := range at.items {
			t, ok := r.clipTime(m, "at")
			if n := len(s.Alternate.At); ok && (t <= 0 || n > 0 && t <= s.Alternate.At[n-1]) {
				r.failAt(m.mark,
					"the first capture is shown from 0s to the first time, the next one from there on",
					"at: %s is not after the time before it", quote(m.Time.String()))
			}
			s.Alternate.At = append(s.Alternate.At, t)
		}
	case every.ok:
		s.Alternate.Every = every.Duration
	default:
		s.Alternate.Every = 2 * time.Second
	}
}
