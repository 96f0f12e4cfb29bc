package deliver

import (
	"path/filepath"
	"testing"

	"fairframe/render/media"
)

// TestForward: a stream says by the order of its pictures whether some are
// predicted from later ones. What x264 does with B pictures or without is known
// from its own options.
func TestForward(t *testing.T) {
	tl := tools(t)
	for _, c := range []struct {
		name    string
		args    []string
		forward bool
	}{
		{"bf2.mkv", []string{"-c:v", "libx264", "-preset", "veryfast", "-bf", "2"}, false},
		{"bf0.mkv", []string{"-c:v", "libx264", "-preset", "veryfast", "-bf", "0"}, true},
		{"bf0.mp4", []string{"-c:v", "libx264", "-preset", "veryfast", "-bf", "0"}, true},
		{"lossless.mkv", []string{"-c:v", "ffv1"}, false}, // its kind says nothing of it
	} {
		path := filepath.Join(t.TempDir(), c.name)
		args := append([]string{"-v", "error", "-f", "lavfi", "-i", "testsrc2=size=128x72:rate=60:duration=0.5"}, c.args...)
		if err := tl.Run(t.Context(), media.Process{Program: tl.FFmpeg, Args: append(args, path), What: "making a clip"}); err != nil {
			t.Fatal(err)
		}
		got, err := tl.Probe(t.Context(), path)
		if err != nil {
			t.Fatal(err)
		}
		if got.Forward != c.forward {
			t.Errorf("%s: forward %v, want %v", c.name, got.Forward, c.forward)
		}
	}
}
