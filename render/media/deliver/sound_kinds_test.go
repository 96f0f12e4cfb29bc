package deliver

import (
	"encoding/binary"
	"fmt"
	"image"
	"io"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fairframe/render/media"
	"fairframe/render/media/graph"
)

// tones makes a capture of 2 s with a channel of sound for each frequency: a sine
// of half of full scale.
func tones(t *testing.T, tools *media.Tools, name, layout string, rate int, freqs []int, args ...string) media.Capture {
	t.Helper()
	var exprs []string
	for _, f := range freqs {
		exprs = append(exprs, fmt.Sprintf("0.5*sin(2*PI*%d*t)", f))
	}
	return aevalCapture(t, tools, name, strings.Join(exprs, "|"), layout, rate, 2, args...)
}

// aevalCapture makes a capture of so many seconds whose sound is written as
// expressions of ffmpeg's aevalsrc.
func aevalCapture(t *testing.T, tools *media.Tools, name, exprs, layout string, rate int, length float64, args ...string) media.Capture {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	all := append([]string{"-y", "-v", "level+error", "-nostdin", "-f", "lavfi", "-i", fmt.Sprintf("color=gray:size=128x72:rate=60:duration=%g", length),
		"-f", "lavfi", "-i", fmt.Sprintf("aevalsrc=exprs='%s':channel_layout=%s:sample_rate=%d:duration=%g", exprs, layout, rate, length),
		"-c:v", "libx264", "-preset", "ultrafast", "-g", "30"}, args...)
	if err := tools.Run(t.Context(), media.Process{Args: append(all, path)}); err != nil {
		t.Fatal(err)
	}
	c, err := tools.Probe(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// stereoOf decodes a finished file's sound as two channels, without any mixing of
// ours.
func stereoOf(t *testing.T, tools *media.Tools, path string) (left, right []float64) {
	t.Helper()
	var raw []byte
	err := tools.Run(t.Context(), media.Process{Args: []string{"-v", "level+error", "-nostdin", "-i", media.FileURL(path),
		"-map", "0:a:0", "-f", "f32le", "-c:a", "pcm_f32le", "pipe:1"},
		Stdout: func(r io.Reader) (err error) { raw, err = io.ReadAll(r); return }})
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i+8 <= len(raw); i += 8 {
		left = append(left, float64(math.Float32frombits(binary.LittleEndian.Uint32(raw[i:]))))
		right = append(right, float64(math.Float32frombits(binary.LittleEndian.Uint32(raw[i+4:]))))
	}
	return left, right
}

// amplitude is that of a sine of the frequency within the sound, by correlation
// over 0.8 s of its middle, which hold whole periods of every frequency used here.
func amplitude(x []float64, hz int) float64 {
	const from, n = 4800, 38400
	var re, im float64
	for k := range n {
		sin, cos := math.Sincos(2 * math.Pi * float64(hz) * float64(k) / media.SoundRate)
		re += x[from+k] * cos
		im += x[from+k] * sin
	}
	return 2 * math.Hypot(re, im) / n
}

// TestSoundKinds: what of each capture's channels is heard on which side, in
// numbers that are worked out by hand: BS.775's 0.7071, halves for two captures.
func TestSoundKinds(t *testing.T) {
	tools := tools(t)
	pcm := []string{"-c:a", "pcm_s16le"}
	wide := tones(t, tools, "wide.mkv", "5.1", 48000, []int{300, 400, 500, 60, 700, 800}, append(pcm, "-map", "0:v", "-map", "1:a", "-map", "1:a")...)
	pair := tones(t, tools, "pair.mov", "stereo", 44100, []int{1000, 1200}, pcm...)
	mono := tones(t, tools, "mono.mkv", "mono", 48000, []int{2000}, "-c:a", "flac")
	silent := tones(t, tools, "silent.mkv", "mono", 48000, []int{2000}, "-an")
	if wide.Track != (media.Track{Streams: 2, Channels: 6, Layout: "5.1", Rate: 48000}) || !wide.Track.Folded() || pair.Track != (media.Track{Streams: 1, Channels: 2, Layout: "stereo", Rate: 44100}) || silent.Audio || silent.Track != (media.Track{}) {
		t.Errorf("probed %+v, %+v, %+v", wide.Track, pair.Track, silent.Track)
	}
	type tone map[int]float64
	const c = 0.5 * math.Sqrt2 / 2
	for _, tt := range []struct {
		name        string
		captures    []media.Capture
		sound       graph.Sound
		left, right tone
	}{
		{"5.1 alone", []media.Capture{wide}, graph.Sound{Kind: graph.Single, Inputs: []int{0}},
			tone{300: .5, 500: c, 700: c, 60: 0, 400: 0, 800: 0}, tone{400: .5, 500: c, 800: c, 60: 0, 300: 0, 700: 0}},
		{"mono alone", []media.Capture{silent, mono}, graph.Sound{Kind: graph.Single, Inputs: []int{1}}, tone{2000: .5}, tone{2000: .5}},
		{"stereo alone", []media.Capture{pair}, graph.Sound{Kind: graph.Single, Inputs: []int{0}}, tone{1000: .5, 1200: 0}, tone{1200: .5, 1000: 0}},
		{"mix of two", []media.Capture{pair, mono}, graph.Sound{Kind: graph.Mix, Inputs: []int{0, 1}}, tone{1000: .25, 1200: 0, 2000: .25}, tone{1000: 0, 1200: .25, 2000: .25}},
		{"mix of three", []media.Capture{pair, mono, wide}, graph.Sound{Kind: graph.Mix, Inputs: []int{0, 1, 2}},
			tone{1000: .5 / 3, 2000: .5 / 3, 300: .5 / 3, 500: c / 3, 700: c / 3, 60: 0}, tone{1200: .5 / 3, 2000: .5 / 3, 400: .5 / 3, 500: c / 3, 800: c / 3}},
		{"a file against itself", []media.Capture{mono, mono}, graph.Sound{Kind: graph.Ears, Inputs: []int{0, 1}}, tone{2000: .5}, tone{2000: .5}},
		{"ears", []media.Capture{pair, mono}, graph.Sound{Kind: graph.Ears, Inputs: []int{0, 1}}, tone{1000: .25, 1200: .25, 2000: 0}, tone{2000: .5, 1000: 0, 1200: 0}},
		{"ears, 5.1 on the right", []media.Capture{mono, wide}, graph.Sound{Kind: graph.Ears, Inputs: []int{0, 1}},
			tone{2000: .5, 300: 0}, tone{300: .25, 400: .25, 500: c, 700: c / 2, 800: c / 2, 60: 0, 2000: 0}},
		{"right ear alone", []media.Capture{silent, pair}, graph.Sound{Kind: graph.Ears, Inputs: []int{-1, 1}}, tone{1000: 0, 1200: 0}, tone{1000: .25, 1200: .25}},
		{"left ear alone", []media.Capture{pair, silent}, graph.Sound{Kind: graph.Ears, Inputs: []int{0, -1}}, tone{1000: .25, 1200: .25}, tone{1000: 0, 1200: 0}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			starts := []time.Duration{700 * time.Millisecond, 500 * time.Millisecond, 433 * time.Millisecond}[:len(tt.captures)]
			clip := columns(t, image.Pt(128, 72), hz60, 60, tt.captures, starts, centred)
			clip.Sound = tt.sound
			out := filepath.Join(t.TempDir(), "clip.mkv")
			done, err := Render(t.Context(), tools, clip, out, nil)
			if err != nil {
				t.Fatal(err)
			}
			left, right := stereoOf(t, tools, out)
			if len(left) != media.SoundRate {
				t.Fatalf("%d samples of sound, 1 s of picture", len(left))
			}
			// 5.1 alone adds up to more than full scale and is lowered, see TestFoldedSound.
			scale := math.Pow(10, done.Gain/20)
			for i, want := range []tone{tt.left, tt.right} {
				for hz, a := range want {
					if got := amplitude([][]float64{left, right}[i], hz); math.Abs(got-a*scale) > 0.002 {
						t.Errorf("%s: %d Hz has amplitude %.4f, want %.4f", []string{"left", "right"}[i], hz, got, a*scale)
					}
				}
			}
			for _, x := range [][]float64{left, right} {
				if math.Abs(x[0]) > 0.003 || math.Abs(x[len(x)-1]) > 0.003 {
					t.Errorf("the sound begins at %.3f and ends at %.3f, which clicks", x[0], x[len(x)-1])
				}
			}
		})
	}
}
