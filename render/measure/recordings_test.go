package measure

import (
	"context"
	"fmt"
	"image"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"fairframe/render/media"
	"fairframe/render/pacing"
)

// The bar code that testdata/recordings draws: squares of side pixels in a row, the
// highest bit first, in recordings of recordedSize.
const barBits, barSide, barMargin = 16, 16, 8

var recordedSize = image.Pt(640, 360)

// A recording is what the lossless file says of a real recording.
type recording struct {
	fixture     // its truth: captured frames, and starts that can be seen
	shown   int // frames of the program
	unseen  int // of them, those that changed nothing but the bar code
}

// recordedTruth reads the frames' numbers from a lossless recording.
func recordedTruth(t *testing.T, path string) *recording {
	r := &recording{fixture: fixture{w: recordedSize.X, h: recordedSize.Y}}
	before, last := []byte(nil), -1
	decode(t, path, r.w, r.h, func(n int64, luma []byte) error {
		number := 0
		for i := range barBits {
			v := luma[barSide/2*r.w+i*barSide+barSide/2]
			if v > 64 && v < 192 {
				return fmt.Errorf("captured frame %d: bit %d is %d, neither black nor white", n, i, v)
			}
			number = 2*number + int(v>>7)
		}
		if number != last {
			r.shown++
			if before != nil && sameBut(before, luma, r.w) {
				r.unseen++
			} else {
				r.starts = append(r.starts, start{n: n})
			}
		}
		before, last = append(before[:0], luma...), number
		r.frames++
		return nil
	})
	return r
}

// sameBut reports whether two pictures are the same outside the bar code and a little
// around it, since windows may have borders.
func sameBut(a, b []byte, w int) bool {
	for y := range len(a) / w {
		x := 0
		if y < barSide+barMargin {
			x = barBits*barSide + barMargin
		}
		if !slices.Equal(a[y*w+x:(y+1)*w], b[y*w+x:(y+1)*w]) {
			return false
		}
	}
	return true
}

// TestRecordings measures the recordings that testdata/recordings.sh makes in the folder
// FAIRFRAME_RECORDINGS, and logs what came out beside the truth.
func TestRecordings(t *testing.T) {
	dir := os.Getenv("FAIRFRAME_RECORDINGS")
	if dir == "" {
		t.Skip("run sh testdata/recordings.sh")
	}
	tools := ffmpeg(t)
	masters, err := filepath.Glob(filepath.Join(dir, "*.lossless.mkv"))
	if err != nil || len(masters) == 0 {
		t.Fatalf("no recordings in %s (%v)", dir, err)
	}
	t.Logf("%-28s %8s %8s %5s %6s %9s %9s %7s", "capture", "true fps", "measured", "torn", "wrong", "unmarked", "doubtful", "unseen")
	var all score
	for _, master := range masters {
		truth := recordedTruth(t, master)
		name := strings.TrimSuffix(filepath.Base(master), ".lossless.mkv")
		files, _ := filepath.Glob(filepath.Join(dir, name+".*.bar?.mkv"))
		bare, _ := filepath.Glob(filepath.Join(dir, name+".*.bare.mkv"))
		for _, path := range slices.Compact(slices.Sorted(slices.Values(append(files, bare...)))) {
			capture, err := tools.Probe(context.Background(), path)
			if err != nil {
				t.Fatal(err)
			}
			m := measureRecording(t, tools, capture)
			s := m.score(&truth.fixture)
			seconds := captureRate.TimeOf(int64(truth.frames)).Seconds()
			t.Logf("%-28s %8.2f %8.2f %5d %6d %9d %9d %7d", strings.TrimSuffix(filepath.Base(path), ".mkv"), float64(truth.shown)/seconds,
				float64(len(m.frames))/seconds, m.sum.Torn, s.wrong, s.sure, m.sum.Doubtful, truth.unseen)
			all.add(s)
			if m.sum.Torn > 0 || s.wrong*100 > s.decisions {
				t.Errorf("%s: %d torn, %d of %d wrong: frames %v", filepath.Base(path), m.sum.Torn, s.wrong, s.decisions, s.where)
			}
		}
	}
	t.Logf("%v; %s", all, all.reliability())
	if all.sure*1000 > all.decisions { // a single recording is too short to tell 1 in 1000
		t.Errorf("%d of %d decisions are wrong and not marked", all.sure, all.decisions)
	}
}

// recordingSettings ignores the bar code of a recording that has it.
func recordingSettings(c media.Capture) (s Settings) {
	if strings.Contains(c.Path, ".bars.") {
		// Coding smears it over the blocks around it.
		k := c.Size.X / recordedSize.X
		s.Ignore = []image.Rectangle{image.Rect(0, 0, k*barBits*barSide+16, k*barSide+16)}
	}
	return s
}

func measureRecording(t *testing.T, tools *media.Tools, c media.Capture) (m measured) {
	var err error
	m.sum, err = Capture(context.Background(), tools, c, recordingSettings(c), 0, 0, func(f pacing.Frame) error { m.frames = append(m.frames, f); return nil }, nil)
	if err != nil {
		t.Fatal(err)
	}
	return m
}
