package comparison

import (
	"encoding/json"
	"reflect"

	"go.yaml.in/yaml/v3"
)

// object is a JSON object.
type object = map[string]any

// generator writes schemas of the structs of the comparison file, one definition a type.
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
// "file".
func Keys() map[string][]Key {
	g := newGenerator()
	g.fields(reflect.TypeFor[File](), "")
	return g.tables
}

func newGenerator() *generator { return &generator{defs: object{}, tables: map[string][]Key{}} }

// Schema returns the JSON Schema (draft 2020-12) of the comparison file,
// generated from the types that read it. It checks keys, kinds and notations;
// what one value says about another only Parse checks.
func Schema() []byte {
	g := newGenerator()
	root := g.fields(reflect.TypeFor[File](), "")
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
	return kindOf(t, tag).schema(g, tag)
}

// mapping returns a reference to the schema of the struct t.
func (g *generator) mapping(t reflect.Type, tag reflect.StructTag) object {
	name := defName(t, tag)
	if g.defs[name] == nil {
		g.defs[name] = g.fields(t, tag)
	}
	return object{"$ref": "#/$defs/" + name}
}

// defName is the name of a mapping: that of its type, or of its key where that has keys
// of its own.
func defName(t reflect.Type, tag reflect.StructTag) string {
	if tag.Get("except") != "" {
		return tag.Get("key")
	}
	return lowerFirst(t.Name())
}

