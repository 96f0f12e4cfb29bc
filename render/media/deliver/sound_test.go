package deliver

import (
	"context"
	"encoding/binary"
	"image"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"fairframe/render/media"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
)

// writeWAV writes a file of one channel at 48 kHz.
func writeWAV(t testing.TB, path string, samples []int16) {
	t.Helper()
	const rate = media.SoundRate
	le := binary.LittleEndian
	b := []byte("RIFF....WAVEfmt ....................data....")
	for k, v := range map[int]uint32{4: uint32(36 + 2*len(samples)), 16: 16, 24: rate, 28: 2 * rate, 40: uint32(2 * len(samples))} {
		le.PutUint32(b[k:], v)
	}
	for k, v := range map[int]uint16{20: 1, 22: 1, 32: 2, 34: 16} {
		le.PutUint16(b[k:], v)
	}
	for _, v := range samples {
		b = le.AppendUint16(b, uint16(v))
	}
	if err := os.WriteFile(path, b, 0o666); err != nil {
		t.Fatal(err)
	}
}

// clicks makes a capture of 2 s whose sound has a click at each of the given
// samples of 48 kHz, and whose picture n is n grey levels bright. delay shifts
// the sound, in seconds.
func clicks(t *testing.T, tools *media.Tools, name string, delay string, at []int, args ...string) media.Capture {
	t.Helper()
	const rate = 48000
	dir := t.TempDir()
	samples := make([]int16, 2*rate)
	for _, k := range at {
		for j := range 48 { // 1 ms
			samples[k+j] = 16000
		}
	}
	wav := filepath.Join(dir, "sound.wav")
	writeWAV(t, wav, samples)
	size := image.Pt(64, 36)
	spec := media.EncodeSpec{Out: filepath.Join(dir, name), Size: size, PixFmt: "yuv420p", Rate: pacing.Rate{Num: 60, Den: 1}, Sound: wav,
		Args: append([]string{"-af", "asetpts=PTS+" + delay + "/TB", "-c:v", "libx264", "-preset", "ultrafast", "-qp", "0"}, args...)}
	err := tools.Encode(t.Context(), spec, func(w io.Writer) error {
		pic := make([]byte, size.X*size.Y*3/2)
		for n := range 120 {
			for i := range size.X * size.Y {
				pic[i] = byte(40 + n)
			}
			if _, err := w.Write(pic); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	c, err := tools.Probe(t.Context(), spec.Out)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// loudest returns where the sound of a stretch is loudest, in seconds.
func loudest(t *testing.T, tools *media.Tools, c media.Capture, from, length time.Duration) (at float64, n int) {
	t.Helper()
	var best float32
	err := tools.DecodeSound(t.Context(), c, media.SoundRequest{From: from, Length: length, Rate: 8000}, func(x []float32) error {
		for _, v := range x {
			if v > best {
				best, at = v, float64(n)/8000
			}
			n++
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return at, n
}

// TestDecodeSound: sound counts from the first video frame, wherever it begins.
func TestDecodeSound(t *testing.T) {
	tools, err := media.Find("")
	if err != nil {
		t.Skip(err)
	}
	for _, one := range []struct{ name, delay, format string }{
		{"a.mkv", "0", "matroska"}, {"late.mov", "0.25", "mov"}, {"b.ts", "0.1", "mpegts"},
	} {
		codec := "pcm_s16le"
		if one.format == "mpegts" {
			codec = "mp2"
		}
		c := clicks(t, tools, one.name, one.delay, []int{72000}, "-g", "20", "-c:a", codec, "-f", one.format)
		want := map[string]float64{"0": 1.5, "0.25": 1.75, "0.1": 1.6}[one.delay] + 0.0005
		if at, _ := loudest(t, tools, c, 0, 0); math.Abs(at-want) > 0.001 {
			t.Errorf("%s: the click is at %.4f s, want %.4f", one.name, at, want)
		}
		from := 1400 * time.Millisecond
		at, n := loudest(t, tools, c, from, 500*time.Millisecond)
		if math.Abs(at+from.Seconds()-want) > 0.001 || n != 4000 {
			t.Errorf("%s: from %v the click is at %.4f s of %d samples, want %.4f of 4000", one.name, from, at+from.Seconds(), n, want)
		}
	}
	c := clicks(t, tools, "c.mkv", "0", nil, "-an", "-f", "matroska")
	if err := tools.DecodeSound(t.Context(), c, media.SoundRequest{Rate: 8000}, func([]float32) error { return nil }); err == nil {
		t.Error("a capture without sound is no error")
	}
}

// TestDecodeVideo: each frame comes once, by its number, from anywhere.
func TestDecodeVideo(t *testing.T) {
	tools, err := media.Find("")
	if err != nil {
		t.Skip(err)
	}
	c := clicks(t, tools, "a.ts", "0", []int{48000}, "-g", "30", "-c:a", "mp2", "-f", "mpegts")
	for _, from := range []int64{0, 37, 100} {
		count := int64(15)
		next := from
		_, err := tools.DecodeVideo(context.Background(), c, media.Request{From: from, Count: count, Size: image.Pt(8, 4)}, func(n int64, picture *[]byte) error {
			luma := *picture
			if n != next || len(luma) != 32 {
				t.Errorf("frame %d of %d bytes, want frame %d", n, len(luma), next)
			}
			if want := byte(40 + n); luma[5] != want {
				t.Errorf("frame %d is %d bright, want %d", n, luma[5], want)
			}
			next++
			return nil
		})
		if err != nil || next != from+count {
			t.Errorf("from %d: ended before frame %d, %v", from, next, err)
		}
	}
}

// TestSoundPauses holds a scene twice and looks for the clicks of its sound: they
// come as much later as the holds before them last, to 1 ms, and the holds are
// silent. Around them sound fades, so that no step is louder than its wave's own.
func TestSoundPauses(t *testing.T) {
	tools := tools(t)
	at := []int{12000, 36000, 72000}
	c := clicks(t, tools, "clicks.mkv", "0", at, "-c:a", "flac", "-f", "matroska")
	const ms = time.Millisecond
	holds := []pacing.Freeze{{At: 501 * ms, For: 333 * ms}, {At: time.Second, For: 250 * ms}}
	rate := pacing.Rate{Num: 60, Den: 1}
	m, err := pacing.NewTimeMap(rate, 1800*ms, nil, holds)
	if err != nil {
		t.Fatal(err)
	}
	clip := columns(t, image.Pt(64, 36), rate, m.Frames(), []media.Capture{c}, []time.Duration{0}, centred)
	clip.Time = m
	out := filepath.Join(t.TempDir(), "clip.mkv")
	done, err := Render(t.Context(), tools, clip, out, nil)
	if err != nil {
		t.Fatal(err)
	}
	made := done.Clip
	var all []float32
	err = tools.DecodeSound(t.Context(), made, media.SoundRequest{Length: 3 * time.Second, Rate: 48000}, func(x []float32) error {
		all = append(all, x...)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []int{12000, 36000 + 15984, 72000 + 15984 + 12000} {
		first := 0
		for k := max(0, want-4800); k < want+4800 && k < len(all); k++ {
			if all[k] > 0.2 {
				first = k
				break
			}
		}
		if d := first - want; d < -48 || d > 48 {
			t.Errorf("click %d begins at sample %d instead of %d", i+1, first, want)
		}
	}
	for _, span := range [][2]int{{24048, 40032}, {48000 + 15984, 60000 + 15984}} {
		for k := span[0]; k < span[1]; k++ {
			if all[k] != 0 {
				t.Fatalf("sample %d of the hold is %v", k, all[k])
			}
		}
	}
}

// TestSoundEndsBeforeAPause: a capture whose sound ends early is silent from there
// on, through a hold and after it, and another one mixed with it keeps its time.
func TestSoundEndsBeforeAPause(t *testing.T) {
	tools := tools(t)
	const ms = time.Millisecond
	short := clicks(t, tools, "short.mkv", "0", []int{12000}, "-af", "atrim=end_sample=36000", "-c:a", "flac", "-f", "matroska")
	long := clicks(t, tools, "long.mkv", "0", []int{72000}, "-c:a", "flac", "-f", "matroska")
	rate := pacing.Rate{Num: 60, Den: 1}
	m, err := pacing.NewTimeMap(rate, 1800*ms, nil, []pacing.Freeze{{At: 500 * ms, For: 100 * ms}, {At: 900 * ms, For: 300 * ms}})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		sound graph.Sound
		want  []int // where the clicks begin
		level float32
	}{
		{graph.Sound{Kind: graph.Single, Inputs: []int{0}}, []int{12000}, 0.4},
		{graph.Sound{Kind: graph.Mix, Inputs: []int{0, 1}}, []int{12000, 72000 + 4800 + 14400}, 0.2},
		{graph.Sound{Kind: graph.Ears, Inputs: []int{1, 0}}, []int{12000, 72000 + 4800 + 14400}, 0.2},
	} {
		clip := columns(t, image.Pt(128, 36), rate, m.Frames(), []media.Capture{short, long}, make([]time.Duration, 2), centred)
		clip.Time, clip.Sound = m, c.sound
		out := filepath.Join(t.TempDir(), "clip.mkv")
		done, err := Render(t.Context(), tools, clip, out, nil)
		if err != nil {
			t.Fatal(err)
		}
		made := done.Clip
		var all []float32
		if err := tools.DecodeSound(t.Context(), made, media.SoundRequest{Length: 4 * time.Second, Rate: 48000}, func(x []float32) error {
			all = append(all, x...)
			return nil
		}); err != nil {
			t.Fatal(err)
		}
		var got []int
		for k, v := range all {
			if v > c.level/2 && (len(got) == 0 || k > got[len(got)-1]+480) {
				got = append(got, k)
			}
		}
		ok := len(got) == len(c.want)
		for i := range got {
			ok = ok && got[i] >= c.want[i]-2 && got[i] <= c.want[i]+2
		}
		if length := int(m.Frames() * 800); !ok || len(all) < length || slices.ContainsFunc(all[length:], func(v float32) bool { return v != 0 }) {
			t.Errorf("%+v: %d samples of %d, clicks at %v instead of %v", c.sound, len(all), length, got, c.want)
		}
	}
}
