package render

import (
	"fairframe/render/record"
	"path/filepath"
	"strings"
	"testing"
)

// TestTolerateGaps: a scene that tolerates gaps is rendered, and the clip, its record
// and its warnings name them; one of a recorder that leaves repeats out has none.
func TestTolerateGaps(t *testing.T) {
	dir := t.TempDir()
	slow := strings.Replace(moving, "r=60", "r=30", 1) + ",fps=60"
	footage(t, filepath.Join(dir, "alder.mkv"), lavfi(slow, join([]string{"-vf", "select='not(between(n,31,34))'", "-fps_mode", "passthrough"}, bt709)...)...)
	footage(t, filepath.Join(dir, "birch.mkv"), lavfi(slow, join([]string{"-vf", "select='not(mod(n,2))'", "-fps_mode", "passthrough"}, bt709)...)...)
	p := open(t, dir, `
output: {folder: out, size: 640x360, rate: 60, delivery: lossless}
captures:
  alder: {video: alder.mkv, pacing: measure}
  birch: {video: birch.mkv, pacing: measure}
defaults: {captures: [alder, birch], audio: none, start: 0.3s, length: 400ms}
scenes:
  - {id: refused}
  - {id: shown, tolerate: gaps}
`)
	rows, err := p.Batch(t.Context(), BatchOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if err := rows[0].Err; err == nil || !strings.Contains(err.Error(), "capture alder, at 0.50 s: the recorder dropped frames (4 missing in 1 place") || strings.Contains(err.Error(), "birch") {
		t.Errorf("not tolerated: %v", err)
	}
	if rows[1].Err != nil {
		t.Fatal(rows[1].Err)
	}
	if got := rows[1].Tolerated; len(got) != 1 || got[0].Kind != record.Gap || got[0].Capture != "alder" || got[0].Pictures != 4 || got[0].First != 30 {
		t.Errorf("tolerated %+v", got)
	}
}
