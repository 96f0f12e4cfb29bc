package deliver

import (
	"fmt"
	"image"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fairframe/render/finding"
	"fairframe/render/media"
)

// TestDamagedSoundIsTold spoils the sound of captures, which their decoders then
// leave out in part: the clip is made, of the same length, and says so. Sound that is
// whole is not complained of, wherever it is entered.
func TestDamagedSoundIsTold(t *testing.T) {
	tools := tools(t)
	for _, args := range [][]string{{"-c:a", "aac"}, {"-c:a", "flac"}} {
		t.Run(args[1], func(t *testing.T) {
			t.Parallel()
			c := tones(t, tools, "sound.mkv", "stereo", 48000, []int{440, 660}, args...)
			for _, damaged := range []bool{false, true} {
				if damaged {
					spoilSound(t, tools, c.Path)
				}
				clip := columns(t, image.Pt(320, 180), hz60, 30, []media.Capture{c}, []time.Duration{time.Second}, centred)
				done, err := Render(t.Context(), tools, clip, filepath.Join(t.TempDir(), "clip.mkv"), nil)
				if err != nil {
					t.Fatal(err)
				}
				told := strings.Contains(strings.Join(finding.Warnings(done.Warnings), "\n"), "the sound of capture c0 is damaged")
				if told != damaged {
					t.Errorf("damaged: %v, warnings: %q", damaged, done.Warnings)
				}
			}
		})
	}
}

// spoilSound flips bits in the middle of the packets of sound from 1.1 s to 1.3 s.
func spoilSound(t *testing.T, tools *media.Tools, path string) {
	t.Helper()
	out, err := exec.Command(tools.FFprobe, "-v", "error", "-select_streams", "a:0", "-show_entries", "packet=pts_time,size,pos", "-of", "csv=p=0", path).Output()
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for l := range strings.Lines(string(out)) {
		var at float64
		var size, pos int
		if _, err := fmt.Sscanf(strings.ReplaceAll(l, ",", " "), "%f %d %d", &at, &size, &pos); err != nil {
			t.Fatalf("%q: %v", l, err)
		}
		if at >= 1.1 && at < 1.3 {
			for i := pos + size/4; i < pos+size*3/4; i++ {
				b[i] = scrambled(i, b[i])
			}
		}
	}
	if err := os.WriteFile(path, b, 0o644); err != nil {
		t.Fatal(err)
	}
}
