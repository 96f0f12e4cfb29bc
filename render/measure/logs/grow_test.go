package logs

import (
	"image"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"fairframe/render/comparison"
	"fairframe/render/media"
	"fairframe/render/media/mediatest"
	"fairframe/render/pacing"
	"fairframe/render/record"
)

// A kept log grows by the stretches that scenes need, each measured once, and says then
// what a measurement of the whole capture says.
func TestKeptLogGrows(t *testing.T) {
	tools, err := media.Find("")
	if err != nil {
		t.Fatalf("the tests need ffmpeg: %v", err)
	}
	dir := t.TempDir()
	video := filepath.Join(dir, "a.mkv")
	size := image.Pt(320, 180)
	err = tools.Encode(t.Context(), media.EncodeSpec{Out: video, Size: size, PixFmt: "yuv420p", Rate: pacing.Rate{Num: 60, Den: 1},
		Args: []string{"-c:v", "libx264", "-preset", "ultrafast", "-g", "30", "-f", "matroska"}}, func(w io.Writer) error {
		buf := make([]byte, mediatest.PictureBytes(size))
		for i := range 1200 {
			mediatest.Picture(buf, size, i/2+i/5) // a cadence of its own
			if _, err := w.Write(buf); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	probed, err := tools.Probe(t.Context(), video)
	if err != nil {
		t.Fatal(err)
	}
	var pictures int64 // measured since it was last asked
	measured := func() int64 { n := pictures; pictures = 0; return n }
	p := &Keeper{Tools: tools, Files: &record.Files{}, Measuring: func(string) (func(done, total int64), func()) {
		last := int64(0)
		return func(done, _ int64) { last = done }, func() { pictures += last }
	}}
	c := &comparison.Capture{Key: "a", Video: video, Pacing: comparison.Source{Measure: true, Log: PathOf(video)}}
	whole := filepath.Join(dir, "whole.csv")
	if _, err := Write(t.Context(), tools, video, whole, Options{}, nil); err != nil {
		t.Fatal(err)
	}
	read := func(log string, from, to time.Duration) []pacing.Frame {
		t.Helper()
		list, err := framesIn(log, probed, Stretch{from, to})
		if err != nil || len(list) < 10 {
			t.Fatalf("%d frames, %v", len(list), err)
		}
		return list
	}
	s := time.Second
	for _, step := range []struct {
		need        Stretch
		least, most int64 // pictures that are measured
		parts       string
	}{
		{Stretch{12 * s, 13 * s}, 175, 185, "11s to 14s"},
		{Stretch{12 * s, 13 * s}, 0, 0, "11s to 14s"},
		{Stretch{12500 * time.Millisecond, 13 * s}, 0, 0, "11s to 14s"},
		{Stretch{3 * s, 4 * s}, 175, 185, "2s to 5s, 11s to 14s"},
		{Stretch{500 * time.Millisecond, 1500 * time.Millisecond}, 295, 305, "0s to 5s, 11s to 14s"}, // meets the one before
		{Stretch{3 * s, 4 * s}, 0, 0, "0s to 5s, 11s to 14s"},
		{Stretch{2 * s, 19 * s}, 1190, 1200, ""}, // together they are all
		{Stretch{15 * s, 16 * s}, 0, 0, ""},
	} {
		log, err := p.Path(t.Context(), c, probed, step.need)
		if err != nil {
			t.Fatal(err)
		}
		if n := measured(); n < step.least || n > step.most {
			t.Errorf("%v: %d pictures were measured, not %d to %d", step.need, n, step.least, step.most)
		}
		b, err := os.ReadFile(log)
		if err != nil {
			t.Fatal(err)
		}
		parts := ""
		for line := range strings.Lines(string(b)) {
			if list, is := strings.CutPrefix(line, "# "+partsAre); is {
				parts = strings.TrimSpace(list)
			}
		}
		if parts != step.parts {
			t.Errorf("%v: the log covers %q, not %q", step.need, parts, step.parts)
		}
		if got, want := read(log, step.need.From, step.need.To), read(whole, step.need.From, step.need.To); !slices.Equal(got, want) {
			t.Errorf("%v: the log says\n%v\nand the whole capture's\n%v", step.need, got, want)
		}
		f, err := os.Open(log)
		if err != nil {
			t.Fatal(err)
		}
		_, odd, err := pacing.ReadTrace(f, log, pacing.Format{}, probed.Rate, step.need.From, step.need.To, probed.TimeOf)
		f.Close()
		if err != nil || len(odd) > 0 {
			t.Errorf("%v: reading it: %v, %v", step.need, odd, err)
		}
	}
}

// The list of parts is read strictly: a log whose list makes no sense is measured anew.
func TestParseParts(t *testing.T) {
	for list, want := range map[string]int{"0s to 1s": 1, "0s to 1.5s, 2s to 3s": 2, "2s to 3s, 0s to 1s": -1, "1s": -1, "": -1, "0s to 0s": -1, "0s to 2s, 1s to 3s": -1} {
		parts, ok := parseParts(list)
		if ok != (want > 0) || ok && len(parts) != want {
			t.Errorf("%q: %v, %v", list, parts, ok)
		}
	}
}
