package align

import (
	"context"
	"encoding/binary"
	"image"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"

	"fairframe/render/media"
)

// wav writes mono 16-bit sound.
func wav(t testing.TB, path string, rate int, x []float32) {
	t.Helper()
	le := binary.LittleEndian
	b := []byte("RIFF....WAVEfmt ....................data")
	b = append(b, make([]byte, 4+2*len(x))...)
	le.PutUint32(b[4:], uint32(36+2*len(x)))
	le.PutUint32(b[16:], 16)
	le.PutUint16(b[20:], 1) // PCM
	le.PutUint16(b[22:], 1)
	le.PutUint32(b[24:], uint32(rate))
	le.PutUint32(b[28:], uint32(2*rate))
	le.PutUint16(b[32:], 2)
	le.PutUint16(b[34:], 16)
	copy(b[36:], "data")
	le.PutUint32(b[40:], uint32(2*len(x)))
	for i, v := range x {
		le.PutUint16(b[44+2*i:], uint16(int16(math.Round(float64(min(1, max(-1, v)))*32767))))
	}
	if err := os.WriteFile(path, b, 0o666); err != nil {
		t.Fatal(err)
	}
}

// encode encodes a take as a real capture and opens it.
func encode(t *testing.T, tools *media.Tools, g *game, k take, name string, size image.Point, args ...string) *Track {
	t.Helper()
	dir := t.TempDir()
	high := g.sounds()
	first := int(math.Round(k.lead * highRate))
	wav(t, filepath.Join(dir, "sound.wav"), highRate, high[first:first+int(k.length*highRate)])
	spec := media.EncodeSpec{
		Out: filepath.Join(dir, name), Size: size, PixFmt: "yuv420p", Rate: sixty, Sound: filepath.Join(dir, "sound.wav"),
		Args: append([]string{"-c:v", "libx264", "-preset", "ultrafast", "-threads", "1", "-pix_fmt", "yuv420p"}, args...),
	}
	err := tools.Encode(t.Context(), spec, func(w io.Writer) error {
		pic := make([]byte, size.X*size.Y*3/2)
		for i := range pic {
			pic[i] = 128
		}
		for n := range sixty.FramesIn(secs(k.length)) {
			if k.cadence(n) == n {
				cells := g.picture(k.lead + sixty.TimeOf(n).Seconds())
				for y := range size.Y {
					for x := range size.X {
						v := cells[y*sigHigh/size.Y*sigWide+x*sigWide/size.X]
						pic[y*size.X+x] = byte(min(235, max(16, v)))
					}
				}
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
	tr, err := Open(t.Context(), tools, c, Both, 0, 0, nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(tr.Close)
	return tr
}

func findTools(t *testing.T) *media.Tools {
	t.Helper()
	tools, err := media.Find("")
	if err != nil {
		t.Skip(err)
	}
	return tools
}

// TestEncoded: through real files of other sizes, qualities, codecs and
// containers, with stamps that do not begin at zero.
func TestEncoded(t *testing.T) {
	tools := findTools(t)
	g := newGame(21, 12)
	a := encode(t, tools, g, take{length: 6, cadence: every(2)}, "a.mkv", image.Pt(160, 90), "-crf", "18", "-c:a", "pcm_s16le", "-f", "matroska")
	b := encode(t, tools, g, take{lead: 1.45, length: 6, cadence: every(3)}, "b.ts", image.Pt(96, 54), "-crf", "38", "-c:a", "aac", "-b:a", "64k", "-f", "mpegts")
	for by := Both; by <= Picture; by++ {
		r, err := Match(t.Context(), a, b, Settings{By: by, Around: -1})
		if err != nil {
			t.Fatal(err)
		}
		e := r.Offset + 1.45
		t.Logf("by %-8v %+.3f ms, confidence %.3f", by, 1000*e, r.Confidence)
		most := 0.001
		if by == Picture {
			most = 0.5 / 60
		}
		if !r.Matched() || math.Abs(e) > most {
			t.Errorf("by %v: %.5f s with confidence %.2f, want -1.45", by, r.Offset, r.Confidence)
		}
	}
}

// TestOpenPart: a track of a part counts in the capture's time all the same.
func TestOpenPart(t *testing.T) {
	tools := findTools(t)
	g := newGame(22, 10)
	whole := encode(t, tools, g, take{length: 6, cadence: every(1)}, "a.mp4", image.Pt(96, 54), "-crf", "20", "-c:a", "aac", "-f", "mp4")
	part, err := Open(t.Context(), tools, whole.Capture, Both, secs(2.01), secs(5), nil)
	if err != nil {
		t.Fatal(err)
	}
	defer part.Close()
	if math.Abs(part.Length()-3) > 0.02 {
		t.Errorf("the part is %.3f s long, want 3", part.Length())
	}
	for name, pair := range map[string][2]*Track{"of a": {part, whole}, "of b": {whole, part}} {
		r, err := Match(t.Context(), pair[0], pair[1], Settings{Around: -1})
		if err != nil {
			t.Fatal(err)
		}
		if !r.Matched() || math.Abs(r.Offset) > 0.001 {
			t.Errorf("part %s: %.5f s with confidence %.2f, want 0", name, r.Offset, r.Confidence)
		}
	}
}

// TestCancel: a cancelled run ends as such, and leaves no files.
func TestCancel(t *testing.T) {
	tools := findTools(t)
	g := newGame(23, 4)
	whole := encode(t, tools, g, take{length: 2, cadence: every(1)}, "a.mp4", image.Pt(96, 54), "-crf", "20", "-c:a", "aac", "-f", "mp4")
	temp := t.TempDir()
	t.Setenv("TMPDIR", temp)
	ctx, stop := context.WithCancel(t.Context())
	stop()
	if _, err := Open(ctx, tools, whole.Capture, Both, 0, 0, nil); err == nil {
		t.Error("a cancelled run went on")
	}
	if list, _ := os.ReadDir(temp); len(list) > 0 {
		t.Errorf("left behind: %v", list)
	}
}

// samples is where Debian's package sonic-pi-samples (CC0 1.0) puts its sounds.
const samples = "/usr/share/sonic-pi/samples"

// TestRealSound: recorded sounds, openly licensed, one after the other; the
// second take begins 1.237 s later, through a lossy codec and under a voice.
func TestRealSound(t *testing.T) {
	tools := findTools(t)
	names := []string{"ambi_haunted_hum", "loop_tabla", "loop_3d_printer", "vinyl_hiss"}
	if _, err := os.Stat(filepath.Join(samples, names[0]+".flac")); err != nil {
		t.Skip("needs recorded sounds: apt-get install sonic-pi-samples")
	}
	g := newGame(24, 30)
	g.high = nil
	for _, name := range names {
		path := filepath.Join(samples, name+".flac")
		if _, err := os.Stat(path); err != nil {
			continue
		}
		x, err := decodeFlac(t, path)
		if err != nil {
			t.Fatal(err)
		}
		g.high = append(g.high, x...)
	}
	length := min(20, float64(len(g.high))/highRate-3)
	if length < 8 {
		t.Skipf("only %.1f s of recorded sound", length)
	}
	voice, err := decodeFlac(t, filepath.Join(samples, "ambi_choir.flac"))
	if err != nil {
		t.Fatal(err)
	}
	over := &game{seed: g.seed, length: g.length, blobs: g.blobs}
	for i, v := range g.high {
		over.high = append(over.high, 0.7*v+0.3*voice[i%len(voice)])
	}
	blind := func(n int64) int64 { return n / 30 * 30 }
	a := encode(t, tools, g, take{length: length, cadence: blind}, "a.mkv", image.Pt(64, 36), "-crf", "30", "-c:a", "pcm_s16le", "-f", "matroska")
	b := encode(t, tools, over, take{lead: 1.237, length: length, cadence: blind}, "b.mp4", image.Pt(64, 36), "-crf", "30", "-c:a", "aac", "-b:a", "96k", "-f", "mp4")
	r, err := Match(t.Context(), a, b, Settings{By: Sound, Around: -1})
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%+.3f ms, confidence %.3f, %d stretches", 1000*(r.Offset+1.237), r.Confidence, len(r.Stretches))
	if !r.Matched() || math.Abs(r.Offset+1.237) > 0.001 {
		t.Errorf("%.5f s with confidence %.2f, want -1.237", r.Offset, r.Confidence)
	}
}

func decodeFlac(t *testing.T, path string) ([]float32, error) {
	t.Helper()
	out, err := exec.Command("ffmpeg", "-v", "error", "-i", path, "-ac", "1", "-ar", strconv.Itoa(highRate), "-f", "s16le", "-").Output()
	x := make([]float32, len(out)/2)
	for i := range x {
		x[i] = float32(int16(binary.LittleEndian.Uint16(out[2*i:]))) / 32768
	}
	return x, err
}
