package main

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os/exec"
	"strings"
	"testing"
)

// TestFiguresSound: loudness, true peak and octaves of sound whose figures are
// known: Tech 3341's 1 kHz sine, at -20 dBFS in both channels, is at -20 LUFS, and
// mono at -26 dBFS, which is played from both loudspeakers, 6 LU below it. A capture
// without sound is said to have none.
func TestFiguresSound(t *testing.T) {
	schema := compiledFiguresSchema(t)
	figuresFile(t)
	for name, args := range map[string][]string{
		"a.mkv": {"aevalsrc=exprs='0.1*sin(2*PI*1000*t)|0.1*sin(2*PI*1000*t)':channel_layout=stereo:sample_rate=48000:duration=5", "-c:a", "flac"},
		"b.mkv": {"aevalsrc=exprs='0.05012*sin(2*PI*1000*t)+0.001*sin(2*PI*250*t)':channel_layout=mono:sample_rate=44100:duration=5", "-c:a", "pcm_s24le"},
	} {
		all := append([]string{"-y", "-v", "error", "-f", "lavfi", "-i", "testsrc2=size=64x36:rate=60:duration=5", "-f", "lavfi", "-i"}, args...)
		if out, err := exec.Command("ffmpeg", append(all, "-c:v", "ffv1", name)...).CombinedOutput(); err != nil {
			t.Fatalf("ffmpeg: %v\n%s", err, out)
		}
	}
	write(t, "c.yaml", `captures:
  alder: {video: a.mkv, pacing: a.csv}
  birch: {video: b.mkv, pacing: a.csv}
  cedar: {video: c.mkv, pacing: c.csv}
scenes:
  - {id: ridge, captures: [alder, birch, cedar], start: {alder: 0.2s, birch: 0.1s, cedar: 0s}, length: 1.8s}
`)
	text := figuresOf(t, "warning: ridge: captures alder and cedar were recorded at 60 and 60000/1001 Hz; their times at refresh multiples are not compared\n", "--format", "json")
	if err := validate(schema, text); err != nil {
		t.Error(err)
	}
	var doc figuresJSON
	if err := json.Unmarshal([]byte(text), &doc); err != nil {
		t.Fatal(err)
	}
	near := func(what string, got *float64, want, within float64) {
		t.Helper()
		if got == nil || math.Abs(*got-want) > within {
			t.Errorf("%s is %v, want %v", what, got, want)
		}
	}
	list := doc.Scenes[0].Captures
	a, b := list[0].Sound, list[1].Sound
	if a == nil || b == nil || list[2].Sound != nil || list[0].SoundDifference != nil || list[2].SoundDifference != nil {
		t.Fatalf("sound: %v, %v, %v", a, b, list[2].Sound)
	}
	near("alder's loudness", a.Loudness, -20, 0.1)
	near("alder's true peak", a.TruePeak, -20, 0.1)
	near("alder at 1 kHz", a.Octaves[5].Level, -20, 0.05)
	near("birch's loudness", b.Loudness, -26, 0.1)
	near("birch at 250 Hz", b.Octaves[3].Level, -60, 0.1)
	if b.Channels != 1 || b.Rate != 44100 || a.Heard != 1.8 || a.Range != nil {
		t.Errorf("%+v, %+v", a, b)
	}
	d := list[1].SoundDifference
	near("the difference in loudness", d.Loudness, -6, 0.15)
	near("the difference at 1 kHz", d.Octaves[5].Change, -6, 0.05)
	// 1.96 * 4.343 * √(2 / (704.6 Hz * 1.8 s)), by hand.
	near("chance at 1 kHz", d.Octaves[5].Chance, 0.34, 0.006)
	if d.Octaves[9].Change != nil {
		t.Errorf("two empty bands differ by %v dB", *d.Octaves[9].Change)
	}
	table := figuresOf(t, "warning: ridge: captures alder and cedar were recorded at 60 and 60000/1001 Hz; their times at refresh multiples are not compared\n")
	for _, want := range []string{"loudness", "−20.0 LUFS", "no sound", "−6.0 LU", "−6.0 dB (chance ±0.3)"} {
		if !strings.Contains(table, want) {
			t.Errorf("the table lacks %q:\n%s", want, table)
		}
	}
	rows, err := csv.NewReader(strings.NewReader(figuresOf(t, "warning: ridge: captures alder and cedar were recorded at 60 and 60000/1001 Hz; their times at refresh multiples are not compared\n", "--format", "csv"))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	for i, name := range rows[0] {
		switch name {
		case "loudness_lufs", "octave_1000_hz_db", "change_octave_1000_hz_db":
			seen++
			if rows[2][i] == "" || rows[3][i] != "" {
				t.Errorf("%s: %q for birch, %q for cedar, which has no sound", name, rows[2][i], rows[3][i])
			}
		}
	}
	if seen != 3 {
		t.Errorf("%d of 3 columns", seen)
	}
	t.Log(table)
}
