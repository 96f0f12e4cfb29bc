package render

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"fairframe/render/media"
	"fairframe/render/record"
)

// marks returns the fingerprints of all scenes of dir/c.yaml, which is read anew.
func marks(t *testing.T, dir, text string) map[string]string {
	t.Helper()
	p := open(t, dir, text)
	all := map[string]string{}
	for i := range p.File.Scenes {
		s := &p.File.Scenes[i]
		mark, err := fingerprint(p, s)
		if err != nil {
			t.Fatal(err)
		}
		all[s.ID] = mark
	}
	return all
}

// TestFingerprint changes one thing at a time and states which scenes have to be
// rendered again: those whose clip can be another one, and no others.
func TestFingerprint(t *testing.T) {
	t.Parallel()
	const all = "ridge shore pass"
	edit := func(old, new string) func(*testing.T, string) string {
		return func(t *testing.T, _ string) string {
			t.Helper()
			if strings.Count(smallFile, old) != 1 {
				t.Fatalf("%q is not in the file once", old)
			}
			return strings.Replace(smallFile, old, new, 1)
		}
	}
	touch := func(change func(t *testing.T, dir string)) func(*testing.T, string) string {
		return func(t *testing.T, dir string) string {
			change(t, dir)
			return smallFile
		}
	}
	for _, tt := range []struct {
		name   string
		change func(t *testing.T, dir string) (text string)
		want   string // scenes to render again
	}{
		{"nothing", edit("title: Kestrel Pass", "title: Kestrel Pass"), ""},

		// Settings that change no clip.
		{"title", edit("title: Kestrel Pass", "title: Kestrel"), ""},
		{"folder", edit("folder: out", "folder: elsewhere"), ""},
		{"comment", edit("scenes:\n", "scenes: # all of them\n"), ""},
		{"notation of a start", edit("start: 200ms", "start: 0.2s"), ""},
		{"default written out", edit("caption: Launch", "caption: Launch, view: auto"), ""},
		{"another scene", edit("scenes:\n", "scenes:\n  - {id: new}\n"), "new"},
		{"a capture that no scene shows", edit("defaults:", "  cedar: {video: cedar.mkv, pacing: cedar.csv}\ndefaults:"), ""},

		// Settings of one scene.
		{"start", edit("start: 200ms", "start: 217ms"), "shore"},
		{"caption", edit("caption: Launch", "caption: Launches"), "ridge"},
		{"length", edit("caption: Launch", "caption: Launch, length: 100ms"), "ridge"},
		{"window", edit("start: 200ms", "start: 200ms, window: {magnify: 1.5}"), "shore"},
		{"kernel", edit("start: 200ms", "start: 200ms, window: {kernel: nearest}"), "shore"},
		{"order", edit("start: 200ms", "start: 200ms, captures: [birch, alder]"), "shore"},
		{"sound", edit("start: 200ms", "start: 200ms, audio: birch"), "shore"},
		{"place", edit("start: 200ms", "start: 200ms, deck: {place: over}"), "shore"},
		{"tabs", edit("start: 200ms", "start: 200ms, deck: {tabs: false}"), "shore"},
		{"axis", edit("start: 200ms", "start: 200ms, deck: {rate-axis: [0, 90]}"), "shore"},
		{"window of the rate", edit("start: 200ms", "start: 200ms, deck: {rate-window: 500ms}"), "shore"},
		{"span of the treads", edit("start: 200ms", "start: 200ms, deck: {tread-span: 1s}"), "shore"},
		{"summary", edit("start: 200ms", "start: 200ms, summary: 1s"), "shore"},
		{"id", edit("id: shore", "id: water"), "water"},

		// Settings of all.
		{"size", edit("640x360", "640x480"), all},
		{"rate", edit("delivery: lossless", "delivery: lossless, rate: 30"), all},
		{"delivery", edit("delivery: lossless", "delivery: web"), all},
		{"default", edit("length: 50ms", "length: 67ms"), all},
		{"name", edit("name: Alder", "name: Elder"), all},
		{"raster", edit("name: Alder", "name: Alder, raster: 1408x792"), all},
		{"how a log is read", edit("pacing: alder.csv", "pacing: {file: alder.csv, starts: 10ms}"), all},
		// A capture before the others takes their colours.
		{"colours", edit("captures:\n", "captures:\n  cedar: {video: cedar.mkv, pacing: cedar.csv}\n"), all},

		// Files.
		{"a capture's time", touch(func(t *testing.T, dir string) { later(t, filepath.Join(dir, "birch.mkv")) }), all},
		{"a capture's content", touch(func(t *testing.T, dir string) {
			// Same size, same time.
			path := filepath.Join(dir, "birch.mkv")
			info, err := os.Stat(path)
			if err != nil {
				t.Fatal(err)
			}
			b, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			b[len(b)-100] ^= 1
			write(t, path, string(b))
			if err := os.Chtimes(path, info.ModTime(), info.ModTime()); err != nil {
				t.Fatal(err)
			}
		}), all},
		// The scene without a deck shows nothing of a log.
		{"a log's content", touch(func(t *testing.T, dir string) {
			writeLog(t, filepath.Join(dir, "birch.csv"), cadence(30, 1, 2))
		}), "ridge shore"},
		{"a log's time", touch(func(t *testing.T, dir string) { later(t, filepath.Join(dir, "birch.csv")) }), ""},
		{"a file beside them", touch(func(t *testing.T, dir string) { write(t, filepath.Join(dir, "notes.txt"), "?") }), ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			dir := t.TempDir()
			for _, name := range []string{"alder", "birch", "cedar"} {
				// Nothing is decoded, so what the captures are does not matter.
				write(t, filepath.Join(dir, name+".mkv"), strings.Repeat(name+" ", 100))
				writeLog(t, filepath.Join(dir, name+".csv"), cadence(30, 1))
			}
			before := marks(t, dir, smallFile)
			var again []string
			changed := tt.change(t, dir)
			after := marks(t, dir, changed)
			for _, s := range open(t, dir, changed).File.Scenes {
				if before[s.ID] != after[s.ID] {
					again = append(again, s.ID)
				}
			}
			if got := strings.Join(again, " "); got != tt.want {
				t.Errorf("scenes to render again: %q, want %q", got, tt.want)
			}
		})
	}
}

