package record

import (
	"os"
	"path/filepath"
	"testing"
)

// TestFolderOnDisk: a folder of pictures is up to date until one of them, or
// their number, changes.
func TestFolderOnDisk(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "frames")
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"frame-000000.png", "frame-000001.png"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(name), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	bytes, modified, err := OnDisk(dir)
	if err != nil || bytes != 32 {
		t.Fatalf("%d bytes, %v", bytes, err)
	}
	digest, err := DigestOfOutput(dir)
	if err != nil {
		t.Fatal(err)
	}
	m := &Manifest{Scenes: map[string]Entry{"a": {Fingerprint: "f", Output: Output{File: "frames", Bytes: bytes, Modified: modified}}}}
	if !m.UpToDate("a", "f", dir) {
		t.Error("an untouched folder is not up to date")
	}
	if err := os.WriteFile(filepath.Join(dir, "frame-000001.png"), []byte("another picture"), 0o644); err != nil {
		t.Fatal(err)
	}
	if m.UpToDate("a", "f", dir) {
		t.Error("a changed folder is up to date")
	}
	if other, err := DigestOfOutput(dir); err != nil || other == digest {
		t.Errorf("the digest stays %s, %v", other, err)
	}
}
