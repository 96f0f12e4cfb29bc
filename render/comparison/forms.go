package comparison

import (
	"reflect"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

// The values of a comparison file that hold others.

// list is a YAML list.
type list[T any] struct {
	mark
	items []T
}

func (v *list[T]) read(d *decoder, n *yaml.Node, name string, tag reflect.StructTag) bool {
	if n.Kind != yaml.SequenceNode {
		return d.fail(n, "a list is written [a, b], or with - before each item",
			"%s: expected a list, found %s", name, found(n))
	}
	ok := d.count(n, len(n.Content), name, tag)
	v.items = make([]T, min(len(n.Content), int(tagNumber(tag, "max"))))
	for i := range v.items {
		ok = d.into(&v.items[i], n.Content[i], name+"["+strconv.Itoa(i+1)+"]", "") && ok
	}
	return ok
}

// count checks how many values n holds. The limits keep a hostile file from
// costing more than its size.
func (d *decoder) count(n *yaml.Node, have int, name string, tag reflect.StructTag) bool {
	least, most := int(tagNumber(tag, "min")), int(tagNumber(tag, "max"))
	if have >= least && have <= most {
		return true
	}
	return d.fail(n, "", "%s: expected %d to %d, found %d", name, least, most, have)
}

// table is a YAML mapping whose keys are keys of captures.
type table[T any] struct {
	mark
	entries []entry[T]
}

type entry[T any] struct {
	key   string
	at    mark // of the key
	value T
}

func (v *table[T]) read(d *decoder, n *yaml.Node, name string, tag reflect.StructTag) bool {
	if n.Kind != yaml.MappingNode {
		return d.fail(n, "", "%s: expected a mapping, found %s", name, found(n))
	}
	if !d.count(n, len(n.Content)/2, name, tag) {
		return false
	}
	ok := true
	d.pairs(n, func(key, content *yaml.Node) {
		v.entries = append(v.entries, entry[T]{key: key.Value, at: mark{line: key.Line, col: key.Column}})
		ok = d.into(&v.entries[len(v.entries)-1].value, content, name+"."+key.Value, "") && ok
	}, &ok)
	return ok
}

// get returns the value under that key, or nil.
func (v *table[T]) get(key string) *T {
	for i := range v.entries {
		if v.entries[i].key == key {
			return &v.entries[i].value
		}
	}
	return nil
}

// perCapture is one value for all captures, or a mapping with one for each.
type perCapture[T any] struct {
	mark
	all  *T
	each table[T]
}

func (v *perCapture[T]) read(d *decoder, n *yaml.Node, name string, tag reflect.StructTag) bool {
	if n.Kind == yaml.MappingNode && isPerCapture[T](n) {
		return d.into(&v.each, n, name, tag)
	}
	v.all = new(T)
	return d.into(v.all, n, name, tag)
}

// isPerCapture tells the keys of captures from the keys of a window. What a
// capture's key stands before is a window, and what a window's key stands
// before is not: that also sorts misspelt keys. A time is never a mapping.
func isPerCapture[T any](n *yaml.Node) bool {
	if _, isWindow := any((*T)(nil)).(*window); !isWindow {
		return true
	}
	for i := 1; i < len(n.Content); i += 2 {
		if c := n.Content[i]; c.Kind == yaml.MappingNode || c.Kind == yaml.ScalarNode && c.Value == "whole" {
			return true
		}
	}
	return false
}

// window is the word whole, or a mapping.
type window struct {
	mark
	whole bool
	windowKeys
}

func (v *window) read(d *decoder, n *yaml.Node, name string, _ reflect.StructTag) bool {
	if n.Kind == yaml.ScalarNode && n.Value == "whole" {
		v.whole = true
		return true
	}
	if n.Kind != yaml.MappingNode {
		return d.fail(n, "",
			"%s: expected whole or a mapping such as {center: [0.5, 0.5], magnify: 1}, found %s",
			name, found(n))
	}
	return d.into(&v.windowKeys, n, name, "")
}

// source is the path of a pacing log, a mapping that says how to read one, the
// word measure, or a mapping that says what of the pictures to measure.
type source struct {
	mark
	logFormat
	measure  bool
	measured measureKeys
}

// measures tells a mapping that is about measuring from one about a log.
func measures(n *yaml.Node) bool {
	for i := 0; i < len(n.Content); i += 2 {
		if key := n.Content[i].Value; slices.Contains([]string{"measure", "region", "ignore", "tears"}, key) {
			return true
		}
	}
	return false
}

func (v *source) read(d *decoder, n *yaml.Node, name string, _ reflect.StructTag) bool {
	const hint = "name a pacing log, such as captures/alder.csv, or write measure"
	switch {
	case n.Kind == yaml.ScalarNode && n.Value == "measure":
		v.measure = true
		return true
	case n.Kind == yaml.MappingNode && measures(n):
		v.measure = true
		v.measured.Measure.bool = true
		if ok := d.into(&v.measured, n, name, ""); !ok || v.measured.Measure.bool {
			return ok
		}
		return d.fail(n, hint, "%s: measure: false says nothing", name)
	case n.Kind == yaml.ScalarNode:
		return d.into(&v.File, n, name, "")
	case n.Kind != yaml.MappingNode:
		return d.fail(n, hint, "%s: expected a path or a mapping, found %s", name, found(n))
	}
	ok := d.into(&v.logFormat, n, name, "")
	if !ok {
		return false
	}
	for _, k := range []struct {
		mark
		key string
	}{{v.Means.mark, "means"}, {v.Unit.mark, "unit"}} {
		if k.present() && !v.Column.present() {
			ok = d.failAt(k.mark, "name the column that it is about", "%s: %s says nothing without column",
				name, k.key)
		}
	}
	switch {
	case v.Column.present() && !v.Means.present():
		meanings := strings.Join(words(tagOf[logFormat]("Means")), ", ")
		ok = d.failAt(v.Column.mark, "add means: with one of "+meanings,
			"%s: does not say what column %s means", name, quote(v.Column.string))
	case v.Means.string == "new-frame" && v.Unit.present():
		ok = d.failAt(v.Unit.mark, "remove unit", "%s: new-frame has no unit", name)
	}
	return ok
}

// tagOf returns the tag of a field of T.
func tagOf[T any](field string) reflect.StructTag {
	f, _ := reflect.TypeFor[T]().FieldByName(field)
	return f.Tag
}
