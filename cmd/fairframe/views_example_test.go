package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"fairframe/render/comparison"
)

// TestViewsExample: every scene of examples/views.yaml renders without a warning
// at its own size, and examples/README.md shows a small picture of it.
func TestViewsExample(t *testing.T) {
	text, page := document(t, "examples/views.yaml"), document(t, "examples/README.md")
	f, err := comparison.Parse("views.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range f.Scenes {
		name := "pictures/" + s.ID + ".jpg"
		info, err := os.Stat(filepath.Join("..", "..", "examples", filepath.FromSlash(name)))
		if err != nil || info.Size() > 25_000 {
			t.Errorf("the picture of scene %s: %v, %v (sh examples/pictures.sh)", s.ID, info, err)
		}
		if !strings.Contains(page, "("+name+")") || !strings.Contains(page, "`"+s.ID+"`") {
			t.Errorf("examples/README.md does not show %s", name)
		}
	}
	for _, m := range regexp.MustCompile(`\]\(([^)#:]+)\)`).FindAllStringSubmatch(page, -1) {
		if _, err := os.Stat(filepath.Join("..", "..", "examples", m[1])); err != nil {
			t.Errorf("examples/README.md leads nowhere: %v", err)
		}
	}
	if said := renderSmall(t, text, len(f.Scenes)); strings.Contains(said, "warning:") {
		t.Error(said)
	}
}
