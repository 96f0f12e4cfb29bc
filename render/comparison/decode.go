package comparison

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"fairframe/render/pacing"
	"github.com/agnivade/levenshtein"
	"go.yaml.in/yaml/v3"
)

// pos says where in the file a value stands and whether it could be read. The
// zero pos belongs to a value that is not in the file.
type pos struct {
	line, col int
	ok        bool
	text      string // of a single value, as written
}

// present reports whether the value is in the file, even if it is wrong.
func (p pos) present() bool { return p.line > 0 }

func posOf(n *yaml.Node) pos {
	if n == nil {
		return pos{}
	}
	return pos{line: n.Line, col: n.Column, text: n.Value}
}

// decoder reads one file and collects its mistakes.
type decoder struct {
	file   string
	errors Errors
	at     map[any]pos // by the pointer to the field that holds the value
	rate   pacing.Rate // of the output; times of a clip or a scene may count its frames
	first  Scene       // as tags have it: what each scene begins with
	window Window      // as tags have it
	base   *yaml.Node  // the keys under defaults; each scene reads them before its own
}

// fail adds a mistake at n and returns false.
func (d *decoder) fail(n *yaml.Node, hint, format string, args ...any) bool {
	return d.failAt(posOf(n), hint, format, args...)
}

func (d *decoder) failAt(at pos, hint, format string, args ...any) bool {
	e := &Error{File: d.file, Line: at.line, Col: at.col, Msg: fmt.Sprintf(format, args...), Hint: hint}
	// A mistake under defaults is found again in each scene.
	if !d.full() && !slices.ContainsFunc(d.errors, func(o *Error) bool { return *o == *e }) {
		d.errors = append(d.errors, e)
	}
	return false
}

// full reports whether there are already more mistakes than the program prints.
func (d *decoder) full() bool { return len(d.errors) > 10*maxErrors }

// result returns the mistakes in the order of their lines, or nil.
func (d *decoder) result() error {
	if len(d.errors) == 0 {
		return nil
	}
	slices.SortStableFunc(d.errors, func(a, b *Error) int {
		if a.Line != b.Line {
			return a.Line - b.Line
		}
		return a.Col - b.Col
	})
	if len(d.errors) > maxErrors {
		d.errors = append(d.errors[:maxErrors],
			&Error{File: d.file, Msg: fmt.Sprintf("more mistakes follow; these are the first %d", maxErrors)})
	}
	return d.errors
}

// into reads n into what v points to; see read.
func (d *decoder) into(v any, n *yaml.Node, name string, tag reflect.StructTag) bool {
	return d.read(reflect.ValueOf(v).Elem(), n, name, tag)
}

// read reads n into v and notes where v stands. name says in errors which value is
// meant; tag is that of the field that holds v.
func (d *decoder) read(v reflect.Value, n *yaml.Node, name string, tag reflect.StructTag) bool {
	ok := false
	if isNull(n) {
		d.fail(n, "", "%s: no value", name)
	} else {
		ok = kindOf(v.Type(), tag).read(d, v, n, name, tag)
	}
	p := posOf(n)
	p.ok = ok
	d.at[v.Addr().Interface()] = p
	return ok
}

// isNull reports whether a value is missing or null.
func isNull(n *yaml.Node) bool {
	return n.Kind == yaml.ScalarNode && n.ShortTag() == "!!null"
}

