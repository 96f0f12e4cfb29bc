package render

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fairframe/render/finding"
)

// truncated makes a capture of a second and a half whose container announces three:
// Matroska keeps no count of frames, and the tag of the length is a lie.
func truncated(t *testing.T, path string) {
	t.Helper()
	footage(t, path, lavfi(moving, bt709...)...)
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	text := strings.ReplaceAll(string(raw), "00:00:01.5", "00:00:03.0")
	if text == string(raw) {
		t.Fatal("the capture has no tag of its length")
	}
	write(t, path, text)
}

// TestReadyRefuses: what cannot work is found before anything is encoded, by render
// and by batch, in the words of the check; the scenes that can work are rendered.
func TestReadyRefuses(t *testing.T) {
	dir := t.TempDir()
	footage(t, filepath.Join(dir, "birch.mkv"), lavfi(strings.Replace(moving, "d=1.5", "d=3", 1), bt709...)...)
	truncated(t, filepath.Join(dir, "alder.mkv"))
	const text = `
output: {folder: out, size: 256x144, rate: 60, delivery: lossless}
captures:
  alder: {video: alder.mkv}
  birch: {video: birch.mkv}
defaults: {captures: [alder, birch], length: 100ms, audio: none, deck: {place: none}}
scenes:
  - {id: whole, start: 0s}
  - {id: across, start: 1.4s, length: 500ms}
  - {id: beyond, start: 2s}
`
	const across = "capture alder, at 1.50 s: the capture ends within the scene (its last frame ends at 1.50 s, the scene shows it to 1.90 s)"
	p := open(t, dir, text)
	var rendering []string
	traced(p, func(_ string, args []string) {
		if line := strings.Join(args, " "); strings.Contains(line, "-filter_complex") {
			rendering = append(rendering, line)
		}
	})
	if _, err := Render(t.Context(), p, "across", "", nil); err == nil || err.Error() != across {
		t.Errorf("render: %v", err)
	}
	if len(rendering) > 0 {
		t.Errorf("it was encoded all the same: %q", rendering)
	}
	var order []string
	rows, err := Batch(t.Context(), p, BatchOptions{
		Planned: func(scene string, _ int64) { order = append(order, "planned "+scene) },
		Started: func(scene string) (Progress, func(Row)) {
			return func(int64, int64) {}, func(r Row) { order = append(order, scene+" "+string(r.Status)) }
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	expect(t, "order", strings.Join(order, ", "), "across failed, beyond failed, planned whole, whole rendered")
	if rows[1].Err == nil || rows[1].Err.Error() != across || !strings.Contains(rows[2].Err.Error(), "nothing is recorded from 2.00 s on") {
		t.Errorf("errors: %v; %v", rows[1].Err, rows[2].Err)
	}
	if len(rendering) != 1 {
		t.Errorf("%d encodes, want that of the scene that works", len(rendering))
	}

	// An idle batch checks nothing again.
	ran := 0
	p = open(t, dir, text)
	traced(p, func(string, []string) { ran++ })
	if rows, err := Batch(t.Context(), p, BatchOptions{Only: []string{"whole"}}); err != nil || rows[0].Status != UpToDate || ran > 0 {
		t.Errorf("idle: %v, %v, %d programs run", rows, err, ran)
	}
}

// TestReadyGaps: where the recorder dropped frames, no clip is made; beside them one
// is.
func TestReadyGaps(t *testing.T) {
	dir := t.TempDir()
	footage(t, filepath.Join(dir, "alder.mkv"), lavfi(moving, join([]string{"-vf", "select='not(between(n,30,33))'", "-fps_mode", "passthrough"}, bt709)...)...)
	footage(t, filepath.Join(dir, "birch.mkv"), lavfi(moving, bt709...)...)
	p := open(t, dir, `
output: {folder: out, size: 256x144, rate: 60, delivery: lossless}
captures:
  alder: {video: alder.mkv}
  birch: {video: birch.mkv}
defaults: {captures: [alder, birch], audio: none, deck: {place: none}}
scenes:
  - {id: across, start: 0.4s, length: 300ms}
  - {id: before, start: 0.4s, length: 100ms}
  - {id: after, start: f34, length: 100ms}
`)
	rows, err := Batch(t.Context(), p, BatchOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if rows[1].Err != nil || rows[2].Err != nil {
		t.Errorf("beside the gap: %v, %v", rows[1].Err, rows[2].Err)
	}
	if err := rows[0].Err; err == nil || !strings.HasPrefix(err.Error(), "capture alder, at 0.48 s: the recorder dropped frames (4 missing") {
		t.Errorf("across the gap: %v", err)
	}
}

func TestRefuse(t *testing.T) {
	fails := func(what, remedy string) finding.Finding {
		return finding.Finding{Severity: finding.Fails, What: what, Remedy: remedy, Capture: "alder", At: time.Second, Placed: true}
	}
	_, err := finding.Refuse([]finding.Finding{fails("a", "do so"), {Severity: finding.Misleads, What: "c"}, fails("b", "do so")})
	if e, ok := err.(*finding.Error); !ok || e.Msg != "capture alder, at 1.00 s: a; capture alder, at 1.00 s: b" || e.Hint != "do so" {
		t.Errorf("%v", err)
	}
	warnings, err := finding.Refuse([]finding.Finding{{Severity: finding.Note, What: "n"}, {Severity: finding.Misleads, What: "c", Evidence: "2"}})
	if err != nil || len(warnings) != 1 || warnings[0].Warning() != "c (2)" {
		t.Errorf("%q, %v", warnings, err)
	}
}
