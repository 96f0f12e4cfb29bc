package deliver

import (
	"fmt"
	"image"
	"math"
	"math/big"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"fairframe/layout"
	"fairframe/render/media"
	"fairframe/render/media/graph"
	"fairframe/render/media/mediatest"
	"fairframe/render/pacing"
)

var (
	hz60    = pacing.Rate{Num: 60, Den: 1}
	hz5994  = pacing.Rate{Num: 60000, Den: 1001}
	hz30    = pacing.Rate{Num: 30, Den: 1}
	hz120   = pacing.Rate{Num: 120, Den: 1}
	capSize = image.Pt(320, 180)
)

// findTools finds the tools of all tests, which ask ffmpeg once what it is.
var findTools = sync.OnceValues(func() (*media.Tools, error) { return media.Find("") })

func tools(t testing.TB) *media.Tools {
	t.Helper()
	tools, err := findTools()
	if err != nil {
		t.Fatalf("the tests need ffmpeg: %v", err)
	}
	return tools
}

// codec is one way in which a capture is coded.
type codec struct {
	name, ext string
	args      []string
}

var codecs = []codec{
	{"h264 b-frames", ".mkv", []string{"-c:v", "libx264", "-preset", "ultrafast", "-crf", "12", "-g", "90", "-bf", "3"}},
	{"h264 b-frames", ".mp4", []string{"-c:v", "libx264", "-preset", "ultrafast", "-crf", "12", "-g", "90", "-bf", "3"}},
	{"h264 open gop", ".mkv", []string{"-c:v", "libx264", "-preset", "ultrafast", "-crf", "12", "-g", "40", "-bf", "3", "-x264-params", "open-gop=1:scenecut=0"}},
	{"h264 open gop", ".mp4", []string{"-c:v", "libx264", "-preset", "ultrafast", "-crf", "12", "-g", "40", "-bf", "3", "-x264-params", "open-gop=1:scenecut=0"}},
	{"h264 long gop", ".ts", []string{"-c:v", "libx264", "-preset", "ultrafast", "-crf", "12", "-g", "600", "-bf", "3", "-f", "mpegts"}},
	{"h264 open gop", ".ts", []string{"-c:v", "libx264", "-preset", "ultrafast", "-crf", "12", "-g", "40", "-bf", "3", "-x264-params", "open-gop=1:scenecut=0", "-f", "mpegts"}},
	{"h264 intra refresh", ".mkv", []string{"-c:v", "libx264", "-preset", "ultrafast", "-crf", "12", "-g", "60", "-x264-params", "intra-refresh=1"}},
	{"hevc", ".mp4", []string{"-c:v", "libx265", "-preset", "ultrafast", "-crf", "12", "-g", "60", "-x265-params", "log-level=error:open-gop=1", "-tag:v", "hvc1"}},
	{"hevc", ".mkv", []string{"-c:v", "libx265", "-preset", "ultrafast", "-crf", "12", "-g", "60", "-x265-params", "log-level=error:open-gop=1:bframes=4"}},
	{"mjpeg", ".mov", []string{"-c:v", "mjpeg", "-q:v", "3", "-pix_fmt", "yuvj420p"}},
	{"ffv1", ".mkv", []string{"-c:v", "ffv1", "-level", "3"}},
	{"prores", ".mov", []string{"-c:v", "prores_ks", "-profile:v", "0"}},
}

var muxers = map[string]string{".mkv": "matroska", ".mp4": "mp4", ".mov": "mov", ".ts": "mpegts", ".flv": "flv", ".webm": "webm"}

// barCapture makes a capture of n frames, frame i carrying number i, with sound
// that starts before the picture, as most recorders write it. A delay shifts
// all stamps, as a recorder that was running already does.
func barCapture(t testing.TB, c codec, r pacing.Rate, n int, delay time.Duration) media.Capture {
	t.Helper()
	return barCaptureOf(t, c, capSize, r, n, delay)
}

