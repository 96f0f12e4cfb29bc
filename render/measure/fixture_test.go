package measure

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// A start is where a frame of the game first appears in a capture: captured
// frame n, row row; row 0 is a whole new frame.
type start struct {
	n   int64
	row int
}

// A fixture is a capture in the making: what moves, when its frames reach the
// screen, what the capture chain adds, and how it is encoded.
type fixture struct {
	w, h   int
	frames int
	src    source
	starts []start // the truth; ordered, the first at 0,0
	noise  float64 // standard deviation of independent noise of each captured frame
	dither bool    // half a level of ordered dither that changes every captured frame
	seed   uint64
	hud    func(pic []byte, w, h int, n int64) // drawn over every captured frame
	// gameTime gives the game time of frame k; nil means the time at which it begins.
	gameTime func(k int) float64
}

const fixtureHz = 60

// each draws the captured frames in order.
func (f *fixture) each(visit func(n int64, pic []byte) error) error {
	rng := rand.New(rand.NewPCG(f.seed, 5))
	old, cur := make([]byte, f.w*f.h), make([]byte, f.w*f.h)
	pic := make([]byte, f.w*f.h)
	time := f.gameTime
	if time == nil {
		time = func(k int) float64 {
			return (float64(f.starts[k].n) + float64(f.starts[k].row)/float64(f.h)) / fixtureHz
		}
	}
	k := 0
	f.src.draw(cur, f.w, f.h, time(0))
	_ = old
	for n := range int64(f.frames) {
		copy(pic, cur)
		for k+1 < len(f.starts) && f.starts[k+1].n <= n {
			k++
			f.src.draw(cur, f.w, f.h, time(k))
			copy(pic[f.starts[k].row*f.w:], cur[f.starts[k].row*f.w:])
		}
		if f.hud != nil {
			f.hud(pic, f.w, f.h, n)
		}
		if f.noise > 0 {
			for i, v := range pic {
				pic[i] = level(float64(v) + f.noise*rng.NormFloat64())
			}
		}
		if f.dither {
			for i := range pic {
				x, y := i%f.w, i/f.w
				if (x*5+y*3+int(n)*7+x*y*11)%4 == 0 && pic[i] < 255 {
					pic[i]++
				}
			}
		}
		if err := visit(n, pic); err != nil {
			return err
		}
	}
	return nil
}

// cadence returns whole-frame starts for a game of fps frames a second, each
// shown at the first refresh at or after it is ready.
func cadence(fps float64, frames int) []start {
	var out []start
	for k := 0; ; k++ {
		n := int64(math.Ceil(float64(k)*fixtureHz/fps - 1e-9))
		if n >= int64(frames) {
			return out
		}
		if len(out) > 0 && out[len(out)-1].n == n {
			continue // faster than the capture: never seen
		}
		out = append(out, start{n: n})
	}
}

// unlocked returns starts whose distances wander between the shortest and
// longest number of captured frames, with some hitches.
func unlocked(rng *rand.Rand, frames, shortest, longest int, hitches float64) []start {
	var out []start
	for n := 0; n < frames; {
		out = append(out, start{n: int64(n)})
		d := shortest + rng.IntN(longest-shortest+1)
		if rng.Float64() < hitches {
			d += 4 + rng.IntN(16)
		}
		n += d
	}
	return out
}

// torn returns starts at any row, with frame times around mean captured frames.
func torn(rng *rand.Rand, frames, h int, mean, jitter float64) []start {
	out := []start{{}}
	at := 0.0
	for {
		at += mean + jitter*(2*rng.Float64()-1)
		n := int64(at)
		if n >= int64(frames) {
			return out
		}
		out = append(out, start{n, int((at - float64(n)) * float64(h))})
	}
}

// An encoding is one way to store a capture: a name and ffmpeg's arguments.
type encoding struct {
	name  string
	codec string // in ffmpeg's words
	ext   string
	args  []string
}

func x264(crf, gop int, extra ...string) encoding {
	return encoding{fmt.Sprintf("crf%d-g%d%s", crf, gop, strings.Join(extra, "")), "h264", "mkv",
		append([]string{"-c:v", "libx264", "-preset", "veryfast", "-crf", fmt.Sprint(crf), "-g", fmt.Sprint(gop), "-pix_fmt", "yuv420p"}, extra...)}
}

