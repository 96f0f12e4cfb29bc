package comparison

import (
	"bytes"
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"fairframe/render/pacing"
)

// SetStarts returns the text of a comparison file, as Parse reads it from name,
// with the starts of one scene's captures set. starts holds a time, in any of
// the written forms, for each capture to be set; the scene's others keep theirs.
// Nothing but the starts changes: comments, order, blanks and quotes stay as they
// are. The result is read again, and is an error unless it is the same
// comparison with those starts.
func SetStarts(name string, data []byte, scene string, starts map[string]string) ([]byte, error) {
	before, err := Parse(name, data)
	if err != nil {
		return nil, err
	}
	s, err := before.Scene(scene)
	if err != nil {
		return nil, err
	}
	merged := map[string]string{}
	for key, t := range s.Start {
		merged[key] = t.String()
	}
	for key, t := range starts {
		if _, ok := merged[key]; !ok {
			return nil, fmt.Errorf("comparison: scene %s does not show capture %s", scene, quote(key))
		}
		if _, err := ParseTime(t); err != nil {
			return nil, err
		}
		merged[key] = t
	}
	e := &editor{text: data, lines: splitLines(data)}
	if err := e.setStarts(scene, s.Captures, starts, merged); err != nil {
		return nil, &Error{File: name, Line: s.Line, Msg: fmt.Sprintf("scene %s: %v", scene, err),
			Hint: "set start: by hand"}
	}
	after, err := Parse(name, e.text)
	if err != nil {
		return nil, fmt.Errorf(
			"comparison: the starts of scene %s cannot be set without breaking the file: %w", scene, err)
	}
	if err := sameButStarts(before, after, scene, merged); err != nil {
		return nil, err
	}
	return e.text, nil
}

// sameButStarts compares two files, of which the second should differ in the
// starts of one scene alone.
func sameButStarts(before, after *File, scene string, merged map[string]string) error {
	changed :=
		fmt.Errorf("comparison: setting the starts of scene %s would change something else; set "+
			"start: by hand", scene)
	if len(before.Scenes) != len(after.Scenes) {
		return changed
	}
	scenes := func(f *File) []Scene {
		list := append([]Scene(nil), f.Scenes...)
		for i := range list {
			list[i].Line = 0
			if list[i].ID == scene {
				list[i].Start = nil
			}
		}
		return list
	}
	was, is := *before, *after
	was.Scenes, is.Scenes = scenes(before), scenes(after)
	was.output, is.output = nil, nil // lines may move
	if !reflect.DeepEqual(was, is) {
		return changed
	}
	s, err := after.Scene(scene)
	if err != nil {
		return err
	}
	for key, t := range merged {
		want, err := ParseTime(t)
		if err != nil {
			return err
		}
		if s.Start[key].canonical() != want.canonical() {
			return changed
		}
	}
	return nil
}

// editor replaces parts of a YAML text by the places of its nodes.
type editor struct {
	text  []byte
	lines [][]byte // of the text as it was parsed
}

// lineBreak returns how long the line break is that text begins with, 0: none. YAML
// has more of them than editors show (1.1, section 4.2).
func lineBreak(text []byte) int {
	for _, b := range []string{"\r\n", "\n", "\r", "\u0085", "\u2028", "\u2029"} {
		if bytes.HasPrefix(text, []byte(b)) {
			return len(b)
		}
	}
	return 0
}

// splitLines cuts a text into the lines that YAML counts, with their ends.
func splitLines(text []byte) (lines [][]byte) {
	begin := 0
	for at := 0; at < len(text); {
		n := lineBreak(text[at:])
		at += max(1, n)
		if n > 0 {
			lines = append(lines, text[begin:at])
			begin = at
		}
	}
	return append(lines, text[begin:])
}