// barCaptureOf is barCapture of another size.
func barCaptureOf(t testing.TB, c codec, size image.Point, r pacing.Rate, n int, delay time.Duration) media.Capture {
	t.Helper()
	tools := tools(t)
	dir := t.TempDir()
	name := strings.ReplaceAll(c.name, " ", "-")
	wav := filepath.Join(dir, "sound.wav")
	samples := make([]int16, int(media.SoundRate*float64(n)/r.Hz()))
	for i := range samples {
		samples[i] = int16(4000 * math.Sin(2*math.Pi*440*float64(i)/media.SoundRate))
	}
	writeWAV(t, wav, samples)
	path := filepath.Join(dir, name+c.ext)
	args := append([]string{}, c.args...)
	sound := []string{"-c:a", "aac"}
	if c.ext == ".mov" {
		sound = []string{"-c:a", "pcm_s16le"}
	}
	args = append(args, sound...)
	if delay > 0 {
		args = append(args, "-output_ts_offset", fmt.Sprintf("%.6f", delay.Seconds()))
	}
	args = append(args, "-f", muxers[c.ext])
	err := tools.Encode(t.Context(), media.EncodeSpec{Out: path, Size: size, PixFmt: "yuv420p", Rate: r, Sound: wav, Args: args}, mediatest.Film(size, n))
	if err != nil {
		t.Fatal(err)
	}
	got, err := tools.Probe(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	if got.Rate != r {
		t.Fatalf("%s%s: probed rate %v, made at %v", c.name, c.ext, got.Rate, r)
	}
	return got
}

func lavfi(t testing.TB, tools *media.Tools, source, out string) {
	t.Helper()
	err := tools.Run(t.Context(), media.Process{Args: []string{"-y", "-v", "level+error", "-nostdin", "-f", "lavfi", "-i", source, out}})
	if err != nil {
		t.Fatal(err)
	}
}

// columns is a clip of the captures side by side, without anything drawn.
func columns(t testing.TB, out image.Point, r pacing.Rate, frames int64, captures []media.Capture, starts []time.Duration, w layout.Window) *graph.Clip {
	t.Helper()
	d, err := DeliveryOf("lossless")
	if err != nil {
		t.Fatal(err)
	}
	c := &graph.Clip{Size: out, Rate: r, Frames: frames, Sound: graph.Sound{Kind: graph.Single, Inputs: []int{0}}, Delivery: d}
	wide := out.X / len(captures) &^ 1
	for i, capture := range captures {
		pane := image.Pt(wide, out.Y)
		if i == len(captures)-1 {
			pane.X = out.X - wide*i
		}
		shot, err := w.Shoot(capture.DisplaySize(), pane, out)
		if err != nil {
			t.Fatal(err)
		}
		c.Inputs = append(c.Inputs, graph.Input{Name: fmt.Sprintf("c%d", i), Capture: capture, Start: starts[i]})
		at := image.Pt(wide*i, 0)
		c.Panes = append(c.Panes, graph.Pane{Input: i, Shot: shot, Kernel: "lanczos", Area: image.Rectangle{at, at.Add(pane)}})
	}
	return c
}

var centred = layout.Window{CenterX: layout.Fraction{Num: 1, Den: 2}, CenterY: layout.Fraction{Num: 1, Den: 2}, Magnify: layout.Fraction{Num: 1, Den: 1}}

// numbers reads the bar codes of every pane of every frame of a finished clip.
func numbers(t testing.TB, c *graph.Clip, made media.Capture) [][]int {
	t.Helper()
	var all [][]int
	_, err := tools(t).DecodeVideo(t.Context(), made, media.Request{Count: -1}, func(n int64, picture *[]byte) error {
		luma := *picture
		row := luma[made.Size.X*(c.Size.Y/3):][:made.Size.X]
		var seen []int
		for _, p := range c.Panes {
			l := c.Inputs[p.Input]
			scale, _ := p.Shot.Scale.Float64()
			v, err := mediatest.Read(row, float64(p.Area.Min.X+p.Area.Max.X)/2, scale*float64(mediatest.BarWidth(l.Capture.Size.X)))
			if err != nil {
				return fmt.Errorf("frame %d, pane %s: %w", n, l.Name, err)
			}
			seen = append(seen, v)
		}
		all = append(all, seen)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// onScreen is the reference: the capture frame on screen at start + k/rate, in
// exact arithmetic and by definition, not by the code under test.
func onScreen(r, out pacing.Rate, start *big.Rat, k int64) int {
	at := new(big.Rat).Add(start, big.NewRat(k*out.Den, out.Num))
	at.Mul(at, big.NewRat(r.Num, r.Den))
	return int(new(big.Int).Div(at.Num(), at.Denom()).Int64())
}

// TestEveryFrameOfEveryPane renders clips from captures of every codec and
// container, reads the frame numbers back from each pane of each frame, and
// compares them with the definition: output frame k shows the capture frame on
// screen at start + k/rate.
//
// Each run tries every codec with every second rate, each rate with every second
// codec; FAIRFRAME_SWEEP=1 tries all pairs.
func TestEveryFrameOfEveryPane(t *testing.T) {
	type start struct {
		name string
		at   func(pacing.Rate) (time.Duration, *big.Rat)
	}
	byFrame := func(n int64) start {
		return start{fmt.Sprintf("f%d", n), func(r pacing.Rate) (time.Duration, *big.Rat) {
			return r.TimeOf(n), big.NewRat(n*r.Den, r.Num)
		}}
	}
	byTime := func(d time.Duration) start {
		return start{d.String(), func(pacing.Rate) (time.Duration, *big.Rat) {
			return d, big.NewRat(int64(d), int64(time.Second))
		}}
	}
	rates := []pacing.Rate{hz60, hz5994, hz30, hz120}
	outs := []pacing.Rate{hz60, hz30, hz5994}
	starts := []start{byFrame(0), byFrame(97), byTime(1250 * time.Millisecond), byTime(2008 * time.Millisecond)}
	delays := []time.Duration{0, 1400 * time.Millisecond}

	low := image.Pt(320, 64) // a bar code needs no height
	type cell struct {
		codec
		rate  pacing.Rate
		start start
		delay time.Duration
	}
	all := os.Getenv("FAIRFRAME_SWEEP") != ""
	cells := map[pacing.Rate][]cell{} // by the output's rate
	i := 0
	for v, c := range codecs {
		for w, r := range rates {
			if i++; !all && (v+w+v/4)%2 == 1 {
				continue
			}
			// Every codec meets every capture rate; output rates, starts and
			// delays take turns, so that each pair of settings meets too.
			out := outs[i%len(outs)]
			cells[out] = append(cells[out], cell{c, r, starts[(i/2)%len(starts)], delays[(i/3)%len(delays)]})
		}
	}
	for out, list := range cells {
		// Four to a clip, each in a pane of its own.
		for row := range slices.Chunk(list, 4) {
			var names []string
			for _, one := range row {
				names = append(names, fmt.Sprintf("%s%s %v from %s", one.name, one.ext, one.rate, one.start.name))
			}
			t.Run(fmt.Sprintf("in %v, %s", out, strings.Join(names, ", ")), func(t *testing.T) {
				t.Parallel()
				const frames, more = 40, 30
				var captures []media.Capture
				var begin []time.Duration
				var exact []*big.Rat
				for _, one := range row {
					at, is := one.start.at(one.rate)
					n := int(one.rate.FrameAt(at+out.TimeOf(frames))) + more
					captures = append(captures, barCaptureOf(t, one.codec, low, one.rate, n, one.delay))
					begin, exact = append(begin, at), append(exact, is)
				}
				clip := columns(t, image.Pt(160*len(row), low.Y), out, frames, captures, begin, centred)
				made, err := Render(t.Context(), tools(t), clip, filepath.Join(t.TempDir(), "clip.mkv"), nil)
				if err != nil {
					t.Fatal(err)
				}
				got := numbers(t, clip, made.Clip)
				if len(got) != frames {
					t.Fatalf("%d frames instead of %d", len(got), frames)
				}
				for k, seen := range got {
					for n, one := range row {
						if want := onScreen(one.rate, out, exact[n], int64(k)); seen[n] != want {
							t.Fatalf("%s: output frame %d shows capture frame %d, on screen is %d", names[n], k, seen[n], want)
						}
					}
				}
			})
		}
	}
}
