package render

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"fairframe/render/comparison"
	"fairframe/render/record"
	"fairframe/render/scene"
)

// Every scene is in one shard, whatever their number, and the shards differ by no more
// work than the costliest scene is.
func TestShards(t *testing.T) {
	text := "captures:\n  alder: {video: a.mkv}\n  birch: {video: b.mkv}\nscenes:\n"
	for i := range 40 {
		text += fmt.Sprintf("  - {id: s%d, captures: [alder, birch], start: 1s, length: %ds, deck: {place: none}}\n", i, 1+i*i%13)
	}
	f := parsed(t, text)
	all, err := pick(f, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range []int{1, 2, 3, 7, 40, 41} {
		seen := map[string]int{}
		least, most, costliest := int64(1)<<62, int64(0), int64(0)
		for k := 1; k <= n; k++ {
			sum, last := int64(0), -1
			for _, s := range (Shard{k, n}).of(f, all) {
				seen[s.ID]++
				sum += Cost(f, s)
				costliest = max(costliest, Cost(f, s))
				at := strings.Index(text, "id: "+s.ID+",")
				if at < last {
					t.Errorf("%d/%d: %s stands out of the file's order", k, n, s.ID)
				}
				last = at
			}
			least, most = min(least, sum), max(most, sum)
		}
		for _, s := range all {
			if seen[s.ID] != 1 {
				t.Errorf("of %d shards %d have scene %s", n, seen[s.ID], s.ID)
			}
		}
		if most-least > costliest {
			t.Errorf("%d shards: from %d to %d, and no scene costs more than %d", n, least, most, costliest)
		}
	}
	for text, ok := range map[string]bool{"1/1": true, "2/8": true, "0/8": false, "9/8": false, "1": false, "1/2/3": false, "-1/2": false, "": false, "1/2x": false} {
		if _, got := ParseShard(text); got != ok {
			t.Errorf("%q: %v", text, got)
		}
	}
}

// parsed is a comparison file in a folder of its own.
func parsed(t *testing.T, text string) *comparison.File {
	t.Helper()
	path := filepath.Join(t.TempDir(), "c.yaml")
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	f, err := comparison.Read(path)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// Shards that run at once leave what a single batch leaves, once they are merged; what a
// killed shard did not do is what the next run does.
func TestShardsAndMerge(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	small(t, dir)
	rows, err := Merge(reopen(t, dir, smallFile, &scene.Cache{}), nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rows {
		if r.Status != Failed || !strings.Contains(r.Err.Error(), "not rendered yet") {
			t.Errorf("before anything is rendered: %s %s, %v", r.Scene, r.Status, r.Err)
		}
	}
	manifest := filepath.Join(dir, "out", record.ManifestName)
	if err := os.Remove(manifest); err != nil {
		t.Fatal(err)
	}

	var wg sync.WaitGroup
	for k := 1; k <= 4; k++ { // one more than there are scenes
		wg.Go(func() {
			p := reopen(t, dir, smallFile, &scene.Cache{})
			rows, err := Batch(t.Context(), p, BatchOptions{Shard: Shard{k, 4}})
			if err != nil || len(rows) > 1 {
				t.Errorf("shard %d: %d rows, %v", k, len(rows), err)
			}
			for _, r := range rows {
				if r.Status != Rendered {
					t.Errorf("shard %d: %s %s, %v", k, r.Scene, r.Status, r.Err)
				}
			}
		})
	}
	wg.Wait()
	if _, err := os.Stat(manifest); !os.IsNotExist(err) {
		t.Errorf("a shard wrote the manifest: %v", err)
	}
	listed := func(want string) {
		t.Helper()
		list, err := List(reopen(t, dir, smallFile, &scene.Cache{}), BatchOptions{})
		if err != nil {
			t.Fatal(err)
		}
		var words []string
		for _, one := range list {
			words = append(words, one.Scene+": "+one.Why)
			if one.Frames == 0 || one.Cost <= one.Frames || one.Err != nil {
				t.Errorf("%+v", one)
			}
		}
		expect(t, "listed", strings.Join(words, ", "), want)
	}
	listed("ridge: , shore: , pass: ")
	if rows, err = Merge(reopen(t, dir, smallFile, &scene.Cache{}), nil); err != nil {
		t.Fatal(err)
	}
	for _, r := range rows {
		if r.Status != UpToDate || r.Err != nil {
			t.Errorf("merged: %s %s, %v", r.Scene, r.Status, r.Err)
		}
	}
	if m, err := os.ReadFile(manifest); err != nil || strings.Count(string(m), `"fingerprint"`) != 3 {
		t.Errorf("the merged manifest: %s, %v", m, err)
	}
	expect(t, "a batch afterwards", batch(t, dir, smallFile, BatchOptions{}), "ridge up to date, shore up to date, pass up to date")

	// The manifest is only a view of the records: without it nothing is lost.
	if err := os.WriteFile(manifest, []byte("{}"), 0o644); err != nil {
		t.Fatal(err)
	}
	expect(t, "with a spoilt manifest", batch(t, dir, smallFile, BatchOptions{}), "ridge up to date, shore up to date, pass up to date")

	clip := filepath.Join(dir, "out", rows[0].Scene+filepath.Ext(rows[0].Out))
	if err := os.Remove(clip); err != nil {
		t.Fatal(err)
	}
	listed("ridge: the clip is not there, shore: , pass: ")
	if err := os.WriteFile(clip, []byte("another"), 0o644); err != nil {
		t.Fatal(err)
	}
	listed("ridge: the clip was changed, shore: , pass: ")
	if err := os.WriteFile(filepath.Join(dir, "out", record.RecordsName, "ridge.json"), []byte("{"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Remove(manifest); err != nil {
		t.Fatal(err)
	}
	listed("ridge: the clip has no record, shore: , pass: ")
	changed := strings.Replace(smallFile, "id: shore", "id: shore, caption: other", 1)
	list, err := List(reopen(t, dir, changed, &scene.Cache{}), BatchOptions{Only: []string{"shore"}})
	if err != nil || len(list) != 1 || list[0].Why != "setting caption has changed" {
		t.Errorf("%+v, %v", list, err)
	}
}
