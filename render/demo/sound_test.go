package demo

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"os/exec"
	"strconv"
	"strings"
	"testing"
	"time"
)

func TestWAV(t *testing.T) {
	s := sound{make([]float32, soundRate), make([]float32, soundRate)}
	s.left[4800], s.right[4801] = 0.5, -2
	var b bytes.Buffer
	if err := s.writeWAV(&b, 100*time.Millisecond, time.Second, 0.5); err != nil {
		t.Fatal(err)
	}
	got := b.Bytes()
	// Multimedia Programming Interface and Data Specifications 1.0 (1991), WAVE form.
	want := "RIFF\x24\xee\x02\x00WAVEfmt \x10\x00\x00\x00\x01\x00\x02\x00\x80\xbb\x00\x00\x00\xee\x02\x00\x04\x00\x10\x00data\x00\xee\x02\x00"
	if string(got[:44]) != want {
		t.Errorf("header is %q, want %q", got[:44], want)
	}
	if len(got) != 44+4*soundRate {
		t.Errorf("%d bytes", len(got))
	}
	at := func(i, channel int) int16 { return int16(binary.LittleEndian.Uint16(got[44+4*i+2*channel:])) }
	if at(0, 0) != 8192 || at(0, 1) != 0 || at(1, 1) != -32767 || at(soundRate-1, 0) != 0 {
		t.Errorf("samples %d %d %d %d", at(0, 0), at(0, 1), at(1, 1), at(soundRate-1, 0))
	}
}

// The encoded sounds are the same sound, set apart by the captures' leads.
func TestSoundsAreSetApartByTheLeads(t *testing.T) {
	_, r := demoOf(t, Options{Length: 3 * time.Second, Seed: 3, Size: image128, CRF: 40})
	var mono [][]float64
	for _, c := range r.Captures {
		// What counts is the audio's place against the first captured frame.
		out, err := exec.Command(tools(t).FFprobe, "-v", "error", "-select_streams", "v:0", "-show_entries", "stream=start_time", "-of", "csv=p=0", c.Video).Output()
		if err != nil {
			t.Fatal(err)
		}
		first, err := strconv.ParseFloat(strings.TrimSpace(string(out)), 64)
		if err != nil {
			t.Fatal(err)
		}
		filter := fmt.Sprintf("aresample=48000:async=1:first_pts=%d", int(math.Round(first*soundRate)))
		out, err = exec.Command(tools(t).FFmpeg, "-v", "error", "-copyts", "-i", c.Video, "-map", "0:a:0", "-af", filter, "-ac", "1", "-f", "f32le", "pipe:1").Output()
		if err != nil {
			t.Fatal(err)
		}
		list := make([]float64, len(out)/4)
		for i := range list {
			list[i] = float64(math.Float32frombits(binary.LittleEndian.Uint32(out[4*i:])))
		}
		mono = append(mono, list)
	}
	for i := 1; i < len(mono); i++ {
		a, b := mono[0], mono[i]
		want := int((r.Captures[i].Lead - r.Captures[0].Lead) * soundRate / time.Second)
		best, at := 0.0, 0
		for lag := want - 4800; lag <= want+4800; lag += 6 {
			var ab, aa, bb float64
			for k := soundRate / 2; k < 2*soundRate; k += 3 {
				if k+lag < 0 || k+lag >= len(a) || k >= len(b) {
					continue
				}
				ab += a[k+lag] * b[k]
				aa += a[k+lag] * a[k+lag]
				bb += b[k] * b[k]
			}
			if c := ab / math.Sqrt(aa*bb); c > best {
				best, at = c, lag
			}
		}
		// Matroska rounds time stamps to whole milliseconds, 48 samples.
		if d := at - want; d < -54 || d > 54 || best < 0.9 {
			t.Errorf("%s: %d samples after %s, want %d (correlation %.3f)", r.Captures[i].Key, at, r.Captures[0].Key, want, best)
		}
		t.Logf("%s: lag %d, want %d, correlation %.3f", r.Captures[i].Key, at, want, best)
	}
}

func TestSoundIsTheSameEachTime(t *testing.T) {
	make := func(seed uint64) []byte {
		s, err := newSound(context.Background(), seed, 3*time.Second, 2*time.Second)
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if err := s.writeWAV(io.Writer(&b), 0, 2*time.Second, 1); err != nil {
			t.Fatal(err)
		}
		return b.Bytes()
	}
	a, b, c := make(1), make(1), make(2)
	if !bytes.Equal(a, b) || bytes.Equal(a, c) {
		t.Error("the sound does not follow from the seed")
	}
	peak := 0
	for i := 44; i < len(a); i += 2 {
		v := int(int16(binary.LittleEndian.Uint16(a[i:])))
		peak = max(peak, v, -v)
	}
	if peak < 3000 || peak > 32000 {
		t.Errorf("peak is %d of 32767", peak)
	}
}
