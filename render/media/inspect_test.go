package media

import (
	"bytes"
	"fmt"
	"image"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestDamageInsideTheSceneFails spoils one coded picture, for which the decoder
// makes up another. Where the scene shows it, the clip fails and says where;
// where it does not, the clip is made.
func TestDamageInsideTheSceneFails(t *testing.T) {
	tools := tools(t)
	good := barCapture(t, codecs[0], hz60, 220, 0)
	whole, err := os.ReadFile(good.Path)
	if err != nil {
		t.Fatal(err)
	}
	// The key frame at 90 keeps its place and length, and loses its meaning.
	var out strings.Builder
	err = tools.run(t.Context(), process{program: tools.FFprobe, stdout: readAllInto(&out), args: []string{"-v", "level+error",
		"-select_streams", "v:0", "-show_entries", "packet=pos,size", "-of", "csv=p=0", fileURL(good.Path)}})
	if err != nil {
		t.Fatal(err)
	}
	var size, pos int
	if _, err := fmt.Sscanf(strings.Split(out.String(), "\n")[90], "%d,%d", &size, &pos); err != nil {
		t.Fatal(err)
	}
	spoilt := bytes.Clone(whole)
	for i := pos + size/2; i < pos+size; i++ {
		spoilt[i] ^= byte(i*37) | 1
	}
	path := filepath.Join(t.TempDir(), "spoilt.mkv")
	if err := os.WriteFile(path, spoilt, 0o644); err != nil {
		t.Fatal(err)
	}
	capture, err := tools.Probe(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		name   string
		start  time.Duration
		frames int64
		fails  bool
	}{
		{"before", 0, 40, false},
		{"across", 500 * time.Millisecond, 180, true},
		{"after", hz60.TimeOf(185), 30, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			clip := columns(t, image.Pt(320, 180), hz60, tt.frames, []Capture{capture}, []time.Duration{tt.start}, centred)
			clip.Sound = Sound{}
			_, err := tools.Render(t.Context(), clip, filepath.Join(t.TempDir(), "clip.mkv"), nil)
			if (err != nil) != tt.fails {
				t.Fatalf("error %v", err)
			}
			if err != nil && !strings.Contains(err.Error(), "capture c0 is damaged near its frame 8") &&
				err != nil && !strings.Contains(err.Error(), "capture c0 is damaged near its frame 9") {
				t.Errorf("error %v", err)
			}
			t.Log(err)
		})
	}
}
