package render

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"fairframe/render/check"
	"fairframe/render/figures"
	"fairframe/render/finding"
	"fairframe/render/record"
	"fairframe/render/scene"
)

// TestOneLogForAll: what check, figures, render and its record say of doubt is what one
// and the same log says, the one kept beside the capture: as soon as that log calls a
// tenth of the scene's frames doubtful, so do all of them.
func TestOneLogForAll(t *testing.T) {
	dir := t.TempDir()
	footage(t, filepath.Join(dir, "alder.mkv"), lavfi(moving, bt709...)...)
	p := open(t, dir, `
output: {folder: out, size: 640x360, rate: 60, delivery: lossless}
captures: {alder: {video: alder.mkv, pacing: measure}}
scenes: [{id: ridge, captures: [alder], start: 0.5s, length: 500ms, audio: none}]
`)
	s := &p.File.Scenes[0]
	c, _ := p.File.Capture("alder")
	if _, err := figures.Of(t.Context(), p, s); err != nil {
		t.Fatal(err)
	}
	log := c.Pacing.Log
	measured, err := os.ReadFile(log)
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		doubtful int // of the scene's 30 frames
		share    float64
		words    string
	}{{0, 0, ""}, {1, 0.0333, ""}, {3, 0.1, "10 % of the scene rests on doubtful frames"}} {
		var rows []string
		n := 0
		for _, line := range strings.Split(strings.TrimSpace(string(measured)), "\n") {
			switch {
			case strings.HasPrefix(line, "#"):
			case strings.HasPrefix(line, "time_s"):
				line = "time_s,frame_time_ms,tear,note"
			default:
				line = strings.Join(strings.Split(line, ",")[:3], ",") + ","
				if strings.HasPrefix(line, "0.6") && n < tt.doubtful {
					line, n = line+"doubtful", n+1
				}
			}
			rows = append(rows, line)
		}
		write(t, log, strings.Join(rows, "\n")+"\n")
		if n != tt.doubtful {
			t.Fatalf("%d of %d rows were marked in\n%s", n, tt.doubtful, measured)
		}
		p, err := scene.Open(p.File.Path, p.Tools)
		if err != nil {
			t.Fatal(err)
		}

		found, err := check.Run(t.Context(), p, check.Options{})
		if err != nil {
			t.Fatal(err)
		}
		checked := ""
		for _, f := range found {
			if f.What == "pacing uncertain" {
				checked = f.Evidence
			}
		}
		if tt.words == "" && checked != "" || !strings.Contains(checked, tt.words) {
			t.Errorf("%d doubtful: check says %q", tt.doubtful, checked)
		}
		numbers, err := figures.Of(t.Context(), p, s)
		if err != nil {
			t.Fatal(err)
		}
		if d := numbers.Captures[0].Figures.Doubt; d.Part() < tt.share-0.001 || d.Part() > tt.share+0.001 || d.Uncertain() != (tt.words != "") {
			t.Errorf("%d doubtful: figures say %v", tt.doubtful, d.Percent())
		}
		made, err := Batch(t.Context(), p, BatchOptions{})
		if err != nil || made[0].Err != nil {
			t.Fatal(err, made[0].Err)
		}
		warned := strings.Join(finding.Warnings(made[0].Result.Warnings), "\n")
		if strings.Contains(warned, "pacing uncertain") != (tt.words != "") || !strings.Contains(warned, tt.words) {
			t.Errorf("%d doubtful: render warns\n%s", tt.doubtful, warned)
		}
		m, err := record.OpenManifest(filepath.Join(dir, "out", "manifest.json"))
		if err != nil {
			t.Fatal(err)
		}
		list := m.Scenes["ridge"].Record.Doubt
		switch {
		case tt.doubtful == 0:
			if len(list) != 0 {
				t.Errorf("no frame is doubtful, the record says %+v", list)
			}
		case len(list) != 1 || list[0] != (record.Doubt{Capture: "alder", Share: tt.share, Uncertain: tt.words != ""}):
			t.Errorf("%d doubtful: the record says %+v", tt.doubtful, list)
		}
	}
	if entries, _ := filepath.Glob(filepath.Join(dir, "*.csv")); len(entries) != 1 {
		t.Errorf("logs %q", entries)
	}
}