// offset returns where a node begins, in bytes. Columns count characters.
func (e *editor) offset(n *yaml.Node) int {
	at := 0
	for _, l := range e.lines[:n.Line-1] {
		at += len(l)
	}
	line := string(e.lines[n.Line-1])
	if n.Line == 1 {
		line = strings.TrimPrefix(line, "\ufeff")
		at += len(e.lines[0]) - len(line)
	}
	column := 1
	for i := range line {
		if column == n.Column {
			return at + i
		}
		column++
	}
	return at + len(line)
}

// scalarEnd returns where a scalar on one line ends, in bytes.
func (e *editor) scalarEnd(n *yaml.Node) (int, error) {
	at := e.offset(n)
	rest := e.text[at:]
	switch n.Style {
	case 0:
		if bytes.HasPrefix(rest, []byte(n.Value)) {
			return at + len(n.Value), nil
		}
	case yaml.SingleQuotedStyle, yaml.DoubleQuotedStyle:
		// A time needs no escapes.
		if end := 1 + len(n.Value); len(rest) > end && string(rest[1:end]) == n.Value &&
			rest[end] == rest[0] {
			return at + end + 1, nil
		}
	}
	return 0, fmt.Errorf("its start on line %d is written in a way that cannot be edited", n.Line)
}

func (e *editor) replace(from, to int, text string) {
	e.text = append(append(append([]byte(nil), e.text[:from]...), text...), e.text[to:]...)
}

var plainKey = regexp.MustCompile(`^[A-Za-z_][A-Za-z0-9_-]*$`)

func written(key string) string {
	if plainKey.MatchString(key) {
		return key
	}
	return fmt.Sprintf("%q", key)
}

// inline writes starts for the captures in the order shown.
func inline(captures []string, starts map[string]string) string {
	var parts []string
	for _, key := range captures {
		parts = append(parts, written(key)+": "+starts[key])
	}
	return "{" + strings.Join(parts, ", ") + "}"
}

func (e *editor) setStarts(id string, captures []string, starts, merged map[string]string) error {
	var doc yaml.Node
	if err := yaml.Unmarshal(e.text, &doc); err != nil {
		return err
	}
	scenes := child(doc.Content[0], "scenes")
	if scenes == nil {
		return fmt.Errorf("there are no scenes")
	}
	for _, s := range scenes.Content {
		if name := child(s, "id"); name != nil && name.Value == id {
			return e.setStart(s, captures, starts, merged)
		}
	}
	return fmt.Errorf("it was not found")
}

// child returns the content of a key of the mapping n, nil if it is not there.
func child(n *yaml.Node, key string) *yaml.Node {
	for i := 0; n != nil && i+1 < len(n.Content); i += 2 {
		if n.Content[i].Value == key {
			return n.Content[i+1]
		}
	}
	return nil
}

func (e *editor) setStart(scene *yaml.Node, captures []string, starts, merged map[string]string) error {
	start := child(scene, "start")
	switch {
	case start == nil:
		// From the defaults so far: a line, or a pair, after the id.
		text := "start: " + inline(captures, merged)
		return e.after(scene, child(scene, "id"), text)
	case start.Kind == yaml.ScalarNode:
		end, err := e.scalarEnd(start)
		if err == nil {
			e.replace(e.offset(start), end, inline(captures, merged))
		}
		return err
	}
	// From the back to the front, so that places stay right.
	var last *yaml.Node
	if n := len(start.Content); n > 0 {
		last = start.Content[n-1]
	}
	for i := len(captures) - 1; i >= 0; i-- {
		key := captures[i]
		if _, set := starts[key]; set && child(start, key) == nil {
			if last == nil {
				return fmt.Errorf("its start is empty")
			}
			if err := e.after(start, last, written(key)+": "+merged[key]); err != nil {
				return err
			}
		}
	}
	for i := len(start.Content) - 2; i >= 0; i -= 2 {
		t, set := starts[start.Content[i].Value]
		if !set {
			continue
		}
		end, err := e.scalarEnd(start.Content[i+1])
		if err != nil {
			return err
		}
		e.replace(e.offset(start.Content[i+1]), end, t)
	}
	return nil
}