// fields reads the mapping n into the struct v, in the order of its fields. Keys that n
// lacks leave their fields as they are.
func (d *decoder) fields(v reflect.Value, n *yaml.Node, name string, tag reflect.StructTag) bool {
	known := keysOf(v.Type(), tag)
	valid := make([]string, len(known))
	for i, k := range known {
		valid[i] = k.key
	}
	keys := "valid keys here: " + strings.Join(valid, ", ")
	if n.Kind != yaml.MappingNode {
		return d.fail(n, keys, "%s: expected a mapping, found %s", name, found(n))
	}
	ok := true
	excused := map[string]bool{} // written in another way: one mistake, not two
	d.pairs(n, func(key, content *yaml.Node) {
		switch {
		case slices.Contains(valid, key.Value):
		case d.full():
			ok = false // a hint costs more than the key did
		default:
			near := nearest(key.Value, valid)
			excused[near] = true
			hint := Suggest(key.Value, valid, "valid keys here")
			// One letter off is a slip, even where that is another mapping's key.
			slip := near != "" && levenshtein.ComputeDistance(key.Value, near) == 1
			if place := belongs(v.Type(), key.Value); place != "" && !slip {
				hint = place + "; " + keys
			}
			ok = d.fail(key, hint, "unknown key %s", quote(key.Value))
		}
	}, &ok)
	for _, k := range known {
		switch content := child(n, k.key); {
		case content != nil:
			ok = d.read(v.FieldByIndex(k.field.Index), content, k.key, k.field.Tag) && ok
		case k.field.Tag.Get("need") != "" && !excused[k.key]:
			at := ""
			if name != "" {
				at = name + ": "
			}
			ok = d.fail(n, k.key+": "+lowerFirst(k.field.Tag.Get("doc")), "%smissing key %q", at, k.key)
		}
	}
	return ok
}

// pairs calls each for every key of the mapping n and its content. It does not do so for
// a key that is no word or that is there twice; ok is false then.
func (d *decoder) pairs(n *yaml.Node, each func(key, content *yaml.Node), ok *bool) {
	first := map[string]int{}
	for i := 0; i+1 < len(n.Content); i += 2 {
		key, content := n.Content[i], n.Content[i+1]
		if key.Kind != yaml.ScalarNode || isNull(key) {
			*ok = d.fail(key, "", "a key must be a word, found %s", found(key))
			continue
		}
		if line, twice := first[key.Value]; twice {
			*ok = d.fail(key, "", "key %s is set twice, first on line %d", quote(key.Value), line)
			continue
		}
		first[key.Value] = key.Line
		each(key, content)
	}
}

// scalar returns the text of a single value as it was written.
func (d *decoder) scalar(n *yaml.Node, name, expected string) (string, bool) {
	if n.Kind != yaml.ScalarNode || isNull(n) {
		return "", d.fail(n, "", "%s: expected %s, found %s", name, expected, found(n))
	}
	return n.Value, true
}

// found names what a node is.
func found(n *yaml.Node) string {
	switch {
	case n.Kind == yaml.MappingNode:
		return "a mapping"
	case n.Kind == yaml.SequenceNode:
		return "a list"
	case isNull(n):
		return "nothing"
	}
	return quote(n.Value)
}

// keyed is a field with a key.
type keyed struct {
	key   string
	field reflect.StructField
}

// keysOf returns the keys of a struct in the order of its fields, without the one
// that tag excepts.
func keysOf(t reflect.Type, tag reflect.StructTag) (known []keyed) {
	for i := range t.NumField() {
		f := t.Field(i)
		if key := f.Tag.Get("key"); key != "" && key != tag.Get("except") {
			known = append(known, keyed{key, f})
		}
	}
	return known
}

// fill gives the fields of v the defaults in their tags.
func (d *decoder) fill(v reflect.Value) {
	for _, k := range keysOf(v.Type(), "") {
		f := v.FieldByIndex(k.field.Index)
		text, set := k.field.Tag.Lookup("default")
		switch {
		case set:
			var n yaml.Node
			if err := yaml.Unmarshal([]byte(text), &n); err != nil ||
				!kindOf(f.Type(), k.field.Tag).read(d, f, n.Content[0], k.key, k.field.Tag) {
				panic("comparison: the default of " + k.key + " is wrong: " + text)
			}
		case f.Kind() == reflect.Struct && len(keysOf(f.Type(), "")) > 0:
			d.fill(f)
		}
	}
}

func lowerFirst(s string) string {
	if s == "" {
		return ""
	}
	return strings.ToLower(s[:1]) + s[1:]
}
