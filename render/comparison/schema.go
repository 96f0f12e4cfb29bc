package comparison

import (
	"encoding/json"
	"reflect"

	"go.yaml.in/yaml/v3"
)

// object is a JSON object.
type object = map[string]any

// generator writes schemas of the types in document.go, one definition a type.
type generator struct {
	defs   object
	tables map[string][]Key
}

// Key describes a key of the comparison file.
type Key struct {
	Name   string
	Does   string
	Values []string // of a word
	Unset  string   // what holds without the key, in words; may be empty
}

// Keys returns the keys of each mapping in the comparison file, in their order.
// The mappings have the names of the schema's definitions; the file itself is
// "document".
func Keys() map[string][]Key {
	g := newGenerator()
	g.fields(reflect.TypeFor[document]())
	return g.tables
}

func newGenerator() *generator { return &generator{defs: object{}, tables: map[string][]Key{}} }

// Schema returns the JSON Schema (draft 2020-12) of the comparison file,
// generated from the types that read it. It checks keys, kinds and notations;
// what one value says about another only Parse checks.
func Schema() []byte {
	g := newGenerator()
	root := g.fields(reflect.TypeFor[document]())
	root["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	root["title"] = "fairframe comparison file, version 1"
	root["$defs"] = g.defs
	text, err := json.MarshalIndent(root, "", "  ")
	if err != nil {
		panic(err) // a schema is made of maps, lists and words
	}
	return append(text, '\n')
}

// of returns the schema of a value of type t in a field with that tag.
func (g *generator) of(t reflect.Type, tag reflect.StructTag) object {
	v := reflect.New(t).Interface()
	if known, is := v.(value); is {
		return known.schema(g, tag)
	}
	if g.defs[t.Name()] == nil {
		g.defs[t.Name()] = g.fields(t)
	}
	return object{"$ref": "#/$defs/" + t.Name()}
}

// fields returns the schema of a struct.
func (g *generator) fields(t reflect.Type) object {
	known, _ := keysOf(reflect.New(t).Elem())
	properties, needed := object{}, []string{}
	for _, k := range known {
		s := g.of(k.value.Type(), k.tag)
		about := Key{Name: k.key, Does: k.tag.Get("doc"), Unset: k.tag.Get("default")}
		if _, is := s["enum"]; is {
			about.Values = words(k.tag)
		}
		if about.Does != "" {
			s["description"] = about.Does
		}
		if unset := k.tag.Get("unset"); unset != "" {
			s["description"], about.Unset = about.Does+" (default: "+unset+")", unset
		}
		if text := k.tag.Get("default"); text != "" {
			var v any
			if err := yaml.Unmarshal([]byte(text), &v); err != nil {
				panic("comparison: default of " + k.key + ": " + err.Error())
			}
			s["default"] = v
		}
		properties[k.key] = s
		g.tables[t.Name()] = append(g.tables[t.Name()], about)
		if k.tag.Get("need") != "" {
			needed = append(needed, k.key)
		}
	}
	s := object{"type": "object", "properties": properties, "additionalProperties": false}
	if len(needed) > 0 {
		s["required"] = needed
	}
	return s
}

// scalarOf returns the schema of a value that YAML may take for a number when
// it stands without quotes. A pattern says nothing about numbers.
func scalarOf(pattern string, types ...string) object {
	s := object{"type": append([]string{"string"}, types...)}
	if len(types) == 0 {
		s["type"] = "string"
	}
	if pattern != "" {
		s["pattern"] = pattern
	}
	return s
}

func (text) schema(_ *generator, tag reflect.StructTag) object {
	s := scalarOf("", "number", "boolean")
	s["maxLength"] = tagNumber(tag, "max")
	if tag.Get("min") != "" {
		s["minLength"] = tagNumber(tag, "min")
	}
	return s
}

func (option) schema(*generator, reflect.StructTag) object {
	s := scalarOf("", "number", "boolean")
	s["maxLength"] = maxOption
	return s
}

func (path) schema(*generator, reflect.StructTag) object {
	s := scalarOf("", "number", "boolean")
	s["minLength"] = 1
	return s
}

func (identifier) schema(*generator, reflect.StructTag) object {
	return scalarOf(identifierPattern, "number", "boolean")
}

func (reference) schema(*generator, reflect.StructTag) object {
	return scalarOf("", "number", "boolean")
}

func (word) schema(_ *generator, tag reflect.StructTag) object { return object{"enum": words(tag)} }

func (choices) schema(_ *generator, tag reflect.StructTag) object {
	one := object{"enum": words(tag)}
	return object{"anyOf": []any{one, object{"type": "array", "items": one, "minItems": 1, "uniqueItems": true}}}
}

func (toggle) schema(*generator, reflect.StructTag) object { return object{"type": "boolean"} }

func (size) schema(*generator, reflect.StructTag) object { return scalarOf(sizeForm.String()) }

func (rate) schema(_ *generator, tag reflect.StructTag) object {
	s := scalarOf(`^[0-9]+(/[0-9]+)?$`, "integer")
	s["minimum"], s["maximum"] = tagNumber(tag, "min"), tagNumber(tag, "max")
	return s
}

// ratioPattern is what parseRatio reads.
const ratioPattern = `^([0-9]+\.?[0-9]*|\.[0-9]+|[0-9]+/[0-9]+)$`

func (ratio) schema(_ *generator, tag reflect.StructTag) object {
	s := scalarOf(ratioPattern, "number")
	least, _ := parseRatio(tag.Get("min"))
	most, _ := parseRatio(tag.Get("max"))
	s["minimum"], s["maximum"] = least.Float(), most.Float()
	return s
}

func (level) schema(_ *generator, tag reflect.StructTag) object {
	s := scalarOf(levelPattern, "number")
	s["minimum"], s["maximum"] = tagNumber(tag, "min"), tagNumber(tag, "max")
	return s
}

func (point) schema(*generator, reflect.StructTag) object { return numbers(2, "1") }

func (region) schema(*generator, reflect.StructTag) object { return numbers(4, "1") }

func (arrow) schema(*generator, reflect.StructTag) object {
	return object{"type": "array", "items": numbers(2, "1"), "minItems": 2, "maxItems": 2}
}

func (axis) schema(_ *generator, tag reflect.StructTag) object { return numbers(2, tag.Get("max")) }

func (places) schema(*generator, reflect.StructTag) object {
	one := scalarOf(ratioPattern, "number")
	one["minimum"], one["maximum"] = 0, 1
	return object{"anyOf": []any{one, object{"type": "array", "items": one, "minItems": 1, "maxItems": 2}}}
}

func (whole) schema(_ *generator, tag reflect.StructTag) object {
	return object{"type": "integer", "minimum": tagNumber(tag, "min"), "maximum": tagNumber(tag, "max")}
}

func (box) schema(*generator, reflect.StructTag) object {
	item := object{"type": "integer", "minimum": 0, "maximum": maxBox}
	return object{"type": "array", "items": item, "minItems": 4, "maxItems": 4}
}

// numbers returns the schema of a list of so many numbers from 0 to most.
func numbers(count int, most string) object {
	limit, _ := parseRatio(most)
	item := scalarOf(ratioPattern, "number")
	item["minimum"], item["maximum"] = 0, limit.Float()
	return object{"type": "array", "items": item, "minItems": count, "maxItems": count}
}

const spanPattern = `([0-9]+(\.[0-9]+)?(h|m|s|ms|us|µs|ns))+|[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]+)?`

func (moment) schema(*generator, reflect.StructTag) object {
	return scalarOf(`^(` + spanPattern + `|[0-9]{2}:[0-9]{2}:[0-9]{2}[:;][0-9]{2,3}|f[0-9]+)$`)
}

func (span) schema(_ *generator, tag reflect.StructTag) object {
	sign := ""
	if tagDuration(tag, "min") < 0 {
		sign = "-?"
	}
	return scalarOf(`^` + sign + `(` + spanPattern + `)$`)
}

func (list[T]) schema(g *generator, tag reflect.StructTag) object {
	s := object{"type": "array", "items": g.of(reflect.TypeFor[T](), "")}
	s["minItems"], s["maxItems"] = tagNumber(tag, "min"), tagNumber(tag, "max")
	if tag.Get("unique") != "" {
		s["uniqueItems"] = true
	}
	return s
}

func (table[T]) schema(g *generator, tag reflect.StructTag) object {
	s := object{
		"type": "object", "propertyNames": object{"pattern": identifierPattern,
			"not": object{"enum": reserved()}},
		"additionalProperties": g.of(reflect.TypeFor[T](), tag),
	}
	s["minProperties"], s["maxProperties"] = tagNumber(tag, "min"), tagNumber(tag, "max")
	return s
}

func (perCapture[T]) schema(g *generator, tag reflect.StructTag) object {
	return object{"anyOf": []any{g.of(reflect.TypeFor[T](), tag), table[T]{}.schema(g, tag)}}
}

func (window) schema(g *generator, _ reflect.StructTag) object {
	return object{"anyOf": []any{object{"const": "whole"}, g.of(reflect.TypeFor[windowKeys](), "")}}
}

func (source) schema(g *generator, _ reflect.StructTag) object {
	return object{"anyOf": []any{
		object{"type": "string", "minLength": 1},
		g.of(reflect.TypeFor[logFormat](), ""),
		g.of(reflect.TypeFor[measureKeys](), ""),
	}}
}
