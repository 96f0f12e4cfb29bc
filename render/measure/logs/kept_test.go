package logs

import (
	"image"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fairframe/render/comparison"
	"fairframe/render/media"
	"fairframe/render/media/mediatest"
	"fairframe/render/pacing"
	"fairframe/render/record"
)

// TestMeasuredPacingIsKept: pacing: measure writes a log beside the capture once,
// uses it again while capture and settings are the same, takes one that the
// measure command left there, and never overwrites a stranger's.
func TestMeasuredPacingIsKept(t *testing.T) {
	tools, err := media.Find("")
	if err != nil {
		t.Fatalf("the tests need ffmpeg: %v", err)
	}
	dir := t.TempDir()
	video := filepath.Join(dir, "a.mkv")
	size := image.Pt(320, 180)
	err = tools.Encode(t.Context(), media.EncodeSpec{Out: video, Size: size, PixFmt: "yuv420p", Rate: pacing.Rate{Num: 60, Den: 1},
		Args: []string{"-c:v", "ffv1", "-f", "matroska"}}, func(w io.Writer) error {
		buf := make([]byte, mediatest.PictureBytes(size))
		for i := range 60 {
			mediatest.Picture(buf, size, i/2) // every picture stays two refreshes
			if _, err := w.Write(buf); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	runs := 0
	p := &Keeper{Tools: tools, Files: &record.Files{},
		Measuring: func(string) (func(done, total int64), func()) { runs++; return nil, func() {} }}
	c := &comparison.Capture{Key: "a", Video: video, Pacing: comparison.Source{Measure: true, Log: PathOf(video)}}

	probed, err := tools.Probe(t.Context(), video)
	if err != nil {
		t.Fatal(err)
	}
	all := Stretch{0, probed.Duration()}
	log, err := p.Path(t.Context(), c, probed, all)
	if err != nil || log != filepath.Join(dir, "a.pacing.csv") || runs != 1 {
		t.Fatalf("log %q, %d runs, error %v", log, runs, err)
	}
	first, err := os.ReadFile(log)
	if err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(string(first), ",33.333333,"); n < 20 {
		t.Errorf("%d frames of 33.3 ms in:\n%s", n, first)
	}
	if _, err := p.Path(t.Context(), c, probed, all); err != nil || runs != 1 {
		t.Errorf("measured %d times, error %v", runs, err)
	}

	// Another capture under the same name.
	later := time.Now().Add(time.Hour)
	if err := os.Chtimes(video, later, later); err != nil {
		t.Fatal(err)
	}
	p.Files = &record.Files{}
	if _, err := p.Path(t.Context(), c, probed, all); err != nil || runs != 2 {
		t.Errorf("measured %d times after the capture changed, error %v", runs, err)
	}

	// What the command wrote serves as well.
	if _, err := Write(t.Context(), tools, video, log, Options{}, nil); err != nil {
		t.Fatal(err)
	}
	if _, err := p.Path(t.Context(), c, probed, all); err != nil || runs != 2 {
		t.Errorf("measured %d times after the command had, error %v", runs, err)
	}

	if err := os.WriteFile(log, []byte("time_s,frame_time_ms,tear\n0,33.3,\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := p.Path(t.Context(), c, probed, all); err == nil || !strings.Contains(err.Error(), "would be overwritten") {
		t.Errorf("a stranger's log: %v", err)
	}
	if _, err := Write(t.Context(), tools, video, log, Options{}, nil); err == nil || !strings.Contains(err.Error(), "would be overwritten") {
		t.Errorf("a stranger's log, by the command: %v", err)
	}
}
