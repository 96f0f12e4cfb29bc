package comparison

import (
	"fmt"
	"image"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"time"

	"fairframe/render/pacing"
)

// resolver turns a document into a File. What the decoder found wrong already
// it passes over in silence.
type resolver struct {
	*decoder
	doc  *document
	f    *File
	keys []string // of the captures
}

// reserved are words that mean something where the key of a capture may stand.
func reserved() []string {
	var words []string
	known, planned := keysOf(reflect.ValueOf(windowKeys{}))
	for _, k := range known {
		words = append(words, k.key)
	}
	audio := tagOf[sceneKeys]("Audio")
	return append(append(append(words, planned...), "whole"), strings.Fields(audio.Get("words"))...)
}

// resolve returns the File that doc describes, and adds what contradicts itself
// in it. It returns nothing useful after a mistake.
func (d *decoder) resolve(doc *document) *File {
	r := &resolver{decoder: d, doc: doc, f: &File{
		Path: d.file, Dir: filepath.Dir(d.file), Title: doc.Title.string,
		Output: Output{
			Folder: d.join(path{string: or(doc.Output.Folder.string, "out")}), Size: doc.Output.Size.Point,
			Rate: doc.Output.Rate.Rate, Delivery: doc.Output.Delivery.or(DeliveryWeb),
		},
		Fonts: Fonts{
			Text: d.join(doc.Fonts.Text), Bold: d.join(doc.Fonts.Bold),
			text: doc.Fonts.Text.string, bold: doc.Fonts.Bold.string,
		},
	}}
	o, out := &doc.Output, &r.f.Output
	out.Codec, out.Transfer, out.Encoder, out.Quality, out.Effort =
		o.Codec.string, o.Transfer.string, o.Encoder.string, o.Quality.string, o.Effort.string
	for _, t := range o.FFmpeg.items {
		out.FFmpeg = append(out.FFmpeg, t.string)
	}
	r.f.output = map[string]mark{"delivery": o.Delivery.mark, "codec": o.Codec.mark,
		"transfer": o.Transfer.mark, "encoder": o.Encoder.mark, "quality": o.Quality.mark,
		"effort": o.Effort.mark, "ffmpeg": o.FFmpeg.mark}
	if !doc.Output.Size.present() {
		r.f.Output.Size = image.Pt(1920, 1080)
	}
	if !doc.Output.Rate.present() {
		r.f.Output.Rate = pacing.Rate{Num: 60, Den: 1}
	}
	for i := range doc.Captures.entries {
		r.capture(&doc.Captures.entries[i])
	}
	r.defaults(&doc.Defaults)
	for i := range doc.Scenes.items {
		r.scene(&doc.Scenes.items[i])
	}
	r.ids()
	return r.f
}

// or returns s, or other when s is empty.
func or(s, other string) string {
	if s == "" {
		return other
	}
	return s
}

// pick returns a, or b when a is not in the file.
func pick[T interface{ present() bool }](a, b T) T {
	if a.present() {
		return a
	}
	return b
}

// join returns the path of a file that was named relative to the comparison file.
func (d *decoder) join(p path) string {
	if p.string == "" {
		return ""
	}
	name := filepath.FromSlash(p.string)
	if filepath.IsAbs(name) {
		return filepath.Clean(name)
	}
	return filepath.Join(filepath.Dir(d.file), name)
}

func (r *resolver) capture(e *entry[capture]) {
	switch {
	case !identifierForm.MatchString(e.key):
		r.failAt(e.at, identifierRule, "captures: %s cannot be a key", quote(e.key))
	case slices.Contains(reserved(), e.key):
		r.failAt(e.at, "choose another key and set name: to what is shown",
			"captures: %s cannot be a key, it has a meaning of its own", quote(e.key))
	}
	c := &e.value
	r.keys = append(r.keys, e.key)
	format := pacing.Format{Column: c.Pacing.Column.string, Starts: c.Pacing.Starts.Duration}
	// The words in the tags are pacing's own; a test holds them together.
	format.Means, _ = pacing.ParseMeaning(c.Pacing.Means.string)
	format.Unit, _ = pacing.ParseUnit(c.Pacing.Unit.string)
	var ignore []image.Rectangle
	for _, b := range c.Pacing.measured.Ignore.items {
		ignore = append(ignore, b.Rectangle)
	}
	r.f.Captures = append(r.f.Captures, Capture{
		Key: e.key, Name: or(c.Name.string, e.key), Detail: c.Detail.string, Raster: c.Raster.Point,
		Video: r.join(c.Video), video: c.Video.string,
		Pacing: Source{File: r.join(c.Pacing.File), file: c.Pacing.File.string, Format: format,
			Measure: c.Pacing.measure, Region: c.Pacing.measured.Region.Rectangle, Ignore: ignore,
			Tears: c.Pacing.measured.Tears.string},
	})
	r.measuredApart(e.at)
}

