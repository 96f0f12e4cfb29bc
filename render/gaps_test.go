package render

import (
	"path/filepath"
	"strings"
	"testing"

	"fairframe/render/record"
	"fairframe/render/scene"
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
	rows, err := Batch(t.Context(), p, BatchOptions{})
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

// TestGapsSayWhatIsKnown: where a log of another source covers a gap, its values stay, and
// nothing says that the pacing is unknown; a measured log has nothing there; and a scene
// without pacing says nothing of it. Each tolerates damage beside gaps.
func TestGapsSayWhatIsKnown(t *testing.T) {
	dir := t.TempDir()
	footage(t, filepath.Join(dir, "alder.mkv"), lavfi(moving, join([]string{"-vf", "select='not(between(n,31,34))'", "-fps_mode", "passthrough"}, bt709)...)...)
	write(t, filepath.Join(dir, "alder.txt"), "ms\n"+strings.Repeat("16.667\n", 90))
	p := open(t, dir, `
output: {folder: out, size: 640x360, rate: 60, delivery: lossless}
captures:
  alder: {video: alder.mkv, pacing: measure}
  logged: {video: alder.mkv, pacing: {file: alder.txt, column: ms, means: frame-time}}
defaults: {audio: none, start: 0.3s, length: 400ms, tolerate: [decode-errors, gaps]}
scenes:
  - {id: measured, captures: [alder], summary: 100ms}
  - {id: logged, captures: [logged], summary: 100ms}
  - {id: unpaced, captures: [alder], deck: {place: none}}
`)
	rows, err := Batch(t.Context(), p, BatchOptions{})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []struct{ pacing, words, page string }{
		{record.PacingUnknown, "the one before is shown, and the pacing there is not known", "its pacing is not known"},
		{record.PacingLogged, "the one before is shown, and the pacing there is its log's", "the picture before is shown, the pacing is its log's"},
		{"", "the one before is shown", "the picture before is shown"},
	} {
		if rows[i].Err != nil {
			t.Fatal(rows[i].Err)
		}
		if got := rows[i].Tolerated; len(got) != 1 || got[0].Pacing != want.pacing || !strings.HasSuffix(got[0].String(), "; "+want.words) {
			t.Errorf("%s: tolerated %+v, want %+v", rows[i].Scene, got, want)
		}
		if page := scene.Remarks(p.File, rows[i].Tolerated); len(page) != 1 || !strings.HasSuffix(page[0], " s "+want.page+".") {
			t.Errorf("%s: the closing page says %q", rows[i].Scene, page)
		}
	}
}
