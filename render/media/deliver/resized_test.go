package deliver

import (
	"fmt"
	"image"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fairframe/render/media"
	"fairframe/render/media/graph"
)

// TestCaptureThatChangesItsSize joins two streams of other sizes, as a recorder does
// when the game changes the display's mode: the clip is refused, and the right
// capture is named.
func TestCaptureThatChangesItsSize(t *testing.T) {
	tools := tools(t)
	dir := t.TempDir()
	var joined []byte
	for i, size := range []string{"128x72", "256x144"} {
		path := filepath.Join(dir, size+".ts")
		args := []string{"-y", "-v", "level+error", "-nostdin", "-f", "lavfi", "-i", fmt.Sprintf("testsrc2=size=%s:rate=60:duration=0.5", size),
			"-c:v", "libx264", "-preset", "ultrafast", "-g", "10", "-output_ts_offset", fmt.Sprint(0.5 * float64(i)), path}
		if err := tools.Run(t.Context(), media.Process{Args: args}); err != nil {
			t.Fatal(err)
		}
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		joined = append(joined, b...)
	}
	path := filepath.Join(dir, "changes.ts")
	if err := os.WriteFile(path, joined, 0o644); err != nil {
		t.Fatal(err)
	}
	changes, err := tools.Probe(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	steady := barCapture(t, codec{"h264", ".mkv", []string{"-c:v", "libx264", "-preset", "ultrafast"}}, hz60, 60, 0)
	clip := columns(t, image.Pt(320, 180), hz60, 20, []media.Capture{steady, changes}, []time.Duration{0, 300 * time.Millisecond}, centred)
	clip.Sound = graph.Sound{}
	_, err = Render(t.Context(), tools, clip, filepath.Join(dir, "clip.mkv"), nil)
	if err == nil || !strings.Contains(err.Error(), "capture c1 changes its pictures from 128x72 to 256x144 pixels") {
		t.Errorf("error %v", err)
	}
}
