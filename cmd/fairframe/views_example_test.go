package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"fairframe/render/comparison"
	"fairframe/render/demo"
	"fairframe/render/media"
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
	tools, err := media.Find("")
	if err != nil {
		t.Fatalf("the tests need ffmpeg: %v", err)
	}
	dir := t.TempDir()
	if _, err := demo.Write(t.Context(), tools, dir, demo.Options{Length: demo.MinLength, Size: smallSize()}); err != nil {
		t.Fatal(err)
	}
	small := strings.Replace(text, "size: 1920x1080", "size: 640x360", 1)
	file := filepath.Join(dir, "views.yaml")
	write(t, file, small)
	var out, errs strings.Builder
	if code := run(t.Context(), []string{"batch", file, "--quiet"}, &out, &errs); code != exitDone {
		t.Errorf("exit code %d\n%s%s", code, &out, &errs)
	}
	if n := strings.Count(out.String(), "  rendered  "); n != len(f.Scenes) || strings.Contains(errs.String(), "warning:") {
		t.Errorf("%d scenes of %d were rendered\n%s%s", n, len(f.Scenes), &out, &errs)
	}
}
