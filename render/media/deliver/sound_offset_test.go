package deliver

import (
	"fmt"
	"image"
	"math"
	"path/filepath"
	"regexp"
	"testing"
	"time"

	"fairframe/render/media"
	"fairframe/render/pacing"
)

// TestSoundOffset: sound stays within 1 ms of where the capture has it, over
// codecs, containers, stamps that begin late, sound that begins late and captures
// of key frames alone, whose sound just before the scene's first picture is not
// read with it. Two sweeps, one of them right after the cut, are found again by
// cross-correlation with the sweep that was written.
func TestSoundOffset(t *testing.T) {
	tools := tools(t)
	const (
		begin = 1.234 // where the scene begins, between two frames
		early = 1.250
		late  = 1.700
		sweep = 0.030
		half  = 0.5 / media.SoundRate // a sample's place is a whole one
	)
	long := []string{"-c:v", "libx264", "-preset", "ultrafast", "-g", "300"}
	intra := []string{"-c:v", "mjpeg", "-q:v", "5", "-pix_fmt", "yuvj420p"}
	for i, tt := range []struct {
		name, ext, sound string
		rate             int
		late             float64 // of the sound's stamps
		stamps           float64 // of all stamps
		own              bool    // the file itself may have the sound off
		video            []string
	}{
		{"aac", ".mkv", "aac", 48000, 0, 0, false, long},
		{"aac at 44.1 kHz", ".mp4", "aac", 44100, 0.3, 0, false, long},
		{"aac from 5 s on", ".mp4", "aac", 48000, 0, 5, false, long},
		{"aac", ".ts", "aac", 48000, 0, 3, false, long},
		{"aac, intra", ".mkv", "aac", 48000, 0.0213, 0, false, intra},
		{"flac", ".mkv", "flac", 48000, 0.1, 7, false, intra},
		{"pcm", ".mov", "pcm_s24le", 48000, 0, 2, false, intra},
		{"pcm, long", ".mkv", "pcm_s16le", 44100, 0.0007, 0, false, long},
		// ffmpeg 5.1 writes the coder's delay of 6.5 ms twice into Matroska. Its stamps of
		// whole milliseconds and the delay that the decoder cuts off are rounded one after
		// the other, together by 1 ms at most.
		{"opus", ".mkv", "libopus", 48000, 0, 0, true, intra},
		{"opus", ".mp4", "libopus", 48000, 0.25, 0, false, long},
		{"opus", ".ts", "libopus", 48000, 0, 0, false, long},
	} {
		t.Run(tt.name+tt.ext, func(t *testing.T) {
			dir := t.TempDir()
			path := filepath.Join(dir, "capture"+tt.ext)
			one := func(at float64) string {
				u := fmt.Sprintf("(t-%.6f)", at-tt.late)
				return fmt.Sprintf("between(%s,0,%g)*0.5*sin(2*PI*(1000*%s+%g*%s*%s))", u, sweep, u, 3000/sweep, u, u)
			}
			args := []string{"-y", "-v", "level+error", "-nostdin", "-f", "lavfi", "-i", "color=gray:size=128x72:rate=60:duration=2.2",
				"-itsoffset", fmt.Sprintf("%.6f", tt.late),
				"-f", "lavfi", "-i", fmt.Sprintf("aevalsrc=exprs='%s+%s':sample_rate=%d:duration=2", one(early), one(late), tt.rate)}
			args = append(append(args, tt.video...), "-c:a", tt.sound, "-output_ts_offset", fmt.Sprint(tt.stamps), path)
			if err := tools.Run(t.Context(), media.Process{Args: args}); err != nil {
				t.Fatal(err)
			}
			capture, err := tools.Probe(t.Context(), path)
			if err != nil {
				t.Fatal(err)
			}
			written := make([]float64, int(sweep*media.SoundRate))
			for k := range written {
				u := float64(k) / media.SoundRate
				written[k] = math.Sin(2 * math.Pi * (1000*u + 3000/sweep*u*u))
			}
			own := 0.0
			if tt.own {
				if own = ownOffset(t, capture, early); math.Abs(own) > 0.007 {
					t.Fatalf("the file itself has its sound off by %.4f s", own)
				}
			}
			// One delivery each; both for the first.
			for _, delivery := range [][]string{{"lossless", "web"}, {"web"}, {"lossless"}}[min(i, 1+i%2)] {
				clip := columns(t, image.Pt(128, 72), hz60, 45, []media.Capture{capture}, []time.Duration{time.Duration(begin * 1e9)}, centred)
				if clip.Delivery, err = DeliveryOf(delivery); err != nil {
					t.Fatal(err)
				}
				out := filepath.Join(dir, "clip"+clip.Delivery.Ext)
				if _, err := Render(t.Context(), tools, clip, out, nil); err != nil {
					t.Fatal(err)
				}
				left, _ := stereoOf(t, tools, out)
				// A coder fills its last packet, of 1024 samples.
				if n := float64(len(left)) / media.SoundRate; n < 0.75 || n >= 0.75+1024./media.SoundRate || delivery == "lossless" && n != 0.75 {
					t.Errorf("%s: the sound lasts %.4f s, the picture 0.75 s", delivery, n)
				}
				for _, at := range []float64{early, late} {
					want := at + own - begin
					got, height := find(left, written, want)
					if math.Abs(got-want) > 0.001+half || height < 0.3 {
						t.Errorf("%s: the sweep at %.4f s is at %.4f s (%.2f ms off, height %.2f)", delivery, want, got, 1000*(got-want), height)
					}
				}
			}
		})
	}
}