// MeasuredLog returns where pacing: measure keeps the log of a video: beside it, as
// NAME.pacing.csv.
func MeasuredLog(video string) string {
	return strings.TrimSuffix(video, filepath.Ext(video)) + ".pacing.csv"
}

// FullMeasuredLog is the name of that log where another capture differs only in its
// ending: NAME.mkv.pacing.csv.
func FullMeasuredLog(video string) string { return video + ".pacing.csv" }

// measuredApart gives the last capture, if it is measured, a log of its own, or the one
// of a capture that is measured alike.
func (r *resolver) measuredApart(at mark) {
	last := &r.f.Captures[len(r.f.Captures)-1]
	if !last.Pacing.Measure || last.Video == "" {
		return
	}
	name := MeasuredLog
	for _, c := range r.f.Captures[:len(r.f.Captures)-1] {
		switch {
		case !c.Pacing.Measure || c.Video == "":
		case c.Video != last.Video:
			if c.Pacing.Log == MeasuredLog(last.Video) {
				name = FullMeasuredLog // alder.mkv is measured beside alder.mp4
			}
		case c.Pacing.alike(last.Pacing):
			last.Pacing.Log, last.Pacing.log = c.Pacing.Log, c.Pacing.log
			return
		default:
			r.failAt(at,
				"write one of the logs with fairframe measure CAPTURE -o LOG.csv, and name it after pacing:",
				"captures: the measured logs of %s and %s would be the same file, %s",
				quote(c.Key), quote(last.Key), filepath.Base(c.Pacing.Log))
			return
		}
	}
	last.Pacing.Log, last.Pacing.log = name(last.Video), name(last.video)
}

// alike reports whether two sources measure the same.
func (s Source) alike(o Source) bool {
	s.Log, s.log, o.Log, o.log = "", "", "", ""
	return reflect.DeepEqual(s, o)
}

// known reports whether there is a capture of that key, and says so if not.
func (r *resolver) known(at mark, name, key string) bool {
	if len(r.keys) == 0 || slices.Contains(r.keys, key) {
		return len(r.keys) > 0 // without captures that is the mistake to mend
	}
	return r.failAt(at, Suggest(key, r.keys, "captures here"), "%s: no capture %s", name, quote(key))
}

// defaults checks what a scene does not: that every capture named there exists,
// even one that no scene shows.
func (r *resolver) defaults(k *sceneKeys) {
	for i := range k.Start.each.entries {
		r.known(k.Start.each.entries[i].at, "start", k.Start.each.entries[i].key)
	}
	for i := range k.Window.each.entries {
		r.known(k.Window.each.entries[i].at, "window", k.Window.each.entries[i].key)
	}
}

