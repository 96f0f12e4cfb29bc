package render

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"fairframe/render/finding"
	"fairframe/render/media/graph"
	"fairframe/render/record"
	"fairframe/render/scene"
)

// TestSoundOfAScene: the word in the file becomes the sound of the clip, captures
// without sound are warned of, and the manifest has the loudness.
func TestSoundOfAScene(t *testing.T) {
	dir := t.TempDir()
	for name, sound := range map[string][]string{
		"alder.mkv": {"-f", "lavfi", "-i", "sine=frequency=440:sample_rate=48000:duration=1", "-c:a", "flac", "-ac", "2"},
		"birch.mkv": {"-f", "lavfi", "-i", "sine=frequency=880:sample_rate=44100:duration=1", "-map", "0:v", "-map", "1:a", "-map", "1:a", "-c:a", "flac"},
		"cedar.mkv": nil,
	} {
		args := append([]string{"-y", "-v", "error", "-f", "lavfi", "-i", "testsrc2=size=320x180:rate=60:duration=1"}, sound...)
		if out, err := exec.Command(tools(t).FFmpeg, append(args, "-c:v", "ffv1", filepath.Join(dir, name))...).CombinedOutput(); err != nil {
			t.Fatalf("ffmpeg: %v\n%s", err, out)
		}
	}
	p := open(t, dir, `
output: {folder: out, size: 320x180, delivery: lossless}
captures:
  alder: {video: alder.mkv}
  birch: {video: birch.mkv}
  cedar: {video: cedar.mkv}
defaults: {captures: [alder, birch, cedar], start: 100ms, length: 500ms, deck: {place: none, tabs: false}, window: whole}
scenes:
  - {id: first}
  - {id: mix, audio: mix, loudness: -23}
  - {id: ears, audio: ears}
  - {id: ear, audio: ears, captures: [cedar, alder]}
  - {id: silent, audio: cedar}
  - {id: none, audio: none, loudness: -14}
`)
	for _, tt := range []struct {
		id       string
		kind     graph.SoundKind
		legs     []int
		warnings []string
	}{
		{"first", graph.Single, []int{0}, nil},
		{"mix", graph.Mix, []int{0, 1}, []string{"capture birch has 2 sound streams; the first is used", "capture cedar has no sound; the mix has only the others"}},
		{"ears", graph.Ears, []int{0, 1}, []string{"capture birch has 2 sound streams; the first is used"}},
		{"ear", graph.Ears, []int{-1, 1}, []string{"capture cedar has no sound; the left ear is silent"}},
		{"silent", graph.Silent, nil, []string{"capture cedar has no sound; the clip is silent, though alder or birch could be heard"}},
		{"none", graph.Silent, nil, nil},
	} {
		s, err := p.File.Scene(tt.id)
		if err != nil {
			t.Fatal(err)
		}
		plan, err := scene.PlanScene(t.Context(), p, s)
		if err != nil {
			t.Fatal(err)
		}
		if got := plan.Clip.Sound; got.Kind != tt.kind || !slices.Equal(got.Inputs, tt.legs) {
			t.Errorf("%s: %+v", tt.id, got)
		}
		if !slices.Equal(finding.Warnings(plan.AllWarnings()), tt.warnings) {
			t.Errorf("%s warns of %q", tt.id, plan.Warnings)
		}
	}
	if r := render(t, p, "mix"); r.made.Rendered.Gain == 0 || r.made.Rendered.Loudness == nil {
		t.Errorf("the mix has gain %v", r.made.Rendered.Gain)
	}
	text, err := os.ReadFile(p.Manifest())
	if err != nil {
		t.Fatal(err)
	}
	var m record.Manifest
	if err := json.Unmarshal(text, &m); err != nil {
		t.Fatal(err)
	}
	l := m.Scenes["mix"].Output.Loudness
	if l == nil || l.Integrated < -23.5 || l.Integrated > -22.5 || l.TruePeak > -1 || l.Gain == 0 {
		t.Errorf("the manifest has %+v", l)
	}
	if !strings.Contains(string(p.File.Canonical(&p.File.Scenes[1])), `"Loudness":-23`) {
		t.Error("the fingerprint does not know of the loudness")
	}
}
