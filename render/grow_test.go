package render

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"fairframe/render/scene"
)

// A log that grows for another scene leaves clips up to date whose pacing it had before;
// one that somebody edits does not.
func TestGrowingLogKeepsClipsUpToDate(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	footage(t, filepath.Join(dir, "alder.mkv"), lavfi(strings.Replace(moving, "d=1.5", "d=9", 1), bt709...)...)
	const file = `
output: {folder: out, size: 640x360, rate: 60, delivery: lossless}
captures: {alder: {video: alder.mkv, pacing: measure}}
defaults: {captures: [alder], length: 50ms, audio: none}
scenes: [{id: ridge, start: 5s}, {id: shore, start: 1s}]
`
	p := reopen(t, dir, file, &scene.Cache{})
	c, _ := p.File.Capture("alder")
	expect(t, "one scene", batch(t, dir, file, BatchOptions{Only: []string{"ridge"}}), "ridge rendered")
	before, err := os.ReadFile(c.Pacing.Log)
	if err != nil {
		t.Fatal(err)
	}
	expect(t, "the other", batch(t, dir, file, BatchOptions{Only: []string{"shore"}}), "shore rendered")
	after, err := os.ReadFile(c.Pacing.Log)
	if err != nil {
		t.Fatal(err)
	}
	if strings.Count(string(after), "\n") <= strings.Count(string(before), "\n") {
		t.Fatalf("the log did not grow:\n%s\n%s", before, after)
	}
	expect(t, "both", batch(t, dir, file, BatchOptions{}), "ridge up to date, shore up to date")
	lines := strings.Split(strings.TrimSpace(string(after)), "\n")
	lines = append(lines[:len(lines)-5], lines[len(lines)-4:]...) // a row less
	write(t, c.Pacing.Log, strings.Join(lines, "\n")+"\n")
	expect(t, "with an edited log", batch(t, dir, file, BatchOptions{Only: []string{"shore"}}), "shore rendered")
}
