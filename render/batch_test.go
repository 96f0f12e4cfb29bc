package render

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"fairframe/render/record"
	"fairframe/render/scene"
)

// knownIn holds what is known of the captures in a folder, which batch takes to stay
// as they are.
var knownIn sync.Map

// batch runs a batch of dir/c.yaml, read anew, and returns what became of the
// scenes: "ridge rendered, shore up to date".
func batch(t *testing.T, dir, text string, o BatchOptions) string {
	t.Helper()
	k, _ := knownIn.LoadOrStore(dir, &scene.Cache{})
	rows, err := Batch(t.Context(), reopen(t, dir, text, k.(*scene.Cache)), o)
	if err != nil {
		t.Fatal(err)
	}
	var words []string
	for _, r := range rows {
		words = append(words, r.Scene+" "+string(r.Status))
		if r.Status == Rendered || r.Status == UpToDate {
			if _, err := os.Stat(r.Out); err != nil {
				t.Error(err)
			}
		}
		if (r.Err != nil) != (r.Status == Failed) {
			t.Errorf("%s %s: %v", r.Scene, r.Status, r.Err)
		}
	}
	return strings.Join(words, ", ")
}

func expect(t *testing.T, what, got, want string) {
	t.Helper()
	if got != want {
		t.Errorf("%s: %s, want %s", what, got, want)
	}
}

func TestBatch(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	small(t, dir)
	const idle = "ridge up to date, shore up to date, pass up to date"
	expect(t, "at first", batch(t, dir, smallFile, BatchOptions{}), "ridge rendered, shore rendered, pass rendered")
	expect(t, "again", batch(t, dir, smallFile, BatchOptions{}), idle)
	expect(t, "in the file's order", batch(t, dir, smallFile, BatchOptions{Only: []string{"pass", "ridge"}}), "ridge up to date, pass up to date")

	// A clip that is not the one that was rendered is rendered again.
	out := func(id string) string { return filepath.Join(dir, "out", id+".mkv") }
	if err := os.Remove(out("ridge")); err != nil {
		t.Fatal(err)
	}
	later(t, out("shore"))
	expect(t, "clips lost and touched", batch(t, dir, smallFile, BatchOptions{}), "ridge rendered, shore rendered, pass up to date")
	expect(t, "after that", batch(t, dir, smallFile, BatchOptions{}), idle)

	// A log that changes concerns the scenes that draw it.
	writeLog(t, filepath.Join(dir, "alder.csv"), cadence(30, 2, 1))
	expect(t, "another log", batch(t, dir, smallFile, BatchOptions{}), "ridge rendered, shore rendered, pass up to date")

	expect(t, "fresh", batch(t, dir, smallFile, BatchOptions{Fresh: true, Only: []string{"pass"}}), "pass rendered")

	// One that fails: the others are done, and it is tried again each time. Its
	// old clip is not what the file describes any more, but it is not lost.
	broken := strings.Replace(smallFile, "start: 200ms", "start: 480ms", 1)
	expect(t, "one that fails", batch(t, dir, broken, BatchOptions{Fresh: true}), "ridge rendered, shore failed, pass rendered")
	expect(t, "it again", batch(t, dir, broken, BatchOptions{}), "ridge up to date, shore failed, pass up to date")
	if _, err := os.Stat(out("shore")); err != nil {
		t.Error(err)
	}
	expect(t, "mended", batch(t, dir, smallFile, BatchOptions{}), idle)

	// A clip rendered by itself counts; one rendered elsewhere does not.
	changed := strings.Replace(smallFile, "Launch", "Launches", 1)
	p := open(t, dir, changed)
	if _, err := Render(t.Context(), p, "ridge", filepath.Join(dir, "aside.mkv"), nil); err != nil {
		t.Fatal(err)
	}
	expect(t, "rendered elsewhere", batch(t, dir, changed, BatchOptions{Only: []string{"ridge"}}), "ridge rendered")
	changed = strings.Replace(smallFile, "Launch", "Launched", 1)
	if _, err := Render(t.Context(), open(t, dir, changed), "ridge", "", nil); err != nil {
		t.Fatal(err)
	}
	expect(t, "rendered by itself", batch(t, dir, changed, BatchOptions{}), idle)

	if left, err := filepath.Glob(filepath.Join(dir, "out", ".*")); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v (%v)", left, err)
	}
	if _, err := Batch(t.Context(), open(t, dir, smallFile), BatchOptions{Only: []string{"rigde"}}); err == nil || !strings.Contains(err.Error(), `no scene "rigde"`) {
		t.Errorf("an unknown scene: %v", err)
	}
}

// TestBatchAtOnce renders six scenes, four at a time: each is told of once, with
// progress that ends at its last frame, and the manifest has them all.
func TestBatchAtOnce(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	small(t, dir)
	text := smallFile
	for i := range 3 {
		text += fmt.Sprintf("  - {id: more%d, start: f%d}\n", i, 3+i)
	}
	var mu sync.Mutex
	told := map[string]string{}
	o := BatchOptions{Jobs: 4, Started: func(scene string) (Progress, func(Row)) {
		var last, of int64
		return func(done, total int64) { last, of = done, total }, func(r Row) {
			mu.Lock()
			defer mu.Unlock()
			told[scene] += fmt.Sprintf("%s %d of %d", r.Status, last, of)
		}
	}}
	rows, err := Batch(t.Context(), open(t, dir, text), o)
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 6 {
		t.Fatalf("%d rows", len(rows))
	}
	for _, r := range rows {
		if r.Status != Rendered || r.Result.Frames != 3 {
			t.Errorf("%s: %s, %d frames, %v", r.Scene, r.Status, r.Result.Frames, r.Err)
		}
		expect(t, r.Scene, told[r.Scene], "rendered 3 of 3")
	}
	m, err := record.OpenManifest(filepath.Join(dir, "out", "manifest.json"))
	if err != nil || len(m.Scenes) != 6 {
		t.Errorf("the manifest has %d scenes (%v)", len(m.Scenes), err)
	}
	if !strings.HasSuffix(batch(t, dir, text, BatchOptions{}), "more2 up to date") {
		t.Error("not all is up to date")
	}
}

// TestBatchInterrupted: what was done stays done and recorded, the rest is not
// done, and nothing unfinished lies about.
func TestBatchInterrupted(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	small(t, dir)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	o := BatchOptions{Jobs: 1, Started: func(scene string) (Progress, func(Row)) {
		if scene == "shore" {
			cancel()
		}
		return nil, func(Row) {}
	}}
	rows, err := Batch(ctx, open(t, dir, smallFile), o)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, r := range rows {
		got = append(got, string(r.Status))
	}
	expect(t, "interrupted", strings.Join(got, ", "), "rendered, not done, not done")
	files, err := filepath.Glob(filepath.Join(dir, "out", "*"))
	if err != nil || len(files) != 2 {
		t.Errorf("files %v (%v)", files, err)
	}
	expect(t, "taken up again", batch(t, dir, smallFile, BatchOptions{}), "ridge up to date, shore rendered, pass rendered")
}