// after adds a pair to a mapping, behind the scalar that is one of its values.
func (e *editor) after(mapping, value *yaml.Node, pair string) error {
	end, err := e.scalarEnd(value)
	if err != nil {
		return err
	}
	if mapping.Style&yaml.FlowStyle != 0 {
		e.replace(end, end, ", "+pair)
		return nil
	}
	line := "\n"
	if bytes.HasSuffix(e.lines[value.Line-1], []byte("\r\n")) {
		line = "\r\n"
	}
	for end < len(e.text) && lineBreak(e.text[end:]) == 0 {
		end++ // a comment stays with its value
	}
	e.replace(end, end, line+strings.Repeat(" ", mapping.Content[0].Column-1)+pair)
	return nil
}

// SetLogStarts returns the text of a comparison file with pacing: starts: of some
// captures set to the times given; a log named by its path alone becomes {file, starts}.
// Everything else stays, as with SetStarts.
func SetLogStarts(name string, data []byte, starts map[string]string) ([]byte, error) {
	before, err := Parse(name, data)
	if err != nil {
		return nil, err
	}
	text := data
	for _, c := range before.Captures {
		at, ok := starts[c.Key]
		if !ok {
			continue
		}
		e := &editor{text: text, lines: splitLines(text)}
		if err := e.setLogStart(c.Key, at); err != nil {
			return nil, &Error{File: name, Line: 1, Msg: fmt.Sprintf("capture %s: %v", c.Key, err),
				Hint: "set starts: by hand, to " + at}
		}
		text = e.text
	}
	after, err := Parse(name, text)
	if err != nil {
		return nil, fmt.Errorf("comparison: the starts of logs cannot be set without breaking the file: %w",
			err)
	}
	was, is := *before, *after
	was.Captures, is.Captures = nil, nil
	for i := range before.Captures {
		one := before.Captures[i]
		if at, ok := starts[one.Key]; ok {
			want, err := ParseTime(strings.TrimPrefix(at, "-"))
			if err != nil {
				return nil, err
			}
			if one.Pacing.Format.Starts, err = want.At(pacing.Rate{Num: 60, Den: 1}); err != nil {
				return nil, err
			}
			if strings.HasPrefix(at, "-") {
				one.Pacing.Format.Starts = -one.Pacing.Format.Starts
			}
		}
		was.Captures = append(was.Captures, one)
	}
	is.Captures = after.Captures
	for _, f := range []*File{&was, &is} {
		f.output, f.Scenes = nil, slices.Clone(f.Scenes) // lines may move
		for i := range f.Scenes {
			f.Scenes[i].Line = 0
		}
	}
	if !reflect.DeepEqual(was, is) {
		return nil, fmt.Errorf(
			"comparison: setting the starts of logs would change something else; set starts: by hand")
	}
	return text, nil
}

func (e *editor) setLogStart(key, at string) error {
	var doc yaml.Node
	if err := yaml.Unmarshal(e.text, &doc); err != nil {
		return err
	}
	capture := child(child(doc.Content[0], "captures"), key)
	if capture == nil {
		return fmt.Errorf("it was not found")
	}
	source := child(capture, "pacing")
	switch {
	case source == nil:
		return fmt.Errorf("it has no pacing")
	case source.Kind == yaml.ScalarNode:
		end, err := e.scalarEnd(source)
		if err == nil {
			begin := e.offset(source)
			path := string(e.text[begin:end])
			if strings.ContainsAny(path, ",{}[]") && source.Style == 0 {
				path = "'" + strings.ReplaceAll(source.Value, "'", "''") + "'"
			}
			e.replace(begin, end, "{file: "+path+", starts: "+at+"}")
		}
		return err
	case child(source, "starts") != nil:
		n := child(source, "starts")
		end, err := e.scalarEnd(n)
		if err == nil {
			e.replace(e.offset(n), end, at)
		}
		return err
	}
	return e.after(source, source.Content[len(source.Content)-1], "starts: "+at)
}
