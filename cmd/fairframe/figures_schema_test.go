package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

var figuresSchemaFile = filepath.Join("..", "..", "examples", "figures.schema.json")

// figuresSchema makes the JSON Schema of figures --format json from its types.
func figuresSchema(t *testing.T) string {
	t.Helper()
	doc := schemaOf(reflect.TypeFor[figuresJSON]())
	doc["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	doc["title"] = "fairframe figures, version 1"
	doc["properties"].(map[string]any)["version"].(map[string]any)["const"] = 1
	var out strings.Builder
	enc := json.NewEncoder(&out)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(doc); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// schemaOf describes a type. Objects have all their keys and, so that mistakes
// show, no others.
func schemaOf(t reflect.Type) map[string]any {
	switch t.Kind() {
	case reflect.Pointer:
		s := schemaOf(t.Elem())
		s["type"] = []any{s["type"], "null"}
		return s
	case reflect.Slice:
		return map[string]any{"type": "array", "items": schemaOf(t.Elem())}
	case reflect.String:
		return map[string]any{"type": "string"}
	case reflect.Int:
		return map[string]any{"type": "integer"}
	case reflect.Float64:
		return map[string]any{"type": "number"}
	}
	properties := map[string]any{}
	var required []string
	for i := range t.NumField() {
		f := t.Field(i)
		p := schemaOf(f.Type)
		key := f.Tag.Get("json")
		p["description"] = f.Tag.Get("doc")
		// A difference may be below 0, nothing else may.
		kind := f.Type
		if kind.Kind() == reflect.Pointer {
			kind = kind.Elem()
		}
		if number := kind.Kind() == reflect.Float64 || kind.Kind() == reflect.Int; number && !strings.Contains(strings.ToLower(t.Name()), "dif") && key != "pixel_ratio_percent" && !belowFullScale(key) {
			p["minimum"] = 0
		}
		if key == "kind" {
			p["enum"] = []string{"hold", "cadence", "mixed", "unlocked", "varying", "still"}
		}
		properties[key] = p
		required = append(required, key)
	}
	return map[string]any{"type": "object", "properties": properties, "required": required, "additionalProperties": false}
}

// belowFullScale reports whether a key's value is a level, which full scale bounds
// and not zero.
func belowFullScale(key string) bool {
	return strings.HasSuffix(key, "_lufs") || strings.HasSuffix(key, "_dbtp") || strings.HasSuffix(key, "_db")
}

func TestFiguresSchemaIsCurrent(t *testing.T) {
	if *update {
		if err := os.WriteFile(figuresSchemaFile, []byte(figuresSchema(t)), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	kept, err := os.ReadFile(figuresSchemaFile)
	if err != nil {
		t.Fatal(err)
	}
	if strings.ReplaceAll(string(kept), "\r\n", "\n") != figuresSchema(t) {
		t.Errorf("%s differs from the types; run go test ./cmd/fairframe -run FiguresSchema -update", figuresSchemaFile)
	}
}

// compiledFiguresSchema returns the schema that is kept in examples, checked
// against the meta-schema of its draft.
func compiledFiguresSchema(t *testing.T) *jsonschema.Schema {
	t.Helper()
	s, err := jsonschema.NewCompiler().Compile(figuresSchemaFile)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func validate(s *jsonschema.Schema, text string) error {
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(text))
	if err != nil {
		return err
	}
	return s.Validate(doc)
}
