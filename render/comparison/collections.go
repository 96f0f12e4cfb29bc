package comparison

import (
	"reflect"
	"slices"
	"strconv"
	"strings"

	"fairframe/render/pacing"
	"go.yaml.in/yaml/v3"
)

// The values of a comparison file that hold others.

// readList reads a YAML list into the slice v.
func readList(d *decoder, v reflect.Value, n *yaml.Node, name string, tag reflect.StructTag) bool {
	v.SetZero()
	if n.Kind != yaml.SequenceNode {
		return d.fail(n, "a list is written [a, b], or with - before each item",
			"%s: expected a list, found %s", name, found(n))
	}
	ok := d.count(n, len(n.Content), name, tag)
	count := min(len(n.Content), int(tagNumber(tag, "max")))
	v.Set(reflect.MakeSlice(v.Type(), count, count))
	for i := range count {
		ok = d.read(v.Index(i), n.Content[i], name+"["+strconv.Itoa(i+1)+"]", tag) && ok
	}
	return ok
}

// count checks how many values n holds. Without limits, a small hostile file could cost
// much time and memory.
func (d *decoder) count(n *yaml.Node, have int, name string, tag reflect.StructTag) bool {
	least, most := int(tagNumber(tag, "min")), int(tagNumber(tag, "max"))
	if have >= least && have <= most {
		return true
	}
	return d.fail(n, "", "%s: expected %d to %d, found %d", name, least, most, have)
}

// table calls each for the keys of captures in n, and what they stand before.
func (d *decoder) table(n *yaml.Node, name string, tag reflect.StructTag,
	each func(key, content *yaml.Node) bool) bool {
	if n.Kind != yaml.MappingNode {
		return d.fail(n, "", "%s: expected a mapping, found %s", name, found(n))
	}
	if !d.count(n, len(n.Content)/2, name, tag) {
		return false
	}
	ok := true
	d.pairs(n, func(key, content *yaml.Node) { ok = each(key, content) && ok }, &ok)
	return ok
}

// readTable reads a mapping into the slice v of structs with a field Key.
func readTable(d *decoder, v reflect.Value, n *yaml.Node, name string, tag reflect.StructTag) bool {
	v.Set(reflect.MakeSlice(v.Type(), 0, len(n.Content)/2)) // which stays where it is
	return d.table(n, name, tag, func(key, content *yaml.Node) bool {
		v.SetLen(v.Len() + 1)
		one := v.Index(v.Len() - 1)
		one.FieldByName("Key").SetString(key.Value)
		d.at[one.FieldByName("Key").Addr().Interface()] = posOf(key)
		return d.read(one, content, name+"."+key.Value, "")
	})
}

// readPerCapture reads one value for all captures, under the key "", or a mapping with
// one for each, into the map v.
func readPerCapture(d *decoder, v reflect.Value, n *yaml.Node, name string, tag reflect.StructTag) bool {
	v.Set(reflect.MakeMap(v.Type()))
	read := func(key string, content *yaml.Node, name string) bool {
		one := reflect.New(v.Type().Elem()).Elem()
		ok := d.read(one, content, name, "")
		v.SetMapIndex(reflect.ValueOf(key), one)
		return ok
	}
	if !perCapture(n, v.Type().Elem()) {
		return read("", n, name)
	}
	return d.table(n, name, tag, func(key, content *yaml.Node) bool {
		return read(key.Value, content, name+"."+key.Value)
	})
}

// perCapture tells whether the keys of n are keys of captures, before values of type t.
// A time is never a mapping. A window may be one: there, the value of a capture's key is a
// mapping or the word whole, and that of a window's own key is neither. This sorts
// misspelt keys too.
func perCapture(n *yaml.Node, t reflect.Type) bool {
	if n.Kind != yaml.MappingNode || t != reflect.TypeFor[Window]() {
		return n.Kind == yaml.MappingNode
	}
	for i := 1; i < len(n.Content); i += 2 {
		if c := n.Content[i]; c.Kind == yaml.MappingNode || c.Kind == yaml.ScalarNode && c.Value == "whole" {
			return true
		}
	}
	return false
}