// TestFingerprintsDiffer: scenes that differ in nothing but their id still have
// fingerprints of their own, and ffmpeg has its part in them.
func TestFingerprintsDiffer(t *testing.T) {
	dir := t.TempDir()
	small(t, dir)
	p := open(t, dir, smallFile)
	s := &p.File.Scenes[0]
	first, err := fingerprint(p, s)
	if err != nil {
		t.Fatal(err)
	}
	other := open(t, dir, smallFile)
	other.Tools = &media.Tools{FFmpeg: other.Tools.FFprobe, FFprobe: other.Tools.FFprobe} // some other program
	second, err := fingerprint(other, s)
	if err != nil || first == second {
		t.Errorf("another ffmpeg, the same fingerprint (%v)", err)
	}
	seen := map[string]string{}
	for id, mark := range marks(t, dir, smallFile) {
		if seen[mark] != "" {
			t.Errorf("%s and %s share a fingerprint", id, seen[mark])
		}
		seen[mark] = id
	}
}

// TestFingerprintOfWhatIsMissing names the file.
func TestFingerprintOfWhatIsMissing(t *testing.T) {
	dir := t.TempDir()
	small(t, dir)
	for _, name := range []string{"birch.mkv", "birch.csv"} {
		aside := filepath.Join(dir, "aside")
		if err := os.Rename(filepath.Join(dir, name), aside); err != nil {
			t.Fatal(err)
		}
		p := open(t, dir, smallFile)
		_, err := fingerprint(p, &p.File.Scenes[0])
		if err == nil || !strings.Contains(err.Error(), "capture birch: ") || !strings.Contains(err.Error(), name+" does not exist") {
			t.Errorf("without %s: %v", name, err)
		}
		if err := os.Rename(aside, filepath.Join(dir, name)); err != nil {
			t.Fatal(err)
		}
	}
}

// TestFingerprintOfKeptLog: the log of a measured capture counts like any other, once
// it is there; verify, which goes by the same list, sees it too.
func TestFingerprintOfKeptLog(t *testing.T) {
	dir := t.TempDir()
	small(t, dir)
	text := strings.Replace(smallFile, "pacing: alder.csv", "pacing: measure", 1)
	measured := filepath.Join(dir, "alder.pacing.csv")
	expect(t, "at first", batch(t, dir, text, BatchOptions{}), "ridge rendered, shore rendered, pass rendered")
	const idle = "ridge up to date, shore up to date, pass up to date"
	expect(t, "again", batch(t, dir, text, BatchOptions{}), idle)
	log, err := os.ReadFile(measured)
	if err != nil {
		t.Fatal(err)
	}
	rows := strings.Split(strings.TrimSpace(string(log)), "\n")
	write(t, measured, strings.Join(rows[:len(rows)-1], "\n")+"\n")
	clip := filepath.Join(dir, "out", "ridge.mkv")
	v, err := record.Verify(t.Context(), tools(t), clip, filepath.Join(dir, "c.yaml"))
	if err != nil || v.Result() != record.Differs {
		t.Errorf("verify with an edited log: %v, %v", v, err)
	}
	expect(t, "edited", batch(t, dir, text, BatchOptions{}), "ridge rendered, shore rendered, pass up to date")
	if now, err := os.ReadFile(measured); err != nil || len(now) >= len(log) {
		t.Errorf("the edited log was measured anew (%v)", err)
	}
}
