package comparison

import (
	"reflect"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

// readScene reads what defaults says, then what the scene says: a key of the scene
// replaces that of defaults, and of inset, wipe, alternate, difference and deck the
// single keys do.
func readScene(d *decoder, s *Scene, n *yaml.Node, name string, tag reflect.StructTag) bool {
	v := reflect.ValueOf(s).Elem()
	*s = d.first
	s.Line = n.Line
	if tag.Get("except") != "" {
		d.base = n
	} else if d.base != nil {
		d.fields(v, d.base, "defaults", `except:"id"`)
	}
	return d.fields(v, n, name, tag)
}

// sceneResolver completes a scene that was read.
type sceneResolver struct {
	*resolver
	s       *Scene
	n, base *yaml.Node // the scene's own keys, and those under defaults
}

// own reports whether the scene itself has a key, and not only defaults.
func (r *sceneResolver) own(path ...string) bool {
	n := r.n
	for _, key := range path {
		n = child(n, key)
	}
	return n != nil
}

// ok reports whether a value is in the file and right.
func (r *resolver) ok(field any) bool { return r.at[field].ok }

func (r *sceneResolver) resolve() {
	s := r.s
	at := r.at[s]
	name := "scene " + quote(s.ID)
	if !r.ok(&s.ID) {
		name = "scene"
	}
	all := r.captures(name)
	r.startsAndWindows(name, all)
	switch length := r.at[&s.Length]; {
	case !length.present() && at.ok:
		r.failAt(at, "add length: 8s here or under defaults:", "%s has no length", name)
	case length.ok && s.Length == 0:
		r.failAt(length, "", "length: %s is no time at all", quote(length.text))
	}
	r.pace()
	if s.Deck.Place == "" {
		s.Deck.Place = DeckBelow
	}
	if !r.at[&s.Deck.Tabs].present() {
		s.Deck.Tabs = s.Deck.Place != DeckNone
	}
	r.marks()
	r.audio()
	slices.Sort(s.Tolerate) // their order says nothing
	if slices.Contains(s.Tolerate, "none") {
		s.Tolerate = nil
	}
	if s.Still == "judged" {
		s.Still = ""
	}
	r.timecode()
	r.view()
	r.logs(name)
}

// captures keeps the captures that there are, each once, and reports whether that is all
// of them.
func (r *sceneResolver) captures(name string) bool {
	s := r.s
	listed := s.Captures
	s.Captures = nil
	if !r.at[&s.Captures].present() && r.at[s].ok {
		r.failAt(r.at[s], "add captures: with the keys of one to four", "%s shows no captures", name)
	}
	for i := range listed {
		key, at := listed[i], r.at[&listed[i]]
		switch {
		case !at.ok || !r.known(at, "captures", key):
		case slices.Contains(s.Captures, key):
			r.failAt(at, "", "captures: %s is shown twice", quote(key))
		default:
			s.Captures = append(s.Captures, key)
		}
	}
	return r.ok(&s.Captures) && len(s.Captures) == len(listed)
}

// startsAndWindows gives each capture its start and its window; all says whether all
// captures of the scene are known.
func (r *sceneResolver) startsAndWindows(name string, all bool) {
	s := r.s
	start, window := child(r.n, "start"), child(r.n, "window")
	starts, windows := start != nil && r.ok(&s.Start), window != nil && r.ok(&s.Window)
	if all {
		starts = r.inScene(start, "start", reflect.TypeFor[Time]()) && starts
		windows = r.inScene(window, "window", reflect.TypeFor[Window]()) && windows
	}
	s.Start, s.Window = map[string]Time{}, map[string]Window{}
	var noStart, noWindow []string
	for _, key := range s.Captures {
		var ok bool
		if s.Start[key], ok = r.start(key); !ok {
			noStart = append(noStart, key)
		}
		if s.Window[key], ok = r.window(key); !ok {
			noWindow = append(noWindow, key)
		}
	}
	if len(noStart) > 0 && (starts || r.ok(s) && start == nil) {
		at := r.at[s]
		if start != nil {
			at = posOf(start)
		}
		r.failAt(at,
			"start: {"+strings.Join(s.Captures, ": 3s, ")+": 3s} names the first instant shown of each",
			"%s has no start for %s", name, strings.Join(noStart, ", "))
	}
	if len(noWindow) > 0 && windows {
		r.failAt(posOf(window), "a window is whole or such as {center: [0.5, 0.5], magnify: 1}",
			"%s has no window for %s", name, strings.Join(noWindow, ", "))
	}
}

// inScene checks that the scene speaks of no captures but its own.
func (r *sceneResolver) inScene(n *yaml.Node, name string, t reflect.Type) bool {
	ok := true
	if n == nil || !perCapture(n, t) {
		return ok
	}
	for i := 0; i < len(n.Content); i += 2 {
		ok = r.shows(posOf(n.Content[i]), name, n.Content[i].Value) && ok
	}
	return ok
}

// shows checks that a capture is one of the scene's.
func (r *sceneResolver) shows(at pos, name, key string) bool {
	switch {
	case !r.known(at, name, key):
		return false
	case !slices.Contains(r.s.Captures, key):
		return r.failAt(at, "captures of this scene: "+strings.Join(r.s.Captures, ", "),
			"%s: capture %s is not in this scene", name, quote(key))
	}
	return true
}

// valueFor reads what a layer, the scene or defaults, says of a capture into v, and
// reports whether it says anything.
func (r *sceneResolver) valueFor(layer *yaml.Node, key, capture string, v any) bool {
	n := child(layer, key)
	if n == nil {
		return false
	}
	if perCapture(n, reflect.TypeOf(v).Elem()) {
		n, key = child(n, capture), key+"."+capture
	}
	if n != nil {
		r.into(v, n, key, "")
	}
	return n != nil
}

// start returns a capture's start, if there is one: the scene's, or else that
// under defaults.
func (r *sceneResolver) start(capture string) (t Time, ok bool) {
	ok = r.valueFor(r.n, "start", capture, &t) || r.valueFor(r.base, "start", capture, &t)
	return t, ok
}

// window returns a capture's window: what it has by default, then what defaults
// says, then what the scene says. It is not ok when the scene has windows for
// other captures only.
func (r *sceneResolver) window(capture string) (w Window, ok bool) {
	w = r.decoder.window
	said := r.valueFor(r.base, "window", capture, &w)
	said = r.valueFor(r.n, "window", capture, &w) || said
	if w.Whole {
		w.Center, w.Magnify, w.Moves = Point{}, Ratio{}, nil
	}
	own := child(r.n, "window")
	return w, said || own == nil || !perCapture(own, reflect.TypeFor[Window]())
}

// pace checks how the scene passes.
func (r *sceneResolver) pace() {
	s := r.s
	if s.Speed == (Ratio{Num: 1, Den: 1}) {
		s.Speed = Ratio{}
	}
	holds := s.Hold
	s.Hold = nil
	for i := range holds {
		h := &holds[i]
		at := r.at[&h.At]
		switch {
		case !at.ok || !r.ok(&h.For) || s.Length == 0:
		case h.At > s.Length:
			r.failAt(at, "at: counts scene time",
				"hold[%d]: %s is after the end of the scene, which is %s long", i+1, quote(at.text), s.Length)
		case len(s.Hold) > 0 && h.At <= s.Hold[len(s.Hold)-1].At:
			r.failAt(at, "list the holds in order of time, each instant once",
				"hold[%d]: %s is not after the hold before it", i+1, quote(at.text))
		default:
			s.Hold = append(s.Hold, *h)
		}
	}
}

func (r *sceneResolver) audio() {
	s := r.s
	at, words := r.at[&s.Audio], words(tagOf[Scene]("Audio"))
	switch {
	case s.Audio == AudioEars && len(s.Captures) == 1:
		r.failAt(at, "set audio: "+s.Captures[0], "audio: ears takes two captures, scene %s shows one",
			quote(s.ID))
	case len(s.Captures) == 0 || at.present() && !at.ok || slices.Contains(words, s.Audio) ||
		slices.Contains(s.Captures, s.Audio):
	case !at.present():
		s.Audio = s.Captures[0]
	default:
		r.notShown(&s.Audio, "audio", words...)
	}
}

// timecode checks whose timecode the clip carries.
func (r *sceneResolver) timecode() {
	s := r.s
	switch {
	case s.Timecode == AudioNone:
		s.Timecode = ""
	case len(s.Captures) > 0 && r.ok(&s.Timecode) && !slices.Contains(s.Captures, s.Timecode):
		r.notShown(&s.Timecode, "timecode", AudioNone)
	}
}

// notShown says of a key that it names no capture of the scene, nor one of the words.
func (r *sceneResolver) notShown(key *string, name string, words ...string) {
	at := r.at[key]
	if !slices.Contains(r.keys, *key) {
		r.failAt(at, Suggest(*key, append(slices.Clone(r.keys), words...), "valid values"),
			"%s: no capture %s", name, quote(*key))
		return
	}
	r.failAt(at, "valid there: "+strings.Join(append(slices.Clone(r.s.Captures), words...), ", "),
		"%s: capture %s is not in the scene on line %d", name, quote(*key), r.s.Line)
}

// logs checks that the captures have the pacing logs that a deck or a summary
// needs.
func (r *sceneResolver) logs(name string) {
	s := r.s
	needs, without := "deck", "set deck: {place: none}"
	switch {
	case s.Deck.Place != DeckNone:
	case s.Summary > 0:
		needs, without = "summary", "remove summary:"
	default:
		return
	}
	for i := range r.f.Captures {
		c := &r.f.Captures[i]
		if slices.Contains(s.Captures, c.Key) && !r.at[&c.Pacing].present() && r.at[c].present() {
			r.failAt(r.at[&c.Key], "add pacing: with the path of a pacing log or with measure, or "+without,
				"captures.%s: no pacing, which the %s of %s needs", c.Key, needs, name)
		}
	}
}