// readWindow reads the word whole, or a mapping. Keys that the mapping lacks change
// nothing.
func readWindow(d *decoder, w *Window, n *yaml.Node, name string, _ reflect.StructTag) bool {
	w.Whole = n.Kind == yaml.ScalarNode && n.Value == "whole"
	switch {
	case w.Whole:
		return true
	case n.Kind != yaml.MappingNode:
		return d.fail(n, "",
			"%s: expected whole or a mapping such as {center: [0.5, 0.5], magnify: 1}, found %s",
			name, found(n))
	}
	ok := d.fields(reflect.ValueOf(w).Elem(), n, name, "")
	if child(n, "moves") != nil {
		d.moves(w)
	}
	return ok
}

// moves completes the stops of a window. A stop keeps what it does not set from the stop
// before it.
func (d *decoder) moves(w *Window) {
	moves := w.Moves
	w.Moves = nil
	m := Move{Center: w.Center, Magnify: w.Magnify}
	for i := range moves {
		v := &moves[i]
		if !d.at[&v.At].ok {
			continue
		}
		if d.at[&v.Center].present() {
			m.Center = v.Center
		}
		if d.at[&v.Magnify].present() {
			m.Magnify = v.Magnify
		}
		if len(w.Moves) > 0 && (v.At < m.At || v.At == m.At && v.Held <= m.Held) {
			d.failAt(d.at[&v.At], "list the moves in order of time; held: separates moves at one instant",
				"moves[%d]: %s is not after the move before it", i+1, quote(d.at[&v.At].text))
			continue
		}
		m.At, m.Held = v.At, v.Held
		w.Moves = append(w.Moves, m)
	}
}

// readSource reads the path of a pacing log, a mapping that says how to read one, the
// word measure, or a mapping that says what of the pictures to measure.
func readSource(d *decoder, s *Source, n *yaml.Node, name string, _ reflect.StructTag) bool {
	const hint = "name a pacing log, such as captures/alder.csv, or write measure"
	measured := keysOf(reflect.TypeFor[measureKeys](), "")
	isMeasured := func(k keyed) bool { return child(n, k.key) != nil }
	switch {
	case n.Kind == yaml.ScalarNode && n.Value == "measure":
		s.Measure = true
		return true
	case n.Kind == yaml.MappingNode && slices.ContainsFunc(measured, isMeasured):
		m := measureKeys{Measure: true}
		ok := d.into(&m, n, name, "")
		*s = Source{Measure: true, Region: m.Region, Ignore: m.Ignore, Tears: m.Tears}
		if !ok || m.Measure {
			return ok
		}
		return d.fail(n, hint, "%s: measure: false says nothing", name)
	case n.Kind == yaml.ScalarNode:
		return readPath(d, &s.File, n, name, "")
	case n.Kind != yaml.MappingNode:
		return d.fail(n, hint, "%s: expected a path or a mapping, found %s", name, found(n))
	}
	var l logFormat
	if !d.into(&l, n, name, "") {
		return false
	}
	s.File, s.Format = l.File, pacing.Format{Column: l.Column, Starts: l.Starts}
	// The words in the tags are pacing's own; a test holds them together.
	s.Format.Means, _ = pacing.ParseMeaning(l.Means)
	s.Format.Unit, _ = pacing.ParseUnit(l.Unit)
	return d.logFormat(&l, name)
}

// logFormat checks that the keys of a log agree.
func (d *decoder) logFormat(l *logFormat, name string) bool {
	ok := true
	column, means, unit := d.at[&l.Column], d.at[&l.Means], d.at[&l.Unit]
	for _, k := range []struct {
		pos
		key string
	}{{means, "means"}, {unit, "unit"}} {
		if k.present() && !column.present() {
			ok = d.failAt(k.pos, "name the column that it is about", "%s: %s says nothing without column",
				name, k.key)
		}
	}
	switch {
	case column.present() && !means.present():
		ok = d.failAt(column, "add means: with one of "+strings.Join(words(tagOf[logFormat]("Means")), ", "),
			"%s: does not say what column %s means", name, quote(l.Column))
	case l.Means == "new-frame" && unit.present():
		ok = d.failAt(unit, "remove unit", "%s: new-frame has no unit", name)
	}
	return ok
}

// tagOf returns the tag of a field of T.
func tagOf[T any](field string) reflect.StructTag {
	f, _ := reflect.TypeFor[T]().FieldByName(field)
	return f.Tag
}