// ownOffset is by how much a file has a sound off that was to begin at a time, as ffmpeg's
// own silencedetect hears it in the whole file, which is never sought in.
func ownOffset(t *testing.T, c media.Capture, at float64) float64 {
	t.Helper()
	end, tools := regexp.MustCompile(`silence_end: ([0-9.]+)`), tools(t)
	var heard []float64
	err := tools.Run(t.Context(), media.Process{Args: []string{"-hide_banner", "-nostats", "-nostdin", "-copyts", "-i", media.FileURL(c.Path),
		"-map", "0:a:0", "-af", "silencedetect=noise=0.02:duration=0.1", "-f", "null", "-"},
		Line: func(line string) {
			if m := end.FindStringSubmatch(line); m != nil {
				heard = append(heard, media.Seconds(m[1]))
			}
		}})
	if err != nil || len(heard) == 0 {
		t.Fatalf("heard %v, %v", heard, err)
	}
	return heard[0] - c.FirstStamp - at
}

// TestSoundEnds: sound ends with the picture, to the sample and through its whole
// fade, in every delivery that has sound and at lengths that no coder's packets fit.
func TestSoundEnds(t *testing.T) {
	tools := tools(t)
	capture := tones(t, tools, "capture.mkv", "mono", 48000, []int{1000}, "-c:a", "flac")
	for _, tt := range []struct {
		delivery string
		rate     pacing.Rate
		frames   int64
	}{{"web", hz60, 30}, {"web", hz60, 47}, {"web", hz5994, 37}, {"edit", hz60, 31}, {"dnxhr", hz5994, 13}, {"lossless", hz5994, 41}} {
		clip := columns(t, image.Pt(320, 180), tt.rate, tt.frames, []media.Capture{capture}, []time.Duration{0}, centred)
		var err error
		if clip.Delivery, err = Choose(DeliverySpec{Delivery: tt.delivery, Effort: "quick"}); err != nil {
			t.Fatal(err)
		}
		out := filepath.Join(t.TempDir(), "clip"+clip.Delivery.Ext)
		if _, err := Render(t.Context(), tools, clip, out, nil); err != nil {
			t.Fatal(err)
		}
		left, _ := stereoOf(t, tools, out)
		want := int(clip.SamplesIn(tt.frames))
		if len(left) < want || len(left) > want && tt.delivery != "web" || len(left) >= want+1024 {
			t.Errorf("%s: %d samples, want %d", tt.delivery, len(left), want)
			continue
		}
		peak := func(from, to int) (p float64) {
			for _, v := range left[want-from : want-to] {
				p = max(p, math.Abs(v))
			}
			return p
		}
		// Half of full scale, and a fade of 480 samples.
		if before, half, last := peak(580, 480), peak(264, 216), peak(24, 0); math.Abs(before-0.5) > 0.03 || math.Abs(half-0.25) > 0.06 || last > 0.06 {
			t.Errorf("%s at %s: before its fade the sound peaks at %.3f, in the middle of it at %.3f, at its end at %.3f", tt.delivery, tt.rate, before, half, last)
		}
	}
}

// find looks for a sweep within 100 ms of a time and returns where it is and its
// amplitude.
func find(x, sweep []float64, near float64) (at, height float64) {
	var energy float64
	for _, v := range sweep {
		energy += v * v
	}
	for lag := max(0, int((near-0.1)*media.SoundRate)); lag < int((near+0.1)*media.SoundRate) && lag+len(sweep) <= len(x); lag++ {
		var sum float64
		for k, v := range sweep {
			sum += v * x[lag+k]
		}
		if sum/energy > height {
			at, height = float64(lag)/media.SoundRate, sum/energy
		}
	}
	return at, height
}
