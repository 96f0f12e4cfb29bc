package main

import (
	"crypto/sha256"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// TestSameBits makes clips again and again, on one core, on two and on four, in
// one batch after the other and at once: the files are the same to the bit. A
// lossless clip holds all that is composed; an overlay holds what is drawn, alone.
// Other encoders share their work among the cores and may code the same pictures
// otherwise on another machine.
func TestSameBits(t *testing.T) {
	program, dir := program(t), ownDemo(t)
	const text = `
title: Kestrel Pass
output: {folder: %[1]s, size: 320x180, delivery: %[1]s%[2]s}
captures:
  alder: {name: Alder, raster: 1408x792, video: captures/alder.mkv, pacing: captures/alder.csv}
  birch: {name: Birch, raster: 1920x1080, video: captures/birch.mp4, pacing: {file: captures/birch.txt, column: ms, means: frame-time}}
defaults: {captures: [alder, birch], start: 300ms, length: 200ms}
scenes:
  - {id: ridge, deck: {place: over}, window: {center: [0.4, 0.45], magnify: 1.37}, audio: mix, title: 50ms, summary: 50ms, marks: [{box: [0.4, 0.3, 0.2, 0.2], note: Reflections}]}
  - {id: shore, view: wipe, wipe: {swing: 500ms}, window: {moves: [{at: 0s, magnify: 1}, {at: 150ms, center: [0.4, 0.5], magnify: 2}]}}
`
	write(t, filepath.Join(dir, "lossless.yaml"), fmt.Sprintf(text, "lossless", ""))
	write(t, filepath.Join(dir, "overlay.yaml"), fmt.Sprintf(text, "overlay", ", codec: ffv1"))
	files, only := []string{"lossless/ridge.mkv", "overlay/ridge.mkv"}, "ridge"
	if often(0, 1) > 0 {
		files, only = append(files, "lossless/shore.mkv", "overlay/shore.mkv"), "ridge,shore"
	}
	first := map[string][32]byte{}
	runs := []struct {
		name string
		run  []string
		env  string
		jobs string
	}{
		{"as it comes", nil, "", "2"}, {"GOMAXPROCS=1", nil, "GOMAXPROCS=1", "1"}, {"GOMAXPROCS=4", nil, "GOMAXPROCS=4", "2"}, {"GOMAXPROCS=2", nil, "GOMAXPROCS=2", "1"},
	}
	if taskset, err := exec.LookPath("taskset"); err == nil {
		// ffmpeg too sees one core alone.
		runs[1].run, runs[1].name = []string{taskset, "-c", "0"}, "GOMAXPROCS=1 on one core"
	}
	for _, r := range runs[:often(2, 4)] {
		for _, delivery := range []string{"lossless", "overlay"} {
			args := append(append([]string{}, r.run...), program, "batch", delivery+".yaml", "--fresh", "--quiet", "--only", only, "--jobs", r.jobs)
			cmd := exec.Command(args[0], args[1:]...)
			cmd.Dir = dir
			if r.env != "" {
				cmd.Env = append(os.Environ(), r.env)
			}
			if out, err := cmd.CombinedOutput(); err != nil {
				t.Fatalf("%s: %v\n%s", r.name, err, out)
			}
		}
		for _, name := range files {
			b, err := os.ReadFile(filepath.Join(dir, name))
			if err != nil {
				t.Fatal(err)
			}
			sum := sha256.Sum256(b)
			if was, known := first[name]; !known {
				first[name] = sum
			} else if was != sum {
				t.Errorf("%s: %s is another one", r.name, name)
			}
		}
	}
}
