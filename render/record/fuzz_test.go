package record

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"
)

// FuzzManifest reads any text as the manifest of an output folder, as batch and
// verify do. One that cannot be used is as good as none; none makes a clip up to
// date that is not there.
func FuzzManifest(f *testing.F) {
	f.Add(`{"version": 1, "scenes": {}}`)
	f.Add(`{"version": 1, "scenes": {"a": {"fingerprint": "x", "output": {"file": "a.mp4", "bytes": 3, "sha256": "y"}, "record": {"version": 1, "scene": "a", "tolerated": [{"capture": "b"}]}}}}`)
	f.Add(`{"version": 1, "scenes": {"a": null}, "reels": {"r": {"scenes": ["a"], "record": {"reel": [{"scene": "a"}, {}]}}}, "comparison_relative": "../../../etc/passwd"}`)
	f.Add(`{"version": 2}`)
	f.Add("[[[[")
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, text string) {
		path := filepath.Join(dir, ManifestName)
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		m, err := OpenManifest(path)
		if err != nil || m.Scenes == nil {
			t.Fatalf("%+v, %v", m, err)
		}
		for id, e := range m.Scenes {
			if m.UpToDate(id, e.Fingerprint, filepath.Join(dir, "nowhere", filepath.Base(e.Output.File))) {
				t.Errorf("a clip that is not there is up to date: %+v", e)
			}
			for _, one := range m.Tolerated(id) {
				_ = one.String()
			}
			if known := m.find(filepath.Join(dir, e.Output.File), e.Output.SHA256); known != nil {
				v := &Verification{}
				for _, r := range known.records {
					v.damage(r, "")
				}
			}
			_ = m.scene(id)
		}
		for name, r := range m.Reels {
			_ = m.find(filepath.Join(dir, name), r.Output.SHA256)
		}
		if _, err := json.Marshal(m); err != nil {
			t.Errorf("what was read cannot be written: %v", err)
		}
	})
}

// FuzzRecord reads any text as the record that a clip carries.
func FuzzRecord(f *testing.F) {
	f.Add(`{"version": 1, "program": "p", "scene": "a", "settings": {"x": "y"}, "sources": [{"role": "capture a", "file": "b", "bytes": 1}]}`)
	f.Add(`{"version": 1, "reel": [{"version": 1, "scene": "a"}, {"scene": ""}]}`)
	f.Add(`{"version": 1, "reel": [null], "scene": 3}`)
	f.Fuzz(func(t *testing.T, text string) {
		list, err := readRecords("a.mp4", text)
		if err != nil {
			return
		}
		if len(list) == 0 {
			t.Fatal("no record and no error")
		}
		for _, r := range list {
			if !json.Valid([]byte(r.String())) {
				t.Errorf("%+v", r)
			}
			for _, s := range r.Sources {
				_, _ = s.identity(), s.setting()
			}
		}
	})
}
