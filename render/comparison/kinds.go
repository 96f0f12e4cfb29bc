package comparison

import (
	"cmp"
	"fmt"
	"reflect"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"
)

// kind is a way to write a value: how it is read and how the schema describes it.
// Both are given the tag of the field that holds it.
type kind struct {
	// read fills v and reports whether the value is right; name says in errors which
	// value is meant.
	read   func(d *decoder, v reflect.Value, n *yaml.Node, name string, tag reflect.StructTag) bool
	schema func(g *generator, tag reflect.StructTag) object
}

// kindOf returns the kind of a field of type t. Lists and mappings by capture hand the
// tag on to what they hold.
func kindOf(t reflect.Type, tag reflect.StructTag) kind {
	switch tag.Get("kind") {
	case "table":
		return kind{readTable, tableSchema(t)}
	case "places":
		return single(readPlaces, placesSchema)
	case "region":
		return single(readRegion, fractions(4))
	case "arrow":
		return single(readArrow, arrowSchema)
	}
	switch {
	case t == reflect.TypeFor[Faults]():
		return single(readFaults, faultsSchema)
	case t.Kind() == reflect.Slice:
		return kind{readList, listSchema(t)}
	case t.Kind() == reflect.Map:
		return kind{readPerCapture, perCaptureSchema(t)}
	}
	name := cmp.Or(tag.Get("kind"), t.String())
	if tag.Get("kind") == "" && tag.Get("words") != "" {
		name += " of words"
	}
	switch name {
	case "path":
		return single(readPath, pathSchema)
	case "option":
		return single(readOption, optionSchema)
	case "identifier":
		return single(readIdentifier, patternSchema(identifierPattern, "number", "boolean"))
	case "capture":
		return single(readCaptureKey, patternSchema("", "number", "boolean"))
	case "time":
		return single(readInstant, patternSchema(timePattern))
	case "string":
		return single(readText, textSchema)
	case "string of words":
		return single(readWord, wordSchema)
	case "bool":
		return single(readBool, func(reflect.StructTag) object { return object{"type": "boolean"} })
	case "bool of words":
		return single(readChoice, wordSchema)
	case "int":
		return single(readInt, intSchema)
	case "float64":
		return single(readLevel, levelSchema)
	case "image.Point":
		return single(readSize, patternSchema(sizeForm.String()))
	case "image.Rectangle":
		return single(readBox, boxSchema)
	case "pacing.Rate":
		return single(readRate, rateSchema)
	case "time.Duration":
		return single(readSpan, spanSchema)
	case "comparison.Time":
		return single(readTime, patternSchema(timePattern))
	case "layout.Fraction":
		return single(readRatio, ratioSchema)
	case "comparison.Point":
		return single(readPoint, fractions(2))
	case "comparison.Axis":
		return single(readAxis, axisSchema)
	case "comparison.Source":
		return kind{typed(readSource), sourceSchema}
	case "comparison.Window":
		return kind{typed(readWindow), windowSchema}
	case "comparison.Mark":
		return kind{typed(readMark), markSchema}
	case "comparison.Scene":
		return kind{typed(readScene), mappingSchema(t)}
	}
	return kind{(*decoder).fields, mappingSchema(t)}
}

// reader reads a value of one type.
type reader[T any] func(d *decoder, v *T, n *yaml.Node, name string, tag reflect.StructTag) bool

func typed[T any](read reader[T]) func(*decoder, reflect.Value, *yaml.Node, string, reflect.StructTag) bool {
	return func(d *decoder, v reflect.Value, n *yaml.Node, name string, tag reflect.StructTag) bool {
		return read(d, v.Addr().Interface().(*T), n, name, tag)
	}
}

// single is the kind of a value that is replaced as a whole, and is zero when wrong.
func single[T any](read reader[T], schema func(reflect.StructTag) object) kind {
	return kind{
		typed(func(d *decoder, v *T, n *yaml.Node, name string, tag reflect.StructTag) bool {
			*v = *new(T)
			return read(d, v, n, name, tag)
		}),
		func(_ *generator, tag reflect.StructTag) object { return schema(tag) },
	}
}

// words returns the words in a tag.
func words(tag reflect.StructTag) []string {
	list := strings.Fields(tag.Get("words"))
	for i := range list {
		list[i] = strings.ReplaceAll(list[i], "+", " ")
	}
	return list
}

// tagNumber returns the whole number in a tag.
func tagNumber(tag reflect.StructTag, key string) int64 {
	n, err := strconv.ParseInt(tag.Get(key), 10, 64)
	if err != nil {
		panic(fmt.Sprintf("comparison: tag %s of %q: %v", key, tag, err))
	}
	return n
}

// tagDuration returns the time in a tag.
func tagDuration(tag reflect.StructTag, key string) time.Duration {
	t, err := time.ParseDuration(tag.Get(key))
	if err != nil {
		panic(fmt.Sprintf("comparison: tag %s of %q: %v", key, tag, err))
	}
	return t
}

// tagRatio returns the number in a tag.
func tagRatio(tag reflect.StructTag, key string) Ratio {
	r, err := parseRatio(tag.Get(key))
	if err != nil {
		panic(fmt.Sprintf("comparison: tag %s of %q: %v", key, tag, err))
	}
	return r
}