// scene resolves one scene. Where it lacks a key, defaults' stands in; of
// mappings (start, window, deck) the single keys do.
func (r *resolver) scene(doc *sceneDocument) {
	base := &r.doc.Defaults
	at := doc.mark
	if !doc.ok && reflect.DeepEqual(*doc, sceneDocument{mark: at}) {
		return // no mapping, or an empty one
	}
	s := Scene{
		ID: doc.ID.string, Line: at.line, Start: map[string]Time{}, Window: map[string]Window{},
		View: pick(doc.View, base.View).or(ViewColumns), Caption: pick(doc.Caption, base.Caption).string,
		Title: pick(doc.Title, base.Title).Duration, Summary: pick(doc.Summary, base.Summary).Duration,
	}
	name := "scene " + quote(s.ID)
	if !doc.ID.ok {
		name = "scene"
	}

	shown := pick(doc.Captures, base.Captures)
	if !shown.present() && doc.ok {
		r.failAt(at, "add captures: with the keys of one to four", "%s shows no captures", name)
	}
	for _, c := range shown.items {
		switch {
		case !c.ok || !r.known(c.mark, "captures", c.string):
		case slices.Contains(s.Captures, c.string):
			r.failAt(c.mark, "", "captures: %s is shown twice", quote(c.string))
		default:
			s.Captures = append(s.Captures, c.string)
		}
	}
	starts, windows := doc.Start.ok, doc.Window.ok
	if shown.ok && len(s.Captures) == len(shown.items) {
		starts = r.inScene(doc.Start.each.at(), "start", s.Captures) && starts
		windows = r.inScene(doc.Window.each.at(), "window", s.Captures) && windows
	}
	var noStart, noWindow []string
	for _, key := range s.Captures {
		var ok bool
		if s.Start[key], ok = r.start(key, doc); !ok {
			noStart = append(noStart, key)
		}
		if s.Window[key], ok = r.window(key, doc); !ok {
			noWindow = append(noWindow, key)
		}
	}
	if len(noStart) > 0 && (starts || doc.ok && !doc.Start.present()) {
		r.failAt(pick(doc.Start.mark, at),
			"start: {"+strings.Join(s.Captures, ": 3s, ")+": 3s} names the first instant shown of each",
			"%s has no start for %s", name, strings.Join(noStart, ", "))
	}
	if len(noWindow) > 0 && windows {
		r.failAt(doc.Window.mark, "a window is whole or such as {center: [0.5, 0.5], magnify: 1}",
			"%s has no window for %s", name, strings.Join(noWindow, ", "))
	}
	r.length(&s, pick(doc.Length, base.Length), at, name, doc.ok)
	r.pace(&s, pick(doc.Speed, base.Speed), pick(doc.Hold, base.Hold))
	s.Deck = resolveDeck(&doc.Deck, &base.Deck)
	r.marks(&s, &doc.Marks, base)
	r.audio(&s, pick(doc.Audio, base.Audio))
	s.Loudness = pick(doc.Loudness, base.Loudness).float64
	for _, fault := range []string{TolerateDecodeErrors, TolerateGaps} {
		if slices.Contains(pick(doc.Tolerate, base.Tolerate).list, fault) {
			s.Tolerate = append(s.Tolerate, fault)
		}
	}
	if v := pick(doc.Still, base.Still); v.string == StillCounts || v.string == StillLeavesOut {
		s.Still = v.string
	}
	r.timecode(&s, pick(doc.Timecode, base.Timecode))
	r.view(&s, doc)
	r.logs(&s, name)
	r.f.Scenes = append(r.f.Scenes, s)
}

// place is the key of a capture somewhere in a scene.
type place struct {
	key string
	mark
}

// at returns the keys of a table and their places.
func (v *table[T]) at() []place {
	list := make([]place, len(v.entries))
	for i, e := range v.entries {
		list[i] = place{e.key, e.at}
	}
	return list
}

// inScene checks that a scene speaks of no captures but its own.
func (r *resolver) inScene(keys []place, name string, shown []string) bool {
	ok := true
	for _, k := range keys {
		if !r.known(k.mark, name, k.key) {
			ok = false
		} else if !slices.Contains(shown, k.key) {
			ok = r.failAt(k.mark, "captures of this scene: "+strings.Join(shown, ", "),
				"%s: capture %s is not in this scene", name, quote(k.key))
		}
	}
	return ok
}

// start returns a capture's start, if there is one: the scene's, or else that
// under defaults.
func (r *resolver) start(key string, doc *sceneDocument) (Time, bool) {
	for _, layer := range []*perCapture[moment]{&doc.Start, &r.doc.Defaults.Start} {
		if v := layer.each.get(key); v != nil {
			return v.Time, true
		}
		if layer.all != nil {
			return layer.all.Time, true
		}
	}
	return Time{}, false
}

