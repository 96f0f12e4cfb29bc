package deliver

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"fairframe/layout"
	"fairframe/render/media"
	"fairframe/render/media/graph"
)

var nil0 = []time.Duration{0}

// TestStillIsTheRenderedFrame compares a preview, pixel for pixel, with the same
// frame of the lossless clip.
func TestStillIsTheRenderedFrame(t *testing.T) {
	a := barCapture(t, codecs[2], hz60, 120, 0)
	b := barCapture(t, codecs[4], hz30, 90, 0)
	w := centred
	w.Magnify = layout.Fraction{Num: 3, Den: 2}
	clip := columns(t, image.Pt(320, 180), hz60, 60, []media.Capture{a, b}, []time.Duration{500 * time.Millisecond, 758 * time.Millisecond}, w)
	out := filepath.Join(t.TempDir(), "clip.mkv")
	if _, err := Render(t.Context(), tools(t), clip, out, nil); err != nil {
		t.Fatal(err)
	}
	for _, k := range []int64{0, 1, 31, 59} {
		still, err := Still(t.Context(), tools(t), clip, k)
		if err != nil {
			t.Fatal(err)
		}
		got, err := png.Decode(bytes.NewReader(still))
		if err != nil {
			t.Fatal(err)
		}
		luma := planes(t, out, clip.Size, int(k))
		for _, at := range []image.Point{{3, 3}, {80, 90}, {159, 100}, {161, 20}, {240, 90}, {317, 177}} {
			// Grey pictures: full-range value from the limited-range code, BT.709.
			code := float64(luma[at.Y*clip.Size.X+at.X])
			want := math.Round(min(max((code-16)*255/219, 0), 255))
			g := color.NRGBAModel.Convert(got.At(at.X, at.Y)).(color.NRGBA)
			if math.Abs(float64(g.G)-want) > 1 {
				t.Errorf("frame %d at %v: preview %v, clip %v", k, at, g, want)
			}
		}
	}
	if _, err := Still(t.Context(), tools(t), clip, 60); err == nil {
		t.Error("a frame after the last one was previewed")
	}
}

func files(t *testing.T, dir string) []string {
	t.Helper()
	list, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range list {
		names = append(names, e.Name())
	}
	return names
}

