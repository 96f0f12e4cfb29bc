package comparison

import (
	"cmp"
	"path/filepath"
	"reflect"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

// resolver completes a File that was read. It does not report again what the decoder
// reported.
type resolver struct {
	*decoder
	f    *File
	keys []string // of the captures
}

// reserved are words that mean something where the key of a capture may stand.
func reserved() []string {
	words := append(words(tagOf[Scene]("Audio")), "whole")
	for _, k := range keysOf(reflect.TypeFor[Window](), "") {
		words = append(words, k.key)
	}
	return words
}

// resolve completes f, which was read from root, and adds its contradictions to the
// mistakes. After a mistake, f must not be used.
func (d *decoder) resolve(f *File, root *yaml.Node) {
	r := &resolver{decoder: d, f: f}
	out, fonts := &f.Output, &f.Fonts
	f.output = map[string]pos{}
	for _, k := range keysOf(reflect.TypeFor[Output](), "") {
		f.output[k.key] = d.at[reflect.ValueOf(out).Elem().FieldByIndex(k.field.Index).Addr().Interface()]
	}
	out.Folder = d.join(out.Folder)
	fonts.text, fonts.bold = fonts.Text, fonts.Bold
	fonts.Text, fonts.Bold = d.join(fonts.Text), d.join(fonts.Bold)
	for i := range f.Captures {
		r.capture(i)
	}
	base, scenes := child(root, "defaults"), child(root, "scenes")
	r.knownIn(child(base, "start"), "start", reflect.TypeFor[Time]())
	r.knownIn(child(base, "window"), "window", reflect.TypeFor[Window]())
	for i := range f.Scenes {
		if n := scenes.Content[i]; n.Kind == yaml.MappingNode && len(n.Content) > 0 {
			(&sceneResolver{r, &f.Scenes[i], n, base}).resolve()
		}
	}
	r.ids()
	f.Defaults = Scene{} // the scenes hold it
}

// join returns the path of a file that was named relative to the comparison file.
func (d *decoder) join(path string) string {
	if path == "" {
		return ""
	}
	name := filepath.FromSlash(path)
	if filepath.IsAbs(name) {
		return filepath.Clean(name)
	}
	return filepath.Join(filepath.Dir(d.file), name)
}

// capture completes one capture: its name, its paths, and the log of what is measured.
func (r *resolver) capture(i int) {
	c := &r.f.Captures[i]
	at := r.at[&c.Key]
	switch {
	case !identifierForm.MatchString(c.Key):
		r.failAt(at, identifierRule, "captures: %s cannot be a key", quote(c.Key))
	case slices.Contains(reserved(), c.Key):
		r.failAt(at, "choose another key and set name: to what is shown",
			"captures: %s cannot be a key, it has a meaning of its own", quote(c.Key))
	}
	r.keys = append(r.keys, c.Key)
	c.Name = cmp.Or(c.Name, c.Key)
	c.video, c.Pacing.file = c.Video, c.Pacing.File
	c.Video, c.Pacing.File = r.join(c.Video), r.join(c.Pacing.File)
	r.measuredApart(r.f.Captures[:i], c, at)
}

// MeasuredLog returns where pacing: measure keeps the log of a video: beside it, as
// NAME.pacing.csv.
func MeasuredLog(video string) string {
	return strings.TrimSuffix(video, filepath.Ext(video)) + ".pacing.csv"
}

// FullMeasuredLog is the name of that log where another capture differs only in its
// ending: NAME.mkv.pacing.csv.
func FullMeasuredLog(video string) string { return video + ".pacing.csv" }

// measuredApart gives a capture, if it is measured, a log of its own, or that of one
// before it that is measured alike.
func (r *resolver) measuredApart(before []Capture, last *Capture, at pos) {
	if !last.Pacing.Measure || last.Video == "" {
		return
	}
	name := MeasuredLog
	for _, c := range before {
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
func (r *resolver) known(at pos, name, key string) bool {
	if len(r.keys) == 0 || slices.Contains(r.keys, key) {
		return len(r.keys) > 0 // without captures that is the mistake to mend
	}
	return r.failAt(at, Suggest(key, r.keys, "captures here"), "%s: no capture %s", name, quote(key))
}

// knownIn checks that every capture that a mapping under defaults names exists, even one
// that no scene shows.
func (r *resolver) knownIn(n *yaml.Node, name string, t reflect.Type) {
	if n != nil && perCapture(n, t) {
		for i := 0; i < len(n.Content); i += 2 {
			r.known(posOf(n.Content[i]), name, n.Content[i].Value)
		}
	}
}

// ids checks that no two scenes share a file name. On some systems Ridge and ridge are
// the same name.
func (r *resolver) ids() {
	first := map[string]*Scene{}
	for i := range r.f.Scenes {
		s := &r.f.Scenes[i]
		at := r.at[&s.ID]
		if !at.ok {
			continue
		}
		fold := strings.ToLower(s.ID)
		switch other, twice := first[fold]; {
		case !twice:
			first[fold] = s
		case other.ID == s.ID:
			r.failAt(at, "", "id: %s is taken, by the scene on line %d",
				quote(s.ID), r.at[&other.ID].line)
		default:
			r.failAt(at, "file names on Windows and macOS ignore case",
				"id: %s differs only in case from %s on line %d",
				quote(s.ID), quote(other.ID), r.at[&other.ID].line)
		}
	}
}
