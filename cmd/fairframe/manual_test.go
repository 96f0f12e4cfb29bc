package main

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"fairframe/render/comparison"
)

var keyTable = regexp.MustCompile(`(?ms)^<!-- keys of (\w+) -->\n(.*?)^<!-- end -->$`)

// manualText returns README.md and all topics of the manual.
func manualText(t *testing.T) string {
	t.Helper()
	text := document(t, "README.md")
	for _, name := range topics() {
		text += "\n" + topic(name)
	}
	return text
}

// TestManualTables: the manual's tables of keys say what the types say, and each
// mapping of the comparison file has one. With -update it writes them.
func TestManualTables(t *testing.T) {
	tables := comparison.Keys()
	shown := map[string]bool{}
	for _, name := range topics() {
		file := filepath.Join("help", name+".md")
		text := document(t, "cmd/fairframe/help/"+name+".md")
		want := keyTable.ReplaceAllStringFunc(text, func(s string) string {
			of := keyTable.FindStringSubmatch(s)[1]
			if tables[of] == nil {
				t.Errorf("%s: the comparison file has no mapping %s", file, of)
			}
			shown[of] = true
			return "<!-- keys of " + of + " -->\n" + keyRows(tables[of]) + "<!-- end -->"
		})
		if text == want {
			continue
		}
		if !*update {
			t.Errorf("%s differs from the types; run go test ./cmd/fairframe -run Manual -update", file)
		} else if err := os.WriteFile(file, []byte(want), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for of := range tables {
		// The keys of defaults are all in the scene's table.
		if !shown[of] && of != "defaults" {
			t.Errorf("no topic has the keys of %s", of)
		}
	}
}

// keyRows writes the keys of a mapping as a table of Markdown.
func keyRows(keys []comparison.Key) string {
	quoted := regexp.MustCompile(`(^|[ (])'([a-z0-9_-]+)'`)
	text := "| key | meaning |\n|---|---|\n"
	for _, k := range keys {
		does := quoted.ReplaceAllString(strings.ReplaceAll(k.Does, "|", `\|`), "$1`$2`")
		listed := func(v string) bool { return strings.Contains(does, "`"+v+"`") }
		if len(k.Values) > 0 && !slices.ContainsFunc(k.Values, listed) {
			does += ": `" + strings.Join(k.Values, "`, `") + "`"
		}
		if k.Unset != "" {
			does += " [" + k.Unset + "]"
		}
		text += "| `" + k.Name + "` | " + does + " |\n"
	}
	return text
}

// TestManual: each topic has a file, each file is a topic, and all of them show well
// in a terminal and lead somewhere on the web.
func TestManual(t *testing.T) {
	files, err := filepath.Glob("help/*.md")
	if err != nil || len(files) != len(topics()) {
		t.Errorf("%d files, %d topics, %v", len(files), len(topics()), err)
	}
	listed, readme := helpOf(t, ""), document(t, "README.md")
	for _, name := range topics() {
		text := topic(name)
		if !strings.HasPrefix(text, "# ") || !strings.Contains(listed, "\n  "+name+" ") {
			t.Errorf("%s has no title, or help does not list it", name)
		}
		if !strings.Contains(readme, "](cmd/fairframe/help/"+name+".md)") {
			t.Errorf("the README does not lead to %s", name)
		}
		for _, m := range regexp.MustCompile(`\]\(([^):]+)\)`).FindAllStringSubmatch(text, -1) {
			to, _, _ := strings.Cut(m[1], "#")
			if _, err := os.Stat(filepath.Join("help", filepath.FromSlash(to))); err != nil {
				t.Errorf("%s leads nowhere: %v", name, err)
			}
		}
		shown := helpOf(t, name)
		if !strings.Contains(shown, plain(text, 80)) {
			t.Errorf("help %s does not show the topic", name)
		}
		for _, line := range strings.Split(plain(text, 80), "\n") {
			if n := utf8.RuneCountInString(line); n > 80 {
				t.Errorf("help %s: a line of %d characters: %s", name, n, line)
			}
			if regexp.MustCompile(`\]\(|<!--|\*\*\w`).MatchString(line) {
				t.Errorf("help %s shows its Markdown: %s", name, line)
			}
		}
	}
}

// TestPlain shows each kind of block in narrow text.
func TestPlain(t *testing.T) {
	const markdown = `# A title

Text of **two** lines that
are one paragraph, see [the deck](deck.md).
* first of two points, which is long
* second

<!-- keys of nothing -->
| key | meaning |
|---|---|
| ` + "`at`" + ` | the instant \| the place, in scene time |
<!-- end -->

` + "```yaml\n- id: [a]\n```\n"
	const want = `A title
=======

Text of two lines that are one
paragraph, see the deck
(fairframe help deck).
* first of two points, which
  is long
* second

key  meaning
---  -------------------------
at   the instant | the place,
     in scene time

    - id: [a]
`
	if got := plain(markdown, 30); got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
}
