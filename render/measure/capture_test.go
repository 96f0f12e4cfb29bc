package measure

import (
	"context"
	"errors"
	"fmt"
	"image"
	"os/exec"
	"slices"
	"strings"
	"testing"
	"time"

	"fairframe/render/demo"
	"fairframe/render/media"
	"fairframe/render/pacing"
)

func ffmpeg(t *testing.T) *media.Tools {
	t.Helper()
	tool(t)
	tools, err := media.Find("")
	if err != nil {
		t.Skip(err)
	}
	return tools
}

// TestDemo measures the demo's captures and holds the result to the schedules
// that they were made by: two machines with v-sync exactly, and one without to
// within 8 rows, the tolerance, but for what allows.
func TestDemo(t *testing.T) {
	t.Parallel()
	tools := ffmpeg(t)
	ctx := context.Background()
	// Drawn once and without loss; the demo's own encoding follows.
	made, err := demo.Write(ctx, tools, t.TempDir(), demo.Options{Size: image.Pt(640, 360), Lossless: true, Length: 2 * time.Second})
	if err != nil {
		t.Fatal(err)
	}
	// Coarser coding moves a tear to the edge of a block of 16 rows, where most is
	// saved, and swallows it where what moves is too faint.
	allow := map[int]struct{ exact, missed int }{12: {99, 0}, 18: {95, 1}, 23: {75, 2}}
	for _, crf := range []int{12, 18, 23} {
		for _, c := range made.Captures {
			lossy := fmt.Sprintf("%s.%d.mkv", c.Video, crf)
			encode := exec.Command(tool(t), "-v", "error", "-i", c.Video, "-map", "0:v", "-c:v", "libx264", "-preset", "superfast", "-bf", "0",
				"-pix_fmt", "yuv420p", "-g", "60", "-crf", fmt.Sprint(crf), lossy)
			if out, err := encode.CombinedOutput(); err != nil {
				t.Fatalf("%v\n%s", err, out)
			}
			capture, err := tools.Probe(ctx, lossy)
			if err != nil {
				t.Fatal(err)
			}
			var m measured
			var last int64
			m.sum, err = Capture(ctx, tools, capture, Settings{}, 0, 0, func(f pacing.Frame) error {
				m.frames = append(m.frames, f)
				return nil
			}, func(done int64) { last = done })
			if err != nil {
				t.Fatal(err)
			}
			if last != c.Count {
				t.Errorf("%s: progress ends at %d of %d", c.Key, last, c.Count)
			}
			f := &fixture{w: c.Size.X, h: c.Size.Y, frames: int(c.Count)}
			for _, x := range c.Frames {
				f.starts = append(f.starts, start{capture.Rate.FrameAt(x.Begin), x.Tear})
			}
			s := m.score(f)
			exact := 0
			for _, x := range m.starts(f.h) {
				if slices.Contains(f.starts, x) {
					exact++
				}
			}
			t.Logf("crf %d, %s: %d frames, %d measured, %d of them to the row; %v", crf, c.Key, len(f.starts), len(m.frames), exact, s)
			if s.torn == 0 {
				if s.wrong+s.invented > 0 || s.guarded > 0 || exact != len(f.starts) {
					t.Errorf("crf %d, %s: %v", crf, c.Key, s)
				}
				continue
			}
			if exact*100 < allow[crf].exact*len(f.starts) || s.missed > allow[crf].missed || s.invented > allow[crf].missed || s.sure > 0 {
				t.Errorf("crf %d, %s: want %d %% to the row, and %d farther than 8 rows", crf, c.Key, allow[crf].exact, allow[crf].missed)
			}
		}
	}
}

func TestCapturePart(t *testing.T) {
	tools := ffmpeg(t)
	ctx := context.Background()
	f := &fixture{w: 320, h: 180, frames: 240, src: newSource("pan", 150, 2), starts: cadence(20, 240)}
	capture, err := tools.Probe(ctx, f.encode(t, x264(18, 60)))
	if err != nil {
		t.Fatal(err)
	}
	var frames []pacing.Frame
	keep := func(x pacing.Frame) error { frames = append(frames, x); return nil }
	if _, err := Capture(ctx, tools, capture, Settings{}, time.Second, 3*time.Second, keep, nil); err != nil {
		t.Fatal(err)
	}
	if len(frames) != 40 {
		t.Errorf("%d frames in 2 s at 20 fps", len(frames))
	}
	for i, x := range frames {
		if x.Begin != captureRate.TimeOf(60+3*int64(i)) {
			t.Fatalf("frame %d begins at %v", i, x.Begin)
		}
	}
	for _, c := range []struct{ from, to time.Duration }{{-1, 0}, {2 * time.Second, time.Second}} {
		if _, err := Capture(ctx, tools, capture, Settings{}, c.from, c.to, keep, nil); err == nil || !strings.Contains(err.Error(), "nothing lies between") {
			t.Errorf("%v to %v: %v", c.from, c.to, err)
		}
	}
	stopped, stop := context.WithCancel(ctx)
	stop()
	if _, err := Capture(stopped, tools, capture, Settings{}, 0, 0, keep, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped: %v", err)
	}
	full := errors.New("disk full")
	if _, err := Capture(ctx, tools, capture, Settings{}, 0, 0, func(pacing.Frame) error { return full }, nil); !errors.Is(err, full) {
		t.Errorf("%v, want the receiver's error", err)
	}
	if _, err := Capture(ctx, tools, capture, Settings{}, 0, time.Millisecond, keep, nil); err == nil || !strings.Contains(err.Error(), "1 frames") {
		t.Errorf("one frame: %v", err)
	}
}