// forward reports whether no picture is predicted from a later one, as a probe of the
// capture says.
func (e encoding) forward() bool {
	return slices.Contains(e.args, "ultrafast") || slices.Contains(e.args, "-bf")
}

var (
	ffv1  = encoding{"ffv1", "ffv1", "mkv", []string{"-c:v", "ffv1", "-pix_fmt", "gray"}}
	mjpeg = encoding{"mjpeg", "mjpeg", "mkv", []string{"-c:v", "mjpeg", "-q:v", "3", "-pix_fmt", "yuvj420p"}}
)

// encode writes the fixture's capture and returns its path.
func (f *fixture) encode(t testing.TB, e encoding) string {
	t.Helper()
	out := filepath.Join(t.TempDir(), "capture."+e.ext)
	args := []string{"-v", "error", "-f", "rawvideo", "-pix_fmt", "gray", "-video_size", fmt.Sprintf("%dx%d", f.w, f.h),
		"-framerate", fmt.Sprint(fixtureHz), "-i", "pipe:0"}
	args = append(append(args, e.args...), "-threads", "1", out)
	cmd := exec.Command(tool(t), args...)
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	var log bytes.Buffer
	cmd.Stderr = &log
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	err = f.each(func(_ int64, pic []byte) error { _, err := in.Write(pic); return err })
	err = errors.Join(err, in.Close(), cmd.Wait())
	if err != nil {
		t.Fatalf("encoding: %v\n%s", err, log.String())
	}
	return out
}

// decode reads a video's luma plane through ffmpeg.
func decode(t testing.TB, path string, w, h int, visit func(n int64, luma []byte) error) {
	t.Helper()
	cmd := exec.Command(tool(t), "-v", "error", "-threads", "1", "-i", path, "-map", "0:v:0", "-fps_mode", "passthrough", "-f", "rawvideo", "-pix_fmt", "gray", "-")
	var log bytes.Buffer
	cmd.Stderr = &log
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	buf := make([]byte, w*h)
	for n := int64(0); ; n++ {
		if _, err = io.ReadFull(out, buf); err != nil {
			break
		}
		if err = visit(n, buf); err != nil {
			t.Fatal(err)
		}
	}
	if err != io.EOF {
		t.Fatal(err)
	}
	if err := cmd.Wait(); err != nil {
		t.Fatalf("decoding: %v\n%s", err, log.String())
	}
}

// unseen returns the captured frames of which no measurement can tell whether they are new,
// by comparing the encoded capture with the lossless pictures. It knows what the game drew:
// a new frame is unseen if the encoder left less than half of its change in the picture, or
// if the change has less energy than three standard deviations of that of the noise (the
// usual limit of an energy detector; from memory). A change that the encoder lost comes
// later, so the frames up to the next new one are unseen too.
func (f *fixture) unseen(t testing.TB, path string) map[int64]bool {
	clean := *f
	clean.noise, clean.dither = 0, false
	var pics [][]byte
	if err := clean.each(func(_ int64, pic []byte) error { pics = append(pics, slices.Clone(pic)); return nil }); err != nil {
		t.Fatal(err)
	}
	variance := 2 * f.noise * f.noise
	if f.dither {
		variance += 2 * 0.25 * 0.75 // one pixel of four, at random, is a level brighter
	}
	hidden := 3 * variance * math.Sqrt(2*float64(f.w*f.h))
	out, lost := map[int64]bool{}, false
	var before []byte
	decode(t, path, f.w, f.h, func(n int64, luma []byte) error {
		if n > 0 {
			var drawn, left float64
			for i, v := range pics[n] {
				d := float64(v) - float64(pics[n-1][i])
				drawn += d * d
				left += d * (float64(luma[i]) - float64(before[i]))
			}
			if slices.Contains(f.starts, start{n: n}) {
				lost = drawn <= hidden || left < drawn/2
			}
			if lost {
				out[n] = true
			}
		}
		before = append(before[:0], luma...)
		return nil
	})
	return out
}

func tool(t testing.TB) string {
	path, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Skip("no ffmpeg on this machine")
	}
	return path
}

func sweeping() bool { return os.Getenv("FAIRFRAME_SWEEP") != "" }