// window returns a capture's window: what it has by default, then what defaults
// says, then what the scene says. It is not ok when the scene has windows for
// other captures only.
func (r *resolver) window(key string, doc *sceneDocument) (w Window, ok bool) {
	w = Window{Center: Point{Ratio{1, 2}, Ratio{1, 2}}, Magnify: Ratio{1, 1}, Kernel: KernelLanczos}
	said := false
	for _, layer := range []*perCapture[window]{&r.doc.Defaults.Window, &doc.Window} {
		v := layer.each.get(key)
		if v == nil {
			v = layer.all
		}
		if v == nil {
			continue
		}
		said = true
		if w.Whole = v.whole; w.Whole {
			continue
		}
		if v.Center.present() {
			w.Center = v.Center.Point
		}
		if v.Magnify.present() {
			w.Magnify = v.Magnify.Ratio
		}
		w.Kernel = v.Kernel.or(w.Kernel)
		if v.Moves.present() {
			w.Moves = r.moves(w, v.Moves.items)
		}
	}
	if w.Whole {
		w.Center, w.Magnify, w.Moves = Point{}, Ratio{}, nil
	}
	return w, said || len(doc.Window.each.entries) == 0
}

// moves resolves where a window goes: what a move leaves out is as it was before.
func (r *resolver) moves(w Window, list []moveKeys) (moves []Move) {
	m := Move{Center: w.Center, Magnify: w.Magnify}
	for i, v := range list {
		if !v.At.ok {
			continue
		}
		at, err := v.At.Time.at(r.f.Output.Rate)
		name := fmt.Sprintf("moves[%d]", i+1)
		if v.Center.present() {
			m.Center = v.Center.Point
		}
		if v.Magnify.present() {
			m.Magnify = v.Magnify.Ratio
		}
		switch {
		case err != nil:
			r.failAt(v.At.mark, err.Hint, "%s: %s", name, err.Msg)
			continue
		case len(moves) > 0 && (at < m.At || at == m.At && v.Held.Duration <= m.Held):
			r.failAt(v.At.mark, "list the moves in order of time; held: separates moves at one instant",
				"%s: %s is not after the move before it", name, quote(v.At.Time.String()))
			continue
		}
		m.At, m.Held = at, v.Held.Duration
		moves = append(moves, m)
	}
	return moves
}

func (r *resolver) length(s *Scene, v moment, at mark, name string, complete bool) {
	switch {
	case !v.present() && !complete:
		return
	case !v.present():
		r.failAt(at, "add length: 8s here or under defaults:", "%s has no length", name)
		return
	case !v.ok || r.doc.Output.Rate.present() && !r.doc.Output.Rate.ok:
		return
	}
	d, err := v.Time.at(r.f.Output.Rate)
	switch {
	case err != nil:
		r.failAt(v.mark, err.Hint, "length: %s", err.Msg)
	case d == 0:
		r.failAt(v.mark, "", "length: %s is no time at all", quote(v.Time.String()))
	}
	s.Length = d
}

// pace resolves how the scene passes.
func (r *resolver) pace(s *Scene, speed ratio, hold list[holdKeys]) {
	if speed.ok && speed.Ratio != (Ratio{1, 1}) {
		s.Speed = speed.Ratio
	}
	for i, h := range hold.items {
		if !h.At.ok || !h.For.ok || s.Length == 0 {
			continue
		}
		at, err := h.At.Time.at(r.f.Output.Rate)
		name := fmt.Sprintf("hold[%d]", i+1)
		switch {
		case err != nil:
			r.failAt(h.At.mark, err.Hint, "%s: %s", name, err.Msg)
		case at > s.Length:
			r.failAt(h.At.mark, "at: counts scene time",
				"%s: %s is after the end of the scene, which is %s long",
				name, quote(h.At.Time.String()), s.Length)
		case len(s.Hold) > 0 && at <= s.Hold[len(s.Hold)-1].At:
			r.failAt(h.At.mark, "list the holds in order of time, each instant once",
				"%s: %s is not after the hold before it", name, quote(h.At.Time.String()))
		default:
			s.Hold = append(s.Hold, Hold{at, h.For.Duration})
		}
	}
}