// TestCancelLeavesNothing stops a render in its middle: it returns at once with
// the context's error and leaves no file.
func TestCancelLeavesNothing(t *testing.T) {
	a := barCapture(t, codecs[0], hz60, 220, 0)
	clip := columns(t, image.Pt(1280, 720), hz60, 200, []media.Capture{a, a}, []time.Duration{0, 0}, centred)
	dir := t.TempDir()
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	_, err := Render(ctx, tools(t), clip, filepath.Join(dir, "clip.mkv"), func(frame int64) {
		if frame > 0 {
			cancel()
		}
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("error %v", err)
	}
	if left := files(t, dir); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

// TestLateSeek: where a seek into an index lands behind the scene's first frame, the
// clip is made once more from farther back.
func TestLateSeek(t *testing.T) {
	low := image.Pt(320, 64)
	a := barCaptureOf(t, codecs[0], low, hz60, 130, 0)
	a.SeekOrigin -= 0.25 // 15 frames late, and so at the key frame 90
	clip := columns(t, low, hz60, 20, []media.Capture{a}, []time.Duration{hz60.TimeOf(85)}, centred)
	clip.Sound = graph.Sound{}
	encodes := 0
	traced := &media.Tools{FFmpeg: tools(t).FFmpeg, FFprobe: tools(t).FFprobe, Trace: func(_ string, args []string) {
		if slices.Contains(args, "-filter_complex") {
			encodes++
		}
	}}
	made, err := Render(t.Context(), traced, clip, filepath.Join(t.TempDir(), "clip.mkv"), nil)
	if err != nil {
		t.Fatal(err)
	}
	for k, seen := range numbers(t, clip, made.Clip) {
		if seen[0] != 85+k {
			t.Errorf("frame %d shows %d, want %d", k, seen[0], 85+k)
		}
	}
	if encodes != 2 || made.Clip.Frames != 20 {
		t.Errorf("%d encodes, %d frames", encodes, made.Clip.Frames)
	}
}

// TestOneFileTwice: two inputs of one file, even from the same start, stay two.
func TestOneFileTwice(t *testing.T) {
	a := barCapture(t, codecs[0], hz60, 60, 0)
	for _, starts := range [][]time.Duration{{0, 0}, {hz60.TimeOf(20), hz60.TimeOf(4)}, {hz60.TimeOf(4), hz60.TimeOf(20)}} {
		clip := columns(t, image.Pt(320, 180), hz60, 10, []media.Capture{a, a}, starts, centred)
		out := filepath.Join(t.TempDir(), "clip.mkv")
		made, err := Render(t.Context(), tools(t), clip, out, nil)
		if err != nil {
			t.Fatal(err)
		}
		for k, seen := range numbers(t, clip, made.Clip) {
			for i := range seen {
				if want := int(hz60.FrameAt(starts[i])) + k; seen[i] != want {
					t.Errorf("frame %d pane %d shows %d, want %d", k, i, seen[i], want)
				}
			}
		}
	}
}

func TestFaults(t *testing.T) {
	tools := tools(t)
	good := barCapture(t, codecs[0], hz60, 150, 0)
	whole, err := os.ReadFile(good.Path)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	write := func(name string, b []byte) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, b, 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	// Pictures in the middle of the file overwritten by nonsense.
	spoilt := bytes.Clone(whole)
	for i := len(spoilt) * 4 / 10; i < len(spoilt)*6/10; i++ {
		spoilt[i] = byte(i * 7)
	}
	playlist := fmt.Sprintf("ffconcat version 1.0\nfile '%s'\n", filepath.Base(good.Path))
	soundOnly := filepath.Join(dir, "sound.mkv")
	lavfi(t, tools, "sine=duration=1", soundOnly)

	tests := []struct {
		name, path string
		start      time.Duration
		want, hint string // in the error
	}{
		{"missing", filepath.Join(dir, "none.mkv"), 0, "does not exist", "those in a comparison file start at"},
		{"empty", write("empty.mkv", nil), 0, "is empty", "record or copy it again"},
		{"a folder", dir, 0, "is not a regular file", "recording itself"},
		{"no video", soundOnly, 0, "has no video", "recording itself"},
		{"text", write("text.mkv", []byte("hello, world\n")), 0, "cannot be opened as a video", ""},
		{"a playlist that names another file", write("list.mkv", []byte(playlist)), 0, "cannot be opened as a video", "not a video container"},
		{"too short", good.Path, 2 * time.Second, "capture c0 is too short: the scene shows its frames 120 to 199 (to 3.33 s), and it has 150 frames (2.50 s)", "start the scene earlier"},
		{"truncated", write("truncated.mkv", whole[:len(whole)/2]), 0, "", ""},
		{"spoilt in the middle", write("spoilt.mkv", spoilt), 0, "capture c0", ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			capture, err := tools.Probe(t.Context(), tt.path)
			out := filepath.Join(t.TempDir(), "clip.mkv")
			if err == nil {
				clip := columns(t, image.Pt(320, 180), hz60, 80, []media.Capture{capture}, []time.Duration{tt.start}, centred)
				clip.Sound = graph.Sound{}
				_, err = Render(t.Context(), tools, clip, out, nil)
			}
			if err == nil {
				t.Fatal("no error")
			}
			t.Log(err)
			var e *media.Error
			if !errors.As(err, &e) {
				t.Fatalf("error without a hint type: %v", err)
			}
			if !strings.Contains(err.Error(), tt.want) || !strings.Contains(e.Hint, tt.hint) {
				t.Errorf("error %q, hint %q", err, e.Hint)
			}
			if left := files(t, filepath.Dir(out)); len(left) > 0 {
				t.Errorf("left behind: %v", left)
			}
		})
	}
}

func TestOutputIsNeverAnInput(t *testing.T) {
	a := barCapture(t, codecs[0], hz60, 60, 0)
	before, err := os.ReadFile(a.Path)
	if err != nil {
		t.Fatal(err)
	}
	link := filepath.Join(t.TempDir(), "link.mkv")
	if err := os.Symlink(a.Path, link); err != nil {
		t.Skip("no symbolic links here")
	}
	for _, out := range []string{a.Path, link} {
		clip := columns(t, image.Pt(320, 180), hz60, 10, []media.Capture{a}, nil0, centred)
		_, err := Render(t.Context(), tools(t), clip, out, nil)
		if err == nil || !strings.Contains(err.Error(), "is the capture c0") {
			t.Errorf("error %v", err)
		}
	}
	after, err := os.ReadFile(a.Path)
	if err != nil || !bytes.Equal(before, after) {
		t.Error("the capture has changed")
	}
}

func TestOddNames(t *testing.T) {
	a := barCapture(t, codecs[0], hz60, 40, 0)
	b, err := os.ReadFile(a.Path)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"-dash.mkv", "a:b.mkv", "it's.mkv", "100%d.mkv", "sp ace,;[x].mkv", "über 山.mkv", `back\slash.mkv`, "http:x.mkv"} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			path := filepath.Join(dir, name)
			if err := os.WriteFile(path, b, 0o644); err != nil {
				t.Skip(err)
			}
			t.Chdir(dir)
			capture, err := tools(t).Probe(t.Context(), name)
			if err != nil {
				t.Fatal(err)
			}
			clip := columns(t, image.Pt(320, 180), hz60, 10, []media.Capture{capture}, nil0, centred)
			made, err := Render(t.Context(), tools(t), clip, "out "+name, nil)
			if err != nil {
				t.Fatal(err)
			}
			if got := numbers(t, clip, made.Clip); got[9][0] != 9 {
				t.Errorf("frame 9 shows %v", got[9])
			}
		})
	}
}

