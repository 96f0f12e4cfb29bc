package measure

import (
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"fairframe/render/pacing"
)

// TestHoles measures captures at 60 Hz of a game at 30 fps, whose recorder drops
// pictures or leaves repeated ones out: dropped pictures are gaps in the log, of which
// nothing is said, and steps over repeats that were left out are frame times.
func TestHoles(t *testing.T) {
	tools := ffmpeg(t)
	hz60 := pacing.Rate{Num: 60, Den: 1}
	for name, one := range map[string]struct {
		keep    string // of pictures n
		leftOut bool
		gaps    [][2]int64 // in frames at 60 Hz
	}{
		"every picture":    {"1", false, nil},
		"repeats left out": {"not(mod(n,2))", true, nil},
		// 62 is new and 63 its repeat; 90 is new, 91 its repeat, and 92 new.
		"dropped": {"not(eq(n,62)+eq(n,63)+eq(n,91))", false, [][2]int64{{62, 64}, {91, 92}}},
		// Its repeat says what 100 was, but not when it began.
		"a new one dropped": {"not(eq(n,100))", false, [][2]int64{{100, 101}}},
	} {
		path := filepath.Join(t.TempDir(), "capture.mkv")
		gameFilm(t, path, one.keep)
		c, err := tools.Probe(t.Context(), path)
		if err != nil {
			t.Fatal(err)
		}
		var frames []pacing.Frame
		sum, err := Capture(t.Context(), tools, c, Settings{}, 0, 0, func(f pacing.Frame) error { frames = append(frames, f); return nil }, nil)
		if err != nil {
			t.Fatal(err)
		}
		if sum.LeftOut != one.leftOut || sum.Gaps != int64(len(one.gaps)) {
			t.Errorf("%s: left out %v, %d gaps, want %v, %d", name, sum.LeftOut, sum.Gaps, one.leftOut, len(one.gaps))
			continue
		}
		g := 0
		for i := 1; i < len(frames); i++ {
			from, to := frames[i-1].End(), frames[i].Begin
			if to-from <= pacing.Slack {
				if d := frames[i-1].Time; (d-hz60.TimeOf(2)).Abs() > time.Microsecond && !frames[i-1].Doubtful {
					t.Errorf("%s: a frame of %v at %v, want two refreshes", name, d, frames[i-1].Begin)
				}
				continue
			}
			if g >= len(one.gaps) || (from-hz60.TimeOf(one.gaps[g][0])).Abs() > time.Microsecond || (to-hz60.TimeOf(one.gaps[g][1])).Abs() > time.Microsecond {
				t.Errorf("%s: a gap from %v to %v", name, from, to)
			} else if !frames[i-1].Doubtful || !frames[i].Doubtful {
				t.Errorf("%s: frames beside the gap at %v are not doubtful", name, from)
			}
			g++
		}
		if g != len(one.gaps) {
			t.Errorf("%s: %d gaps in the log, want %d", name, g, len(one.gaps))
		}
	}
}

// gameFilm makes a capture of a game at 30 fps, of whose 180 pictures at 60 Hz some are kept.
func gameFilm(t *testing.T, path string, keep string) {
	t.Helper()
	cmd := exec.Command(tool(t), "-v", "error", "-f", "lavfi", "-i", "testsrc2=s=320x180:r=30:d=3", "-vf", "fps=60,select='"+keep+"'",
		"-fps_mode", "passthrough", "-c:v", "libx264", "-preset", "ultrafast", "-qp", "12", path)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
}
