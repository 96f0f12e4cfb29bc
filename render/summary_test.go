package render

import (
	"bytes"
	"context"
	"fmt"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fairframe/render/comparison"
	"fairframe/render/figures"
	"fairframe/render/media"
	"fairframe/render/scene"
)

// summaryProject writes two tiny captures with their logs, and a comparison of
// scenes with and without a closing page.
func summaryProject(t *testing.T) (*scene.Project, string) {
	t.Helper()
	tools, err := media.Find("")
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	cmd := exec.Command(tools.FFmpeg, "-v", "error", "-f", "lavfi", "-i", "testsrc2=size=320x180:rate=60", "-f", "lavfi", "-i", "sine=frequency=440",
		"-frames:v", "60", "-t", "1", "-c:v", "ffv1", "-c:a", "pcm_s16le", filepath.Join(dir, "a.mkv"))
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	for name, every := range map[string]int{"a.csv": 1, "b.csv": 2} {
		var log strings.Builder
		log.WriteString("new\n")
		for n := range 60 {
			flag := 0
			if n%every == 0 {
				flag = 1
			}
			fmt.Fprintln(&log, flag)
		}
		if err := os.WriteFile(filepath.Join(dir, name), []byte(log.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	file := filepath.Join(dir, "c.yaml")
	const text = `output: {size: 320x180}
captures:
  alder: {video: a.mkv, pacing: {file: a.csv, column: new, means: new-frame}}
  birch: {video: a.mkv, pacing: {file: b.csv, column: new, means: new-frame}}
defaults: {captures: [alder, birch], start: 0s, length: 500ms, caption: Lake}
scenes:
  - {id: plain, deck: {place: none}}
  - {id: bare, summary: 250ms, deck: {place: none}}
  - {id: below, summary: 250ms}
`
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	p, err := scene.Open(file, tools)
	if err != nil {
		t.Fatal(err)
	}
	return p, dir
}

// A summary makes the clip longer by its frames, and nothing else; a preview
// within it shows the page, one beyond it is an error.
func TestSummary(t *testing.T) {
	p, dir := summaryProject(t)
	ctx := context.Background()
	at := func(id, when string) ([]byte, int64, error) {
		t.Helper()
		moment, err := comparison.ParseTime(when)
		if err != nil {
			t.Fatal(err)
		}
		picture, k, _, err := preview(t, p, id, moment)
		return picture, k, err
	}
	for id, want := range map[string]int64{"plain": 30, "bare": 45, "below": 45} {
		told := int64(0)
		r, err := Render(ctx, p, id, filepath.Join(dir, id+".mp4"), func(_, total int64) { told = total })
		if err != nil {
			t.Fatal(err)
		}
		made, err := p.Tools.Probe(ctx, r.Out)
		if err != nil {
			t.Fatal(err)
		}
		if r.Frames != want || made.Frames != want || told != want || r.Length != made.Rate.TimeOf(want) || !made.Audio {
			t.Errorf("%s: %d frames (%v), probed %d, progress of %d; want %d", id, r.Frames, r.Length, made.Frames, told, want)
		}
	}
	// The scene is as it was without the page.
	a, _, err := at("plain", "f29")
	if err != nil {
		t.Fatal(err)
	}
	if b, k, err := at("bare", "f29"); err != nil || k != 29 || !bytes.Equal(a, b) {
		t.Errorf("the scene's last frame changes with the summary (%v)", err)
	}
	page, k, err := at("bare", "500ms")
	if err != nil || k != 30 {
		t.Fatalf("frame %d, %v", k, err)
	}
	if last, k, err := at("below", "f44"); err != nil || k != 44 || !bytes.Equal(page, last) {
		t.Errorf("frame %d of the other scene shows another page (%v)", k, err)
	}
	img, err := png.Decode(bytes.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	// The ground's #12161D, through 8-bit limited range and back.
	if r, g, b, _ := img.At(2, 2).RGBA(); img.Bounds().Dx() != 320 || r>>8 < 0x10 || r>>8 > 0x14 || g>>8 < 0x14 || g>>8 > 0x18 || b>>8 < 0x1A || b>>8 > 0x20 {
		t.Errorf("the page's corner is %02X%02X%02X", r>>8, g>>8, b>>8)
	}
	if _, _, err := at("bare", "f45"); err == nil || err.Error() != "scene bare has no picture at f45; it is 0.75 s long (45 frames)" {
		t.Errorf("beyond the page: %v", err)
	}
}

// The page's figures are those of Figures: the page changes with the log, and so
// does the fingerprint, with a deck or without.
func TestSummaryDependsOnLogs(t *testing.T) {
	p, dir := summaryProject(t)
	marks := func(p *scene.Project) (out [3]string) {
		for i := range p.File.Scenes {
			mark, err := fingerprint(p, &p.File.Scenes[i])
			if err != nil {
				t.Fatal(err)
			}
			out[i] = mark
		}
		return out
	}
	closing := func(p *scene.Project) []byte {
		plan, err := scene.PlanScene(t.Context(), p, &p.File.Scenes[1])
		if err != nil {
			t.Fatal(err)
		}
		return plan.Clip.Closing.Picture
	}
	before, page := marks(p), closing(p)
	f, err := figures.Of(context.Background(), p, &p.File.Scenes[1])
	if err != nil {
		t.Fatal(err)
	}
	if a, b := f.Captures[0].Figures, f.Captures[1].Figures; a.MeanRate != 60 || b.MeanRate < 30-1e-6 || b.MeanRate > 30+1e-6 || b.Longest.Round(time.Microsecond) != 33333*time.Microsecond {
		t.Errorf("figures %+v, %+v", a, b)
	}
	log, err := os.ReadFile(filepath.Join(dir, "a.csv"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "b.csv"), log, 0o644); err != nil {
		t.Fatal(err)
	}
	again, err := scene.Open(p.File.Path, p.Tools)
	if err != nil {
		t.Fatal(err)
	}
	after := marks(again)
	if before[0] != after[0] || before[1] == after[1] || before[2] == after[2] {
		t.Errorf("fingerprints with another log: plain the same %v, bare the same %v, below the same %v", before[0] == after[0], before[1] == after[1], before[2] == after[2])
	}
	if bytes.Equal(page, closing(again)) {
		t.Error("the page does not change with the log")
	}
}