// fields returns the schema of a struct.
func (g *generator) fields(t reflect.Type, tag reflect.StructTag) object {
	name := defName(t, tag)
	properties, needed := object{}, []string{}
	for _, k := range keysOf(t, tag) {
		tag := k.field.Tag
		s := g.of(k.field.Type, tag)
		about := Key{Name: k.key, Does: tag.Get("doc"), Unset: tag.Get("default")}
		if _, is := s["enum"]; is {
			about.Values = words(tag)
		}
		if about.Does != "" {
			s["description"] = about.Does
		}
		if unset := tag.Get("unset"); unset != "" {
			s["description"], about.Unset = about.Does+" (default: "+unset+")", unset
		}
		if text := tag.Get("default"); text != "" {
			var v any
			if err := yaml.Unmarshal([]byte(text), &v); err != nil {
				panic("comparison: default of " + k.key + ": " + err.Error())
			}
			s["default"] = v
		}
		properties[k.key] = s
		g.tables[name] = append(g.tables[name], about)
		if tag.Get("need") != "" {
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

// patternSchema describes a value by its notation alone.
func patternSchema(pattern string, types ...string) func(reflect.StructTag) object {
	return func(reflect.StructTag) object { return scalarOf(pattern, types...) }
}

func textSchema(tag reflect.StructTag) object {
	s := scalarOf("", "number", "boolean")
	s["maxLength"] = tagNumber(tag, "max")
	if tag.Get("min") != "" {
		s["minLength"] = tagNumber(tag, "min")
	}
	return s
}

func optionSchema(reflect.StructTag) object {
	s := scalarOf("", "number", "boolean")
	s["maxLength"] = maxOption
	return s
}

func pathSchema(reflect.StructTag) object {
	s := scalarOf("", "number", "boolean")
	s["minLength"] = 1
	return s
}

func wordSchema(tag reflect.StructTag) object { return object{"enum": words(tag)} }

func faultsSchema(tag reflect.StructTag) object {
	list := object{"type": "array", "items": wordSchema(tag), "minItems": 1, "uniqueItems": true}
	return object{"anyOf": []any{wordSchema(tag), list}}
}

func rateSchema(tag reflect.StructTag) object {
	return limited(scalarOf(`^[0-9]+(/[0-9]+)?$`, "integer"), tagNumber(tag, "min"), tagNumber(tag, "max"))
}

// ratioPattern is what parseRatio reads.
const ratioPattern = `^([0-9]+\.?[0-9]*|\.[0-9]+|[0-9]+/[0-9]+)$`

func ratioSchema(tag reflect.StructTag) object {
	return limited(scalarOf(ratioPattern, "number"), tagRatio(tag, "min").Float(),
		tagRatio(tag, "max").Float())
}

func levelSchema(tag reflect.StructTag) object {
	return limited(scalarOf(levelPattern, "number"), tagNumber(tag, "min"), tagNumber(tag, "max"))
}

func intSchema(tag reflect.StructTag) object {
	return limited(object{"type": "integer"}, tagNumber(tag, "min"), tagNumber(tag, "max"))
}

func boxSchema(reflect.StructTag) object {
	return listOf(4, limited(object{"type": "integer"}, 0, maxBox))
}

func axisSchema(tag reflect.StructTag) object {
	return listOf(2, limited(scalarOf(ratioPattern, "number"), 0, tagRatio(tag, "max").Float()))
}

func arrowSchema(tag reflect.StructTag) object { return listOf(2, fractions(2)(tag)) }

func placesSchema(reflect.StructTag) object {
	one := limited(scalarOf(ratioPattern, "number"), 0, 1)
	return object{"anyOf": []any{one, object{"type": "array", "items": one, "minItems": 1, "maxItems": 2}}}
}

// fractions describes a list of so many numbers from 0 to 1.
func fractions(count int) func(reflect.StructTag) object {
	return func(reflect.StructTag) object {
		return listOf(count, limited(scalarOf(ratioPattern, "number"), 0, 1))
	}
}

// limited adds limits to the schema of a number.
func limited[T int | int64 | float64](s object, least, most T) object {
	s["minimum"], s["maximum"] = least, most
	return s
}

// listOf returns the schema of a list of so many items.
func listOf(count int, item object) object {
	return object{"type": "array", "items": item, "minItems": count, "maxItems": count}
}

const (
	spanPattern = `([0-9]+(\.[0-9]+)?(h|m|s|ms|us|µs|ns))+|[0-9]{2}:[0-9]{2}:[0-9]{2}(\.[0-9]+)?`
	timePattern = `^(` + spanPattern + `|[0-9]{2}:[0-9]{2}:[0-9]{2}[:;][0-9]{2,3}|f[0-9]+)$`
)

func spanSchema(tag reflect.StructTag) object {
	sign := ""
	if tagDuration(tag, "min") < 0 {
		sign = "-?"
	}
	return scalarOf(`^` + sign + `(` + spanPattern + `)$`)
}

// schema describes the values that hold others.
type schema = func(g *generator, tag reflect.StructTag) object

func mappingSchema(t reflect.Type) schema {
	return func(g *generator, tag reflect.StructTag) object { return g.mapping(t, tag) }
}

func listSchema(t reflect.Type) schema {
	return func(g *generator, tag reflect.StructTag) object {
		s := object{"type": "array", "items": g.of(t.Elem(), tag)}
		s["minItems"], s["maxItems"] = tagNumber(tag, "min"), tagNumber(tag, "max")
		if tag.Get("unique") != "" {
			s["uniqueItems"] = true
		}
		return s
	}
}

// tableSchema describes a mapping from keys of captures to the elements of t.
func tableSchema(t reflect.Type) schema {
	return func(g *generator, tag reflect.StructTag) object {
		return object{
			"type": "object", "propertyNames": object{"pattern": identifierPattern,
				"not": object{"enum": reserved()}},
			"additionalProperties": g.of(t.Elem(), ""),
			"minProperties":        tagNumber(tag, "min"), "maxProperties": tagNumber(tag, "max"),
		}
	}
}

func perCaptureSchema(t reflect.Type) schema {
	return func(g *generator, tag reflect.StructTag) object {
		return object{"anyOf": []any{g.of(t.Elem(), tag), tableSchema(t)(g, tag)}}
	}
}

func windowSchema(g *generator, _ reflect.StructTag) object {
	return object{"anyOf": []any{object{"const": "whole"}, g.mapping(reflect.TypeFor[Window](), "")}}
}

func markSchema(g *generator, _ reflect.StructTag) object {
	return g.mapping(reflect.TypeFor[annotation](), "")
}

func sourceSchema(g *generator, _ reflect.StructTag) object {
	return object{"anyOf": []any{
		object{"type": "string", "minLength": 1},
		g.mapping(reflect.TypeFor[logFormat](), ""),
		g.mapping(reflect.TypeFor[measureKeys](), ""),
	}}
}