func resolveDeck(doc, base *deck) Deck {
	d := Deck{
		Place:      pick(doc.Place, base.Place).or(DeckBelow),
		RateWindow: time.Second, TreadSpan: 1500 * time.Millisecond,
	}
	if v := pick(doc.RateAxis, base.RateAxis); v.present() {
		d.RateAxis = v.Axis
	}
	if v := pick(doc.TimeAxis, base.TimeAxis); v.present() {
		d.TimeAxis = v.Axis
	}
	if v := pick(doc.RateWindow, base.RateWindow); v.present() {
		d.RateWindow = v.Duration
	}
	if v := pick(doc.TreadSpan, base.TreadSpan); v.present() {
		d.TreadSpan = v.Duration
	}
	d.Trailing = pick(doc.Rate, base.Rate).string == "trailing"
	d.Tabs = d.Place != DeckNone
	if v := pick(doc.Tabs, base.Tabs); v.present() {
		d.Tabs = v.bool
	}
	return d
}

func (r *resolver) audio(s *Scene, v reference) {
	s.Audio = v.string
	words := words(tagOf[sceneKeys]("Audio"))
	switch {
	case v.string == AudioEars && len(s.Captures) == 1:
		r.failAt(v.mark, "set audio: "+s.Captures[0], "audio: ears takes two captures, scene %s shows one",
			quote(s.ID))
	case len(s.Captures) == 0 || v.present() && !v.ok || slices.Contains(words, v.string) ||
		slices.Contains(s.Captures, v.string):
	case !v.present():
		s.Audio = s.Captures[0]
	default:
		r.notShown(s, v, "audio", words...)
	}
}

// timecode resolves whose time code the clip carries.
func (r *resolver) timecode(s *Scene, v reference) {
	switch {
	case len(s.Captures) == 0 || !v.ok || v.string == AudioNone:
	case slices.Contains(s.Captures, v.string):
		s.Timecode = v.string
	default:
		r.notShown(s, v, "timecode", AudioNone)
	}
}

// notShown says of a reference that it names no capture of the scene, nor one
// of the words.
func (r *resolver) notShown(s *Scene, v reference, name string, words ...string) {
	if !slices.Contains(r.keys, v.string) {
		r.failAt(v.mark, Suggest(v.string, append(slices.Clone(r.keys), words...), "valid values"),
			"%s: no capture %s", name, quote(v.string))
		return
	}
	r.failAt(v.mark, "valid there: "+strings.Join(append(slices.Clone(s.Captures), words...), ", "),
		"%s: capture %s is not in the scene on line %d", name, quote(v.string), s.Line)
}

// logs checks that the captures have the pacing logs that a deck or a summary
// needs.
func (r *resolver) logs(s *Scene, name string) {
	needs, without := "deck", "set deck: {place: none}"
	switch {
	case s.Deck.Place != DeckNone:
	case s.Summary > 0:
		needs, without = "summary", "remove summary:"
	default:
		return
	}
	for i := range r.doc.Captures.entries {
		e := &r.doc.Captures.entries[i]
		if slices.Contains(s.Captures, e.key) && !e.value.Pacing.present() && e.value.present() {
			r.failAt(e.at, "add pacing: with the path of a pacing log or with measure, or "+without,
				"captures.%s: no pacing, which the %s of %s needs", e.key, needs, name)
		}
	}
}

// ids checks that no two scenes share a file name, on systems too that take
// Ridge and ridge for the same.
func (r *resolver) ids() {
	first := map[string]identifier{}
	for _, s := range r.doc.Scenes.items {
		if !s.ID.ok {
			continue
		}
		fold := strings.ToLower(s.ID.string)
		switch other, twice := first[fold]; {
		case !twice:
			first[fold] = s.ID
		case other.string == s.ID.string:
			r.failAt(s.ID.mark, "", "id: %s is taken, by the scene on line %d",
				quote(s.ID.string), other.line)
		default:
			r.failAt(s.ID.mark, "file names on Windows and macOS ignore case",
				"id: %s differs only in case from %s on line %d",
				quote(s.ID.string), quote(other.string), other.line)
		}
	}
}
