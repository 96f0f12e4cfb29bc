package render

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"fairframe/render/finding"
	"fairframe/render/media/deliver"
	"fairframe/render/record"
	"fairframe/render/scratch"
)

// TestManifest: what is recorded is what is there, and reads back the same.
func TestManifest(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	small(t, dir)
	p := open(t, dir, smallFile)
	r := render(t, p, "ridge")
	path := filepath.Join(dir, "out", "manifest.json")
	m, err := record.OpenManifest(path)
	if err != nil {
		t.Fatal(err)
	}
	e, ok := m.Scenes["ridge"]
	if !ok || len(m.Scenes) != 1 {
		t.Fatalf("scenes %v", m.Scenes)
	}
	clip, err := os.Stat(r.Out)
	if err != nil {
		t.Fatal(err)
	}
	digest, err := record.DigestOfOutput(r.Out)
	if err != nil {
		t.Fatal(err)
	}
	packets, err := deliver.ReadDigests(t.Context(), p.Tools, r.Out)
	if err != nil || len(packets.Video) != 32 {
		t.Errorf("digests %v, %v", packets, err)
	}
	want := record.Output{SHA256: digest, VideoMD5: packets.Video, File: "ridge.mkv", Bytes: clip.Size(), Modified: clip.ModTime().UTC(), Width: 640, Height: 360, Rate: "60", Frames: 3,
		Seconds: 0.05, Codec: "ffv1", Pixels: "yuv420p", Colour: "bt709", Transfer: "bt709", Range: "tv"}
	e.Output.Modified = e.Output.Modified.UTC()
	if !reflect.DeepEqual(e.Output, want) {
		t.Errorf("output\n got %+v\nwant %+v", e.Output, want)
	}
	var roles []string
	for _, in := range e.Inputs {
		roles = append(roles, in.Role)
		info, err := os.Stat(in.Path)
		if err != nil || info.Size() != in.Bytes || !info.ModTime().Equal(in.Modified) {
			t.Errorf("input %+v: %v", in, err)
		}
	}
	expect(t, "inputs", strings.Join(roles, ", "), "capture alder, pacing alder, capture birch, pacing birch")
	mark, err := fingerprint(open(t, dir, smallFile), &p.File.Scenes[0])
	if err != nil || e.Fingerprint != mark {
		t.Errorf("fingerprint %s, want %s (%v)", e.Fingerprint, mark, err)
	}
	if len(e.Arguments) < 20 || !strings.HasPrefix(e.Program, "fairframe ") || e.Rendered.IsZero() || e.Seconds <= 0 {
		t.Errorf("entry %+v", e)
	}
	if m, want := p.Manifest(), path; m != want {
		t.Errorf("manifest at %s, want %s", m, want)
	}

	// What other programs read: the version and the comparison file it belongs to.
	var read map[string]any
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, &read); err != nil {
		t.Fatal(err)
	}
	if read["version"] != 1.0 || !strings.HasSuffix(read["comparison"].(string), "/c.yaml") || len(read["comparison_sha256"].(string)) != 64 {
		t.Errorf("head of the manifest: %v", read)
	}
}

// TestManifestOfNoUse: whatever lies in its place, a batch renders, and leaves a
// manifest that is of use.
func TestManifestOfNoUse(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	small(t, dir)
	text := strings.Split(smallFile, "  - {id: shore")[0]
	batch(t, dir, text, BatchOptions{})
	path := filepath.Join(dir, "out", "manifest.json")
	good, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for name, content := range map[string]string{
		"empty":           "",
		"cut off":         string(good[:len(good)/2]),
		"not JSON":        "scenes: {}",
		"another version": strings.Replace(string(good), `"version": 1`, `"version": 2`, 1),
		"nothing in it":   `{"version": 1, "scenes": {"ridge": {}}}`,
		"null":            "null",
	} {
		write(t, path, content)
		expect(t, name, batch(t, dir, text, BatchOptions{}), "ridge rendered")
		expect(t, "after "+name, batch(t, dir, text, BatchOptions{}), "ridge up to date")
	}
	// What cannot be read at all is said.
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(path, 0o755); err != nil {
		t.Fatal(err)
	}
	_, err = Batch(t.Context(), open(t, dir, text), BatchOptions{})
	var e *finding.Error
	if !errors.As(err, &e) || !strings.Contains(e.Msg, "manifest cannot be read") || e.Hint == "" {
		t.Errorf("a folder in its place: %v", err)
	}
}

// TestWriteFile leaves the old file alone until the new one is complete.
func TestWriteFile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.txt")
	for _, text := range []string{"one", "another"} {
		if err := scratch.WriteBytes(path, []byte(text)); err != nil {
			t.Fatal(err)
		}
		if b, err := os.ReadFile(path); err != nil || string(b) != text {
			t.Errorf("%q, %v", b, err)
		}
	}
	if err := scratch.WriteBytes(filepath.Join(dir, "none", "a.txt"), nil); err == nil || !strings.Contains(err.Error(), "cannot write beside") {
		t.Errorf("no folder: %v", err)
	}
	if list, err := os.ReadDir(dir); err != nil || len(list) != 1 {
		t.Errorf("files %v (%v)", list, err)
	}
}
