package comparison

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

// mark says where in the file a value stands and whether it could be read. The
// zero mark belongs to a value that is not in the file.
type mark struct {
	line, col int
	ok        bool
}

func (m *mark) put(n *yaml.Node, ok bool) { *m = mark{n.Line, n.Column, ok} }

// present reports whether the value is in the file, even if it is wrong.
func (m mark) present() bool { return m.line > 0 }

// value is one that is read from a node and described in the schema. Both are
// given the tags of the field that holds it.
type value interface {
	// read fills the value and reports whether it is right; name says in errors
	// which value is meant.
	read(d *decoder, n *yaml.Node, name string, tag reflect.StructTag) bool
	schema(g *generator, tag reflect.StructTag) object
	put(n *yaml.Node, ok bool)
}

// decoder collects the mistakes of one file.
type decoder struct {
	file   string
	errors Errors
}

// fail adds a mistake at n and returns false.
func (d *decoder) fail(n *yaml.Node, hint, format string, args ...any) bool {
	return d.failAt(mark{line: n.Line, col: n.Column}, hint, format, args...)
}

func (d *decoder) failAt(m mark, hint, format string, args ...any) bool {
	e := &Error{File: d.file, Line: m.line, Col: m.col, Msg: fmt.Sprintf(format, args...), Hint: hint}
	// What is wrong under defaults is found again in each scene.
	if !d.full() && !slices.ContainsFunc(d.errors, func(o *Error) bool { return *o == *e }) {
		d.errors = append(d.errors, e)
	}
	return false
}

// full reports whether more mistakes are known than will ever be told.
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

// into reads n into v, a pointer to one of the types in document.go.
func (d *decoder) into(v any, n *yaml.Node, name string, tag reflect.StructTag) bool {
	ok := true
	if isNull(n) {
		ok = d.fail(n, "", "%s: no value", name)
	} else if known, is := v.(value); is {
		ok = known.read(d, n, name, tag)
	} else {
		ok = d.fields(v, n, name)
	}
	v.(interface{ put(*yaml.Node, bool) }).put(n, ok)
	return ok
}

// isNull reports whether nothing was written where a value is due, or null.
func isNull(n *yaml.Node) bool {
	return n.Kind == yaml.ScalarNode && n.ShortTag() == "!!null"
}

// fields reads the mapping n into the struct that v points to.
func (d *decoder) fields(v any, n *yaml.Node, name string) bool {
	known, planned := keysOf(reflect.ValueOf(v).Elem())
	valid := make([]string, len(known))
	for i, k := range known {
		valid[i] = k.key
	}
	keys := "valid keys here: " + strings.Join(valid, ", ")
	if n.Kind != yaml.MappingNode {
		return d.fail(n, keys, "%s: expected a mapping, found %s", name, found(n))
	}
	ok := true
	have := map[string]bool{}
	d.pairs(n, func(key, content *yaml.Node) {
		have[key.Value] = true
		i := slices.Index(valid, key.Value)
		switch {
		case i >= 0:
			ok = d.into(known[i].value.Addr().Interface(), content, key.Value, known[i].tag) && ok
		case slices.Contains(planned, key.Value):
			ok = d.fail(key, keys, "key %s does nothing yet", quote(key.Value))
		default:
			if d.full() {
				ok = false
				return // a hint costs more than the key did
			}
			have[nearest(key.Value, valid)] = true // one mistake, not two
			hint := Suggest(key.Value, valid, "valid keys here")
			if place := belongs(reflect.TypeOf(v).Elem(), key.Value); place != "" {
				hint = place + "; " + keys
			}
			ok = d.fail(key, hint, "unknown key %s", quote(key.Value))
		}
	}, &ok)
	for _, k := range known {
		if k.tag.Get("need") != "" && !have[k.key] {
			at := ""
			if name != "" {
				at = name + ": "
			}
			ok = d.fail(n, k.key+": "+lowerFirst(k.tag.Get("doc")), "%smissing key %q", at, k.key)
		}
	}
	return ok
}

// pairs calls each for every key of the mapping n and its content; ok becomes
// false when a key is no word or stands there twice, and each is not called.
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
	tag   reflect.StructTag
	value reflect.Value
}

// keysOf returns the keys of a struct in the order of its fields, and the keys
// that do nothing yet.
func keysOf(v reflect.Value) (known []keyed, planned []string) {
	for i := range v.NumField() {
		f := v.Type().Field(i)
		planned = append(planned, strings.Fields(f.Tag.Get("planned"))...)
		if key := f.Tag.Get("key"); key != "" {
			known = append(known, keyed{key, f.Tag, v.Field(i)})
		} else if f.Anonymous && f.Type != reflect.TypeFor[mark]() {
			k, p := keysOf(v.Field(i))
			known, planned = append(known, k...), append(planned, p...)
		}
	}
	return known, planned
}

func lowerFirst(s string) string {
	if s == "" {
		return ""
	}
	return strings.ToLower(s[:1]) + s[1:]
}
