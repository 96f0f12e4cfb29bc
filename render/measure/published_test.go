package measure

import (
	"bytes"
	"fmt"
	"math"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"fairframe/testdata/published"
)

// TestPublishedCadences measures clips that ffmpeg makes of sources of other
// rates at 60 Hz, and holds the result to testdata/published/08_cadences.csv
// (the source of each row is in its citation column). ffmpeg's mpdecimate, a
// general-purpose filter that drops frames like the one before, is run beside.
func TestPublishedCadences(t *testing.T) {
	t.Parallel()
	done := 0
	for _, row := range published.Rows(t, "08_cadences.csv") {
		get := func(name string) string { return row[name] }
		if get("mean_ms") == "" || get("output_hz") != "60" {
			continue // a cadence of fields
		}
		done++
		encodings := []encoding{ffv1}
		if done%3 == 1 || sweeping() {
			encodings = append(encodings, x264(23, 250))
		}
		for _, e := range encodings {
			t.Run(get("source_fps")+"/"+e.name, func(t *testing.T) {
				var counts []int64
				for _, s := range strings.Fields(get("repeat_counts_in_first_cycle")) {
					n, err := strconv.ParseInt(s, 10, 64)
					if err != nil {
						t.Fatal(err)
					}
					counts = append(counts, n)
				}
				const seconds = 2
				path := filepath.Join(t.TempDir(), "clip."+e.ext)
				args := []string{"-v", "error", "-f", "lavfi", "-i", fmt.Sprintf("testsrc2=size=320x240:rate=%s,fps=60", get("source_fps")),
					"-t", fmt.Sprint(seconds), "-threads", "1"}
				if out, err := exec.Command(tool(t), append(append(args, e.args...), path)...).CombinedOutput(); err != nil {
					t.Fatalf("%v\n%s", err, out)
				}
				m := measureFile(t, path, e, 320, 240, Settings{})
				// The last frame may be cut short by the clip's end.
				var sum, squares, longest float64
				cycle, err := strconv.Atoi(get("output_frames_in_cycle"))
				if err != nil {
					t.Fatal(err)
				}
				whole := seconds * 60 / cycle * cycle
				frames := 0
				for i, f := range m.frames {
					want := counts[i%len(counts)]
					if n := captureRate.FrameAt(f.Begin); n+want > int64(whole) {
						break
					}
					if got := f.Time; got != captureRate.TimeOf(captureRate.FrameAt(f.Begin)+want)-f.Begin || f.Tear != 0 || f.Doubtful {
						t.Fatalf("frame %d at %v: %v long, tear %d, doubtful %v; the table says %d captured frames", i, f.Begin, got, f.Tear, f.Doubtful, want)
					}
					ms := f.Time.Seconds() * 1000
					sum += ms
					squares += ms * ms
					longest = max(longest, ms)
					frames++
				}
				mean := sum / float64(frames)
				for name, got := range map[string]float64{
					"mean_ms": mean, "population_sd_ms": math.Sqrt(max(0, squares/float64(frames)-mean*mean)), "max_ms": longest,
				} {
					want, err := strconv.ParseFloat(get(name), 64)
					if err != nil {
						t.Fatal(err)
					}
					// Frame times are whole nanoseconds; the root makes the most of it.
					if math.Abs(got-want) > 1e-3 {
						t.Errorf("%s is %.6f, the table says %s", name, got, get(name))
					}
				}
				t.Logf("%d of %d captured frames new; mpdecimate keeps %d", m.sum.New, m.sum.Captured, kept(t, path))
			})
		}
	}
	if done < 8 {
		t.Fatalf("only %d cadences in the table", done)
	}
}

// kept returns how many frames of a video ffmpeg's mpdecimate keeps.
func kept(t *testing.T, path string) int {
	cmd := exec.Command(tool(t), "-v", "error", "-i", path, "-vf", "mpdecimate", "-fps_mode", "passthrough", "-f", "framemd5", "-")
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for line := range bytes.Lines(out) {
		if line[0] != '#' {
			n++
		}
	}
	return n
}

func TestStillsAndHitches(t *testing.T) {
	t.Parallel()
	const frames = 360
	// 30 fps; a hitch of 400 ms; a menu of 1.5 s; 30 fps again.
	var starts []start
	for n := int64(0); n < frames; {
		starts = append(starts, start{n: n})
		switch n {
		case 80:
			n += 24
		case 160:
			n += 90
		default:
			n += 2
		}
	}
	for _, e := range []encoding{ffv1, x264(18, 60)} {
		t.Run(e.name, func(t *testing.T) {
			f := &fixture{w: 320, h: 180, frames: frames, src: newSource("pan", 150, 4), starts: starts, seed: 4}
			m := measureFile(t, f.encode(t, e), e, f.w, f.h, Settings{})
			if s := m.score(f); s.wrong > 0 {
				t.Errorf("%v", s)
			}
			for _, x := range m.frames {
				want := time.Duration(0)
				switch captureRate.FrameAt(x.Begin) {
				case 80:
					want = 400 * time.Millisecond
				case 160:
					want = 1500 * time.Millisecond
				}
				if still := want >= StillAfter; want > 0 && (x.Time != want || (x.Kind != 0) != still) {
					t.Errorf("at %v: %v long and %v, want %v", x.Begin, x.Time, x.Kind, want)
				}
			}
			if m.sum.Stills != 1 || m.sum.Still != 1500*time.Millisecond {
				t.Errorf("%d stills of %v, want 1 of 1.5 s", m.sum.Stills, m.sum.Still)
			}
		})
	}
}
