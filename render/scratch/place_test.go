package scratch

import (
	"os"
	"path/filepath"
	"testing"
)

// A finished file takes the place of a file and of a link, and of nothing that
// is no file.
func TestPlace(t *testing.T) {
	dir := t.TempDir()
	make := func(name string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(name), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	kept := make("kept")
	link := filepath.Join(dir, "link")
	if err := os.Symlink(kept, link); err != nil {
		t.Skip(err) // as on Windows, for most users
	}
	for _, path := range []string{filepath.Join(dir, "new"), make("old"), link} {
		if err := Place(make("part"), path); err != nil {
			t.Error(err)
		}
		if b, err := os.ReadFile(path); err != nil || string(b) != "part" {
			t.Errorf("%s holds %q (%v)", path, b, err)
		}
	}
	if b, err := os.ReadFile(kept); err != nil || string(b) != "kept" {
		t.Errorf("what the link led to holds %q (%v)", b, err)
	}
	device := filepath.Join(dir, "device")
	if err := os.Symlink(os.DevNull, device); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{os.DevNull, "/dev/fairframe-test", device} {
		if err := Place(make("part"), path); err == nil {
			t.Errorf("a file took the place of %s", path)
		}
	}
	if info, err := os.Stat(os.DevNull); err != nil || info.Mode().IsRegular() {
		t.Errorf("%s is now %v (%v)", os.DevNull, info, err)
	}
}