func TestNoFFmpeg(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	_, err := media.Find("")
	var e *media.Error
	if !errors.As(err, &e) || !strings.Contains(e.Msg, `ffmpeg not found`) || !strings.Contains(e.Hint, "install") {
		t.Errorf("error %v", err)
	}
}

// TestClosingPage: after the scene's last frame the page stands for its frames,
// exactly, and the sound has ended.
func TestClosingPage(t *testing.T) {
	a := barCapture(t, codecs[0], hz60, 60, 0)
	clip := columns(t, image.Pt(320, 180), hz5994, 20, []media.Capture{a}, nil0, centred)
	page := make([]byte, 320*180*3/2)
	for i := range page {
		page[i] = byte(60 + i%7)
	}
	clip.Closing = &graph.Page{Frames: 15, Picture: page}
	out := filepath.Join(t.TempDir(), "clip.mkv")
	made, err := Render(t.Context(), tools(t), clip, out, nil)
	if err != nil {
		t.Fatal(err)
	}
	if made.Clip.Frames != 35 || !made.Clip.Audio {
		t.Errorf("clip %+v", made.Clip)
	}
	for k := 20; k < 35; k++ {
		if got := planes(t, out, clip.Size, k); !bytes.Equal(got, page) {
			t.Fatalf("frame %d is not the page", k)
		}
	}
	if bytes.Equal(planes(t, out, clip.Size, 19), page) {
		t.Error("the page begins early")
	}
	still, err := Still(t.Context(), tools(t), clip, 25)
	if err != nil {
		t.Fatal(err)
	}
	if got, err := png.Decode(bytes.NewReader(still)); err != nil || got.Bounds().Size() != clip.Size {
		t.Errorf("still %v", err)
	}
	clip.Closing.Picture = page[1:]
	if err := clip.Check(); err == nil {
		t.Error("a page of the wrong size was accepted")
	}
}
