package render

import (
	"image"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/media/mediatest"
	"fairframe/render/pacing"
	"fairframe/render/scene"
)

var (
	hz60   = pacing.Rate{Num: 60, Den: 1}
	hz30   = pacing.Rate{Num: 30, Den: 1}
	hz5994 = pacing.Rate{Num: 60000, Den: 1001}
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

// traced gives a project tools of its own, whose commands are told of.
func traced(p *scene.Project, tell func(program string, args []string)) {
	p.Tools = &media.Tools{FFmpeg: p.Tools.FFmpeg, FFprobe: p.Tools.FFprobe, Trace: tell}
}

// barCapture makes a capture without loss whose frame i carries the number i as
// a bar code. Each kind is encoded once.
func barCapture(t testing.TB, path string, size image.Point, r pacing.Rate, n int) {
	t.Helper()
	film, err := barFilms.Get(t.Context(), barFilm{size, r, n}, func() (string, error) {
		one := filepath.Join(t.TempDir(), "film.mkv")
		args := []string{"-c:v", "ffv1", "-level", "3", "-g", "1", "-f", "matroska",
			"-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709", "-color_range", "tv"}
		err := tools(t).Encode(t.Context(), media.EncodeSpec{Out: one, Size: size, PixFmt: "yuv420p", Rate: r, Args: args}, mediatest.Film(size, n))
		if err != nil {
			return "", err
		}
		b, err := os.ReadFile(one)
		return string(b), err
	})
	if err != nil {
		t.Fatal(err)
	}
	write(t, path, film)
}

type barFilm struct {
	size image.Point
	rate pacing.Rate
	n    int
}

// barFilms are the files of all bar codes so far.
var barFilms scene.Memo[barFilm, string]

// cadence returns frames of a game that lasts as long as n frames at 60 Hz: their
// lengths in refreshes follow the pattern, over and over.
func cadence(n int64, pattern ...int64) []pacing.Frame {
	var list []pacing.Frame
	for i, at := 0, int64(0); at < n; i++ {
		begin, end := hz60.TimeOf(at), hz60.TimeOf(at+pattern[i%len(pattern)])
		list = append(list, pacing.Frame{Begin: begin, Time: end - begin})
		at += pattern[i%len(pattern)]
	}
	return list
}

func writeLog(t testing.TB, path string, frames []pacing.Frame) {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := pacing.WriteLog(f, nil, frames); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
}

func write(t testing.TB, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// reopen opens dir/c.yaml, which it writes, with what is known of captures that have
// not changed since.
func reopen(t testing.TB, dir, text string, k *scene.Cache) *scene.Project {
	t.Helper()
	p := open(t, dir, text)
	p.Cache = k
	return p
}

// open opens dir/c.yaml, which it writes.
func open(t testing.TB, dir, text string) *scene.Project {
	t.Helper()
	path := filepath.Join(dir, "c.yaml")
	write(t, path, text)
	p, err := scene.Open(path, tools(t))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// pictures decodes a video completely into packed pictures of a pixel format.
func pictures(t testing.TB, path string, size image.Point, format string, filters ...string) [][]byte {
	t.Helper()
	args := []string{"-v", "error", "-nostdin", "-i", "file:" + path}
	if len(filters) > 0 {
		args = append(args, "-vf", strings.Join(filters, ","))
	}
	cmd := exec.Command(tools(t).FFmpeg, append(args, "-fps_mode", "passthrough", "-pix_fmt", format, "-f", "rawvideo", "pipe:1")...)
	var errs strings.Builder
	cmd.Stderr = &errs
	raw, err := cmd.Output()
	if err != nil {
		t.Fatalf("decoding %s: %v\n%s", path, err, &errs)
	}
	each := map[string]int{"yuv420p": size.X * size.Y * 3 / 2, "yuva420p": size.X * size.Y * 5 / 2, "rgb24": size.X * size.Y * 3}[format]
	if len(raw)%each != 0 {
		t.Fatalf("%s holds %d bytes, pictures have %d", path, len(raw), each)
	}
	var list [][]byte
	for ; len(raw) > 0; raw = raw[each:] {
		list = append(list, raw[:each])
	}
	return list
}

// cut returns a part of a packed yuv420p picture, as packed yuv420p.
func cut(picture []byte, size image.Point, r image.Rectangle) []byte {
	out := make([]byte, 0, r.Dx()*r.Dy()*3/2)
	for plane := range 3 {
		stride, rows, part := size.X, size.Y, r
		if plane > 0 {
			stride, rows = stride/2, rows/2
			part = image.Rect(r.Min.X/2, r.Min.Y/2, r.Max.X/2, r.Max.Y/2)
		}
		for y := part.Min.Y; y < part.Max.Y; y++ {
			out = append(out, picture[y*stride+part.Min.X:y*stride+part.Max.X]...)
		}
		picture = picture[stride*rows:]
	}
	return out
}

// bar reads the bar code of a pane of a packed picture of the given size.
func bar(t testing.TB, picture []byte, size image.Point, pane image.Rectangle, captureWidth int) int {
	t.Helper()
	row := picture[(pane.Min.Y+pane.Dy()/3)*size.X:][:size.X]
	n, err := mediatest.Read(row, float64(pane.Min.X+pane.Max.X)/2, float64(mediatest.BarWidth(captureWidth)))
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// small makes two captures with logs in dir, as little as makes a clip, for tests
// that are not about pictures.
func small(t testing.TB, dir string) {
	t.Helper()
	for i, name := range []string{"alder", "birch"} {
		barCapture(t, filepath.Join(dir, name+".mkv"), image.Pt(320, 180), hz60, 30)
		writeLog(t, filepath.Join(dir, name+".csv"), cadence(30, int64(i+1)))
	}
}

// smallFile shows the captures of small.
const smallFile = `title: Kestrel Pass
output: {folder: out, size: 640x360, delivery: lossless}
captures:
  alder: {name: Alder, video: alder.mkv, pacing: alder.csv}
  birch: {name: Birch, video: birch.mkv, pacing: birch.csv}
defaults: {captures: [alder, birch], start: 100ms, length: 50ms, audio: none}
scenes:
  - {id: ridge, caption: Launch}
  - {id: shore, start: 200ms}
  - {id: pass, deck: {place: none}}
`

// later moves a file's time on, without changing what is in it.
func later(t testing.TB, path string) {
	t.Helper()
	info, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	when := info.ModTime().Add(3 * time.Second)
	if err := os.Chtimes(path, when, when); err != nil {
		t.Fatal(err)
	}
}

func mkdir(path string) error { return os.MkdirAll(path, 0o755) }

// edit replaces the first place where a file says something.
func edit(t testing.TB, path, old, new string) {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(b), old) {
		t.Fatalf("%s does not say %q", path, old)
	}
	write(t, path, strings.Replace(string(b), old, new, 1))
}

// preview pictures the output frame that is on screen at a scene time, as PNG, and
// returns its number.
func preview(t testing.TB, p *scene.Project, id string,
	at comparison.Time) (png []byte, frame int64, warnings []finding.Finding, err error) {
	t.Helper()
	s, err := NewStills(t.Context(), p, id, StillOptions{})
	if err != nil {
		return nil, 0, nil, err
	}
	if frame, err = s.FrameAt(at); err != nil {
		return nil, 0, nil, err
	}
	png, err = s.Picture(t.Context(), frame)
	return png, frame, s.Warnings, err
}
