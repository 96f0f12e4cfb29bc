package comparison

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"go.yaml.in/yaml/v3"
)

var update = flag.Bool("update", false, "write examples/comparison.schema.json anew")

const schemaFile = "../../examples/comparison.schema.json"

func TestSchemaFileIsCurrent(t *testing.T) {
	if *update {
		if err := os.WriteFile(schemaFile, Schema(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	kept, err := os.ReadFile(schemaFile)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(bytes.ReplaceAll(kept, []byte("\r\n"), []byte("\n")), Schema()) {
		t.Errorf("%s differs from what the types say; run go test ./render/comparison -update", schemaFile)
	}
}

// compiled returns the schema, checked against the meta-schema of its draft.
func compiled(t *testing.T) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(Schema()))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("comparison.schema.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("comparison.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// loaded returns the YAML as an editor sees it.
func loaded(t *testing.T, text string) any {
	t.Helper()
	var v any
	if err := yaml.Unmarshal([]byte(text), &v); err != nil {
		t.Fatal(err)
	}
	return v
}

// rich uses every key, and every form of the values that have several.
const rich = `title: 2024
output: {folder: clips/here, size: 1080x1920, rate: 60000/1001, delivery: lossless}
fonts: {text: fonts/a.ttf, bold: fonts/b.ttf}
captures:
  alder: {video: a.mkv, pacing: a.csv, name: 7, detail: "60 Hz: quality", raster: 1408x792}
  birch_2: {video: b.mkv, pacing: {file: b.txt}}
  cedar.x: {video: c.mkv, pacing: {file: c.txt, column: t, means: time-stamp, unit: us, starts: -1.5s}}
  fir: {video: d.mkv, pacing: {file: d.txt, column: new, means: new-frame, starts: 00:00:01.5}}
  elm: {video: e.mkv}
defaults:
  captures: [alder, birch_2]
  start: {alder: 1s, birch_2: f12, cedar.x: 00:00:01:15, fir: 250ms}
  length: f480
  view: columns
  window: {magnify: 1.5, kernel: nearest}
  deck: {place: over, rate-axis: [0, 130], time-axis: [0, 33.4], rate-window: 500ms, tread-span: 2s, tabs: false}
  caption: ""
  audio: none
scenes:
  - id: 1
  - id: all
    captures: [alder, cedar.x, fir]
    start: 00:01:30;15
    length: 00:00:08:30
    window: {alder: whole, cedar.x: {center: [1/3, .5]}, fir: {magnify: 3/2}}
    deck: {place: none}
    caption: Lake
    audio: fir
    summary: 2.5s
  - id: whole_picture
    start: 1m30s
    window: whole
    deck: {tabs: true}
  - id: elm
    captures: [alder, elm]
    start: {elm: 2s}
    window: {elm: {center: [0, 1]}}
    deck: {place: none}
`

func TestSchemaAccepts(t *testing.T) {
	s := compiled(t)
	texts := map[string]string{"designed": designed, "rich": rich}
	files, err := filepath.Glob("../../examples/*.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range files {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		texts[name] = string(text)
	}
	for name, text := range texts {
		if _, err := Parse(name, []byte(text)); err != nil {
			t.Errorf("%s: Parse: %v", name, err)
		}
		if err := s.Validate(loaded(t, text)); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// What the schema refuses, Parse refuses too; the reverse need not hold.
func TestSchemaRefuses(t *testing.T) {
	s := compiled(t)
	for _, c := range []struct{ old, new, want string }{
		{"length: 8s", "lenght: 8s", "additional properties 'lenght' not allowed"},
		{"view: columns", "view: wipes", "at '/scenes/0/view': value must be one of 'auto', 'columns', 'rows', 'single', 'inset', 'wipe', 'alternate', 'difference'"},
		{"1920x1080           #", "1080p #", "at '/output/size': '1080p' does not match pattern"},
		{"rate: 60   ", "rate: 59.94 ", "at '/output/rate'"},
		{"rate: 60   ", "rate: 241 ", "at '/output/rate': maximum: got 241, want 240"},
		{"delivery: web", "delivery: wbe", "at '/output/delivery': value must be one of 'web', 'hevc', 'av1', 'hdr', 'edit', 'dnxhr', 'lossless', 'overlay', 'gif', 'webp'"},
		{"    video: captures/birch.mkv\n", "", "at '/captures/birch': missing property 'video'"},
		{"pacing: captures/alder.csv", "pacing: {region: [0, 0, 9]}", "at '/captures/alder/pacing'"},
		{"means: frame-time", "means: frametime", "at '/captures/birch/pacing'"},
		{"  birch:\n", "  mix:\n", "invalid propertyName 'mix'"},
		{"[alder, birch]", "[alder, birch, a, b, c]", "at '/scenes/0/captures': maxItems: got 5, want 4"},
		{"[alder, birch]", "[]", "at '/scenes/0/captures': minItems: got 0, want 1"},
		{"[alder, birch]", "[alder, alder]", "at '/scenes/0/captures': items at 0 and 1 are equal"},
		{"alder: 3s", "alder: 3", "at '/scenes/0/start"},
		{"length: 8s", "length: 8", "at '/scenes/0/length': got number, want string"},
		{"length: 8s", "length: 8 s", "at '/scenes/0/length': '8 s' does not match pattern"},
		{"[0.5, 0.5]", "[0.5, 1.5]", "at '/scenes/0/window"},
		{"magnify: 1", "magnify: 65", "at '/scenes/0/window"},
		{"magnify: 1", "moves: [{center: [0, 0]}]", "at '/scenes/0/window"},
		{"{place: below}", "none", "at '/scenes/0/deck': got string, want object"},
		{"{place: below}", "{place: above}", "at '/scenes/0/deck/place': value must be one of 'below', 'over', 'none'"},
		{"{place: below}", "{rate-axis: [0, 1001]}", "at '/scenes/0/deck/rate-axis/1': maximum: got 1,001, want 1,000"},
		{"{place: below}", "{tread-span: f90}", "at '/scenes/0/deck/tread-span': 'f90' does not match pattern"},
		{"view: columns", "summary: 4", "at '/scenes/0/summary': got number, want string"},
		{"view: columns", "summary: f240", "at '/scenes/0/summary': 'f240' does not match pattern"},
		{"id: ridge", "id: a/b", "at '/scenes/0/id': 'a/b' does not match pattern"},
		{"  - id: ridge\n    captures", "  - captures", "at '/scenes/0': missing property 'id'"},
		{"scenes:\n", "defaults: {id: x}\nscenes:\n", "at '/defaults': additional properties 'id' not allowed"},
	} {
		if strings.Count(designed, c.old) != 1 {
			t.Fatalf("%q is not in the example once", c.old)
		}
		text := strings.Replace(designed, c.old, c.new, 1)
		if err := s.Validate(loaded(t, text)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %s", c.new, err, c.want)
		}
		if _, err := Parse("c.yaml", []byte(text)); err == nil {
			t.Errorf("%s: Parse accepts it", c.new)
		}
	}
}

// Everything a schema describes has a description, and the defaults that it
// states are those that Parse fills in.
func TestSchemaDefaultsAreTrue(t *testing.T) {
	const bare = `
captures:
  alder: {video: a.mkv, pacing: {file: a.csv%s}}
  birch: {video: b.mkv, pacing: b.csv}
output: {folder: elsewhere%s}
scenes:
  - {id: a, captures: [alder, birch], start: 0s, length: 1s%s, window: {center: [0.5, 0.5]%s}, deck: {place: below%s}}
`
	doc := loaded(t, string(Schema())).(map[string]any)
	stated := map[string][]string{}
	visit := func(name string, schema any) {
		for key, p := range schema.(map[string]any)["properties"].(map[string]any) {
			if p.(map[string]any)["description"] == nil {
				t.Errorf("%s in %s has no description", key, name)
			}
			if v, is := p.(map[string]any)["default"]; is {
				text, err := json.Marshal(v)
				if err != nil {
					t.Fatal(err)
				}
				stated[name] = append(stated[name], fmt.Sprintf(", %s: %s", key, text))
			}
		}
	}
	visit("file", doc)
	for name, d := range doc["$defs"].(map[string]any) {
		visit(name, d)
	}
	settings := func(name string) string {
		text := ""
		for _, s := range stated[name] {
			if !strings.HasPrefix(s, ", folder:") && !strings.HasPrefix(s, ", center:") && !strings.HasPrefix(s, ", place:") {
				text += s
			}
		}
		return text
	}
	without := parse(t, fmt.Sprintf(bare, "", "", "", "", ""))
	with := parse(t, fmt.Sprintf(bare, settings("logFormat"), settings("output"), settings("scene"), settings("window"), settings("deck")))
	if a, b := without.Canonical(&without.Scenes[0]), with.Canonical(&with.Scenes[0]); !bytes.Equal(a, b) {
		t.Errorf("without: %s\nwith:    %s", a, b)
	}
	if n := len(stated["output"]) + len(stated["scene"]) + len(stated["window"]) + len(stated["deck"]) + len(stated["logFormat"]); n != 18 {
		t.Errorf("%d defaults are stated: %v", n, stated)
	}
	// The three that the text above sets itself.
	f := parse(t, strings.NewReplacer("folder: elsewhere%s", "", "center: [0.5, 0.5]%s", "magnify: 1", "place: below%s", "tabs: true", "%s", "").Replace(bare))
	if f.Output.Folder != filepath.FromSlash("reviews/out") || !bytes.Equal(f.Canonical(&f.Scenes[0]), without.Canonical(&without.Scenes[0])) {
		t.Errorf("folder %s, %s", f.Output.Folder, f.Canonical(&f.Scenes[0]))
	}
}
