package measure

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"fairframe/render/pacing"
)

// TestInputs gives measure captures of every odd kind: each is measured rightly
// (30 fps in 60) or refused in words that say what is wrong with it.
func TestInputs(t *testing.T) {
	t.Parallel()
	tools := ffmpeg(t)
	const source = "testsrc2=size=320x240:rate=30:duration=1,fps=60"
	for _, c := range []struct {
		name, src, file string
		args            string
		again           string // arguments of a second step, which copies
		cut             int    // per cent of the file that is kept
		refused         string // what the error says; "": measured
		warned          string // what a warning says
	}{
		{name: "plain", src: source, file: "a.mkv", args: "-c:v ffv1"},
		{name: "no video", src: "", file: "a.mkv", args: "-f lavfi -i sine=duration=1 -c:a flac", refused: "has no video"},
		{name: "one frame", src: source, file: "a.mkv", args: "-c:v ffv1 -frames:v 1", refused: "frame"},
		{name: "variable rate", src: source + ",select=not(between(n\\,20\\,29)),setpts=PTS+floor(N/7)*0.013/TB", file: "a.mkv", args: "-c:v ffv1 -fps_mode vfr", warned: "the recorder dropped"},
		{name: "truncated matroska", src: source, file: "a.mkv", args: "-c:v libx264 -preset ultrafast -g 10", cut: 60, warned: "cut off"},
		{name: "truncated mp4", src: source, file: "a.mp4", args: "-c:v libx264 -preset ultrafast", cut: 60, refused: "a.mp4"},
		{name: "10 bit", src: source, file: "a.mkv", args: "-c:v ffv1 -pix_fmt yuv420p10le"},
		{name: "10 bit, lossy", src: source, file: "a.mkv", args: "-c:v libx264 -preset ultrafast -crf 18 -pix_fmt yuv420p10le"},
		{name: "4:4:4", src: source, file: "a.mkv", args: "-c:v ffv1 -pix_fmt yuv444p"},
		{name: "4:2:2, 10 bit", src: source, file: "a.mov", args: "-c:v prores_ks -pix_fmt yuv422p10le"},
		{name: "RGB", src: source, file: "a.mkv", args: "-c:v ffv1 -pix_fmt bgr0"},
		{name: "full range", src: source, file: "a.mkv", args: "-c:v mjpeg -q:v 3 -pix_fmt yuvj420p"},
		{name: "interlaced", src: source, file: "a.mkv", args: "-c:v libx264 -preset ultrafast -flags +ildct+ilme -x264opts tff=1 -field_order tt", warned: "interlaced"},
		{name: "rotated", src: source, file: "a.mp4", args: "-c:v libx264 -preset ultrafast -crf 18", again: "-metadata:s:v rotate=90", refused: "rotated"},
		{name: "odd size", src: "testsrc2=size=321x181:rate=30:duration=1,fps=60", file: "a.mkv", args: "-c:v ffv1 -pix_fmt yuv444p"},
		{name: "odd size, 4:2:0", src: "testsrc2=size=321x181:rate=30:duration=1,fps=60", file: "a.mkv", args: "-c:v ffv1 -pix_fmt yuv420p"},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), c.file)
			var args []string
			if c.src != "" {
				args = []string{"-f", "lavfi", "-i", c.src}
			}
			run := func(args ...string) {
				t.Helper()
				if out, err := exec.Command(tool(t), append([]string{"-v", "error", "-y"}, args...)...).CombinedOutput(); err != nil {
					t.Fatalf("%v\n%s", err, out)
				}
			}
			run(append(append(args, strings.Fields(c.args)...), "-threads", "1", path)...)
			if c.again != "" {
				plain := path + ".plain" + filepath.Ext(path)
				if err := os.Rename(path, plain); err != nil {
					t.Fatal(err)
				}
				run(append(append([]string{"-i", plain, "-c", "copy"}, strings.Fields(c.again)...), path)...)
			}
			if c.cut > 0 {
				data, err := os.ReadFile(path)
				if err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(path, data[:len(data)*c.cut/100], 0o666); err != nil {
					t.Fatal(err)
				}
			}
			var frames []pacing.Frame
			var sum Summary
			capture, err := tools.Probe(t.Context(), path)
			if err == nil {
				sum, err = Capture(t.Context(), tools, capture, Settings{}, 0, 0, func(f pacing.Frame) error { frames = append(frames, f); return nil }, nil)
			}
			t.Logf("%d frames, warnings %v, error %v", len(frames), sum.Warnings, err)
			if c.refused != "" && (err != nil || c.name != "rotated") {
				if err == nil || !strings.Contains(err.Error(), c.refused) {
					t.Errorf("error %v, want one with %q", err, c.refused)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			if got := errors.Join(sum.Warnings...); (got != nil) != (c.warned != "") || got != nil && !strings.Contains(got.Error(), c.warned) {
				t.Errorf("warnings %v, want one with %q", got, c.warned)
			}
			switch {
			case c.cut > 0:
				if len(frames) < 10 || len(frames) > 25 {
					t.Errorf("%d frames in what is left of 30", len(frames))
				}
			case strings.HasPrefix(c.name, "variable"):
				// Time must not shrink by what the recorder left out.
				if end := frames[len(frames)-1].End().Seconds(); end < 0.9 {
					t.Errorf("the log ends at %.3f s", end)
				}
				return
			case len(frames) != 30:
				t.Errorf("%d frames in 1 s at 30 fps", len(frames))
			}
			for i, f := range frames {
				if f.Begin != captureRate.TimeOf(2*int64(i)) || f.Tear != 0 || f.Doubtful {
					t.Errorf("frame %d begins at %v, tear %d, doubtful %v", i, f.Begin, f.Tear, f.Doubtful)
				}
			}
		})
	}
}
