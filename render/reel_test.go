package render

import (
	"encoding/binary"
	"fmt"
	"image"
	"math"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"fairframe/render/media"
	"fairframe/render/media/deliver"
	"fairframe/render/media/mediatest"
	"fairframe/render/pacing"
)

// soundCapture makes a capture whose frames carry bar codes and whose sound is a
// click, 2 ms of 1 kHz, at the beginning of every tenth frame.
func soundCapture(t *testing.T, path string, size image.Point, r pacing.Rate, n int) {
	t.Helper()
	const rate = 48000
	sound := strings.TrimSuffix(path, filepath.Ext(path)) + ".wav"
	total := int(r.TimeOf(int64(n)).Seconds() * rate)
	samples := make([]byte, 2*total)
	for k := 0; k < n; k += 10 {
		from := int(math.Round(r.TimeOf(int64(k)).Seconds() * rate))
		for i := range 96 {
			if from+i < total {
				binary.LittleEndian.PutUint16(samples[2*(from+i):], uint16(int16(20000*math.Cos(2*math.Pi*1000*float64(i)/rate))))
			}
		}
	}
	head := []byte("RIFF\x00\x00\x00\x00WAVEfmt \x10\x00\x00\x00\x01\x00\x01\x00\x80\xbb\x00\x00\x00\x77\x01\x00\x02\x00\x10\x00data\x00\x00\x00\x00")
	binary.LittleEndian.PutUint32(head[4:], uint32(36+len(samples)))
	binary.LittleEndian.PutUint32(head[40:], uint32(len(samples)))
	write(t, sound, string(head)+string(samples))
	err := tools(t).Encode(t.Context(), media.EncodeSpec{Out: path, Size: size, PixFmt: "yuv420p", Rate: r, Sound: sound,
		Args: []string{"-c:v", "ffv1", "-level", "3", "-g", "1", "-c:a", "flac", "-f", "matroska",
			"-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709", "-color_range", "tv"}},
		mediatest.Film(size, n))
	if err != nil {
		t.Fatal(err)
	}
}

// heard decodes a file's sound to 48 kHz mono from the first picture on, with
// ffmpeg itself.
func heard(t *testing.T, path string) []float64 {
	t.Helper()
	raw, err := exec.Command(tools(t).FFmpeg, "-v", "error", "-nostdin", "-i", "file:"+path, "-map", "0:a:0", "-ac", "1", "-ar", "48000", "-f", "f32le", "pipe:1").Output()
	if err != nil {
		t.Fatalf("sound of %s: %v", path, err)
	}
	out := make([]float64, len(raw)/4)
	for i := range out {
		out[i] = float64(math.Float32frombits(binary.LittleEndian.Uint32(raw[4*i:])))
	}
	return out
}

// reelScenes are what the reel of TestReel joins: the capture's frames they show,
// and whether they are heard.
var reelScenes = []struct {
	first, n int
	heard    bool
}{{5, 37, true}, {3, 11, false}, {20, 23, true}, {1, 31, true}}

// TestReel joins scenes with and without sound and reads the reel back: every
// picture's bar code across the joints, where each click is heard, chapters, and
// that nothing was coded a second time that need not be.
func TestReel(t *testing.T) {
	t.Parallel()
	size, rate := image.Pt(320, 180), hz5994
	dir := filepath.Join(t.TempDir(), "it's #1; here=")
	if err := mkdir(dir); err != nil {
		t.Fatal(err)
	}
	soundCapture(t, filepath.Join(dir, "alder.mkv"), size, rate, 70)
	barCapture(t, filepath.Join(dir, "birch.mkv"), size, rate, 70)
	for _, delivery := range []string{"web", "lossless"} {
		t.Run(delivery, func(t *testing.T) {
			p := open(t, dir, fmt.Sprintf(`output: {folder: %[1]s, size: 320x180, rate: 60000/1001, delivery: %[1]s, effort: quick}
captures:
  alder: {video: alder.mkv}
  birch: {video: birch.mkv}
defaults: {captures: [alder, birch], deck: {place: none}}
scenes:
  - {id: one, start: f5, length: f37, audio: alder, caption: "Launch; a=b # c\\d 'e' – ü"}
  - {id: two, start: f3, length: f11, audio: none}
  - {id: three, start: f20, length: f23, audio: alder}
  - {id: four, start: f1, length: f31, audio: alder}
`, delivery))
			rows, err := Batch(t.Context(), p, BatchOptions{Jobs: 1})
			if err != nil {
				t.Fatal(err)
			}
			for _, r := range rows {
				if r.Err != nil {
					t.Fatal(r.Err)
				}
			}
			out := filepath.Join(dir, "reel"+filepath.Ext(rows[0].Out))
			reel, err := MakeReel(t.Context(), p, rows, out, false, nil)
			if err != nil {
				t.Fatal(err)
			}
			if reel.Frames != 37+11+23+31 || reel.Scenes != 4 || reel.Bytes == 0 || reel.Status != Rendered {
				t.Errorf("reel %+v", reel)
			}
			again, err := MakeReel(t.Context(), p, rows, out, false, nil)
			if err != nil || again.Status != UpToDate || again.Bytes != reel.Bytes || again.Sound != reel.Sound {
				t.Errorf("the same reel again: %+v, %v", again, err)
			}
			got := pictures(t, out, size, "yuv420p")
			if len(got) != 102 {
				t.Fatalf("%d pictures", len(got))
			}
			k := 0
			for _, s := range reelScenes {
				for i := range s.n {
					if n := bar(t, got[k], size, image.Rect(0, 0, 160, 180), 320); n != s.first+i {
						t.Errorf("picture %d shows %d, want %d", k, n, s.first+i)
					}
					k++
				}
			}
			checkReelSound(t, heard(t, out), rate)
			if delivery == "lossless" {
				expect(t, "sound", string(reel.Sound), "lossless")
				sameSoundAsClips(t, heard(t, out), rows, rate)
			} else {
				expect(t, "sound", string(reel.Sound), "from the captures")
				codedOnce(t, out, filepath.Join(dir, "alder.mkv"), rate)
			}
			chapters, err := deliver.Chapters(t.Context(), p.Tools, out)
			if err != nil || len(chapters) != 4 {
				t.Fatalf("chapters %v, %v", chapters, err)
			}
			expect(t, "first chapter", chapters[0].Title, `Launch; a=b # c\d 'e' – ü`)
			expect(t, "second chapter", chapters[1].Title, "two")
			if want := rate.TimeOf(48).Seconds(); math.Abs(chapters[2].From-want) > 0.001 || math.Abs(chapters[3].To-rate.TimeOf(102).Seconds()) > 0.001 {
				t.Errorf("chapters %v", chapters)
			}
			record, err := deliver.Record(t.Context(), p.Tools, out)
			if err != nil || !strings.Contains(record, `"scene":"four"`) {
				t.Errorf("record %.80q, %v", record, err)
			}
			c, err := p.Tools.Probe(t.Context(), out)
			if err != nil || c.Colour.Matrix != "bt709" || c.Colour.Assumed || c.Rate != rate {
				t.Errorf("reel %+v, %v", c, err)
			}
			// The same name for a reel of other scenes, and that one made afresh.
			other, err := MakeReel(t.Context(), p, rows[1:2], out, false, nil)
			if err != nil || other.Status != Rendered || other.Frames != 11 {
				t.Errorf("a reel of other scenes: %+v, %v", other, err)
			}
			if back, err := MakeReel(t.Context(), p, rows[1:2], out, true, nil); err != nil || back.Status != Rendered || back.Bytes != other.Bytes {
				t.Errorf("the reel made afresh: %+v, %v", back, err)
			}
		})
	}
}

// checkReelSound looks for a click at every tenth capture frame of a scene that is
// heard, and for silence in the one that is not.
func checkReelSound(t *testing.T, sound []float64, r pacing.Rate) {
	t.Helper()
	at, clicks := 0, 0
	for i, s := range reelScenes {
		for j := range s.n {
			n := s.first + j
			if n%10 != 0 || !s.heard {
				continue
			}
			want := r.TimeOf(int64(at + j)).Seconds()
			if have := click(sound, want); math.Abs(have-want) > 0.001 {
				t.Errorf("scene %d: the click of frame %d is heard %.2f ms off", i, n, 1000*(have-want))
			}
			clicks++
		}
		at += s.n
	}
	if clicks < 7 {
		t.Errorf("%d clicks only", clicks)
	}
	for i := int(r.TimeOf(37).Seconds()*48000) + 2400; i < int(r.TimeOf(48).Seconds()*48000)-2400; i++ {
		if math.Abs(sound[i]) > 0.001 {
			t.Fatalf("the silent scene is heard at sample %d", i)
		}
	}
}

// sameSoundAsClips: what is coded without loss is the clips' own to the bit.
func sameSoundAsClips(t *testing.T, sound []float64, rows []Row, r pacing.Rate) {
	t.Helper()
	done := int64(0)
	for i, s := range reelScenes {
		from := int(math.Round(r.TimeOf(done).Seconds() * 48000))
		done += int64(s.n)
		if !s.heard {
			continue
		}
		clip := heard(t, rows[i].Out)
		for j := range min(len(clip), int(math.Round(r.TimeOf(done).Seconds()*48000))-from) {
			if sound[from+j] != clip[j] {
				t.Fatalf("scene %d: sample %d is %v, in the clip %v", i, j, sound[from+j], clip[j])
			}
		}
	}
}

// codedOnce: a reel's sound that a coder changes is what ffmpeg, left alone, makes
// of the capture's own samples, cut and faded: the clips' coder had no part in it.
func codedOnce(t *testing.T, reel, capture string, r pacing.Rate) {
	t.Helper()
	var graph, list strings.Builder
	done := int64(0)
	for i, s := range reelScenes {
		from := int64(math.Round(r.TimeOf(done).Seconds() * 48000))
		done += int64(s.n)
		slot := int64(math.Round(r.TimeOf(done).Seconds()*48000)) - from
		fmt.Fprintf(&list, "[p%d]", i)
		if !s.heard {
			fmt.Fprintf(&graph, "anullsrc=r=48000:cl=stereo,aformat=sample_fmts=fltp,atrim=end_sample=%d[p%d];", slot, i)
			continue
		}
		own := int64(math.Round(r.TimeOf(int64(s.n)).Seconds() * 48000))
		first := int64(math.Ceil(r.TimeOf(int64(s.first)).Seconds()*48000 - 1e-3))
		fmt.Fprintf(&graph, "[0:a]atrim=start_sample=%d:end_sample=%d,asetpts=N,aformat=sample_fmts=fltp:channel_layouts=mono,pan=stereo|c0=c0|c1=c0,"+
			"afade=in:ss=0:ns=480,afade=out:ss=%d:ns=480,apad=whole_len=%d,atrim=end_sample=%d[p%d];", first, first+own, own-480, slot, slot, i)
	}
	want := reel + ".want.mp4"
	args := []string{"-v", "error", "-nostdin", "-i", "file:" + capture, "-filter_complex", fmt.Sprintf("%s%sconcat=n=%d:v=0:a=1[a]", graph.String(), list.String(), len(reelScenes)),
		"-map", "[a]", "-c:a", "aac", "-b:a", "256k", "-flags:a", "+bitexact", "file:" + want}
	if text, err := exec.Command(tools(t).FFmpeg, args...).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	a, b := heard(t, reel), heard(t, want)
	worst := 0.0
	for i := range min(len(a), len(b)) {
		worst = math.Max(worst, math.Abs(a[i]-b[i]))
	}
	if len(a) != len(b) || worst > 1e-6 {
		t.Errorf("the reel's sound, %d samples, differs by up to %.2g from the capture's coded once, %d samples", len(a), worst, len(b))
	}
}

// click finds the loudest place within 30 ms of a moment: where the magnitude
// first passes half of the peak.
func click(sound []float64, near float64) float64 {
	from, to := max(0, int((near-0.03)*48000)), min(len(sound), int((near+0.03)*48000))
	peak := 0.0
	for _, v := range sound[from:to] {
		peak = math.Max(peak, math.Abs(v))
	}
	if peak < 0.05 {
		return math.Inf(1)
	}
	for i, v := range sound[from:to] {
		if math.Abs(v) > peak/2 {
			return float64(from+i) / 48000
		}
	}
	return math.Inf(1)
}

// TestReelRefused: what cannot be joined is said, and leaves nothing.
func TestReelRefused(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	small(t, dir)
	p := open(t, dir, smallFile)
	rows, err := Batch(t.Context(), p, BatchOptions{Only: []string{"ridge", "shore"}})
	if err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(dir, "reel.mkv")
	for name, tt := range map[string]struct {
		rows []Row
		out  string
		want string
	}{
		"a scene that failed":  {[]Row{rows[0], {Scene: "shore", Status: Failed, Out: rows[1].Out}}, out, "these scenes have no clip: shore"},
		"another ending":       {rows, filepath.Join(dir, "reel.mp4"), "should end in .mkv"},
		"a clip's name":        {rows, rows[0].Out, "is the clip ridge"},
		"a capture's name":     {rows, filepath.Join(dir, "alder.mkv"), "is one of the inputs"},
		"no folder":            {rows, filepath.Join(dir, "none", "reel.mkv"), "cannot write beside"},
		"clips that are other": {[]Row{rows[0], {Scene: "shore", Status: UpToDate, Out: filepath.Join(dir, "alder.mkv")}}, out, "differ in size 640x360 and 320x180"},
	} {
		if _, err := MakeReel(t.Context(), p, tt.rows, tt.out, false, nil); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: %v, want %q", name, err, tt.want)
		}
	}
	if list, err := filepath.Glob(filepath.Join(dir, "*reel*")); err != nil || len(list) > 0 {
		t.Errorf("left behind: %v", list)
	}
	// A clip that is shorter than the manifest says is found out.
	m := p.Manifest()
	edit(t, m, `"frames": 3`, `"frames": 4`)
	if _, err := MakeReel(t.Context(), p, rows, out, false, nil); err == nil || !strings.Contains(err.Error(), "3 frames instead of 4") {
		t.Errorf("a short clip: %v", err)
	}
}

// TestReelDeliveries: what else can be joined is joined, and its streams are those
// of the clips; what cannot is refused before anything is rendered.
func TestReelDeliveries(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	small(t, dir)
	for _, tt := range []struct{ output, reel, refused string }{
		{"delivery: edit", "reel.mov", ""},
		{"delivery: overlay", "reel.mov", ""},
		{"delivery: overlay, codec: vp9", "reel.webm", ""},
		{"delivery: overlay, codec: png", "reel", "clips of delivery overlay cannot be joined"},
		{"delivery: gif", "reel.gif", "clips of delivery gif cannot be joined"},
		{"delivery: web", "reel.mov", "should end in .mp4"},
	} {
		p := open(t, dir, strings.Replace(strings.Replace(smallFile, "640x360", "320x180", 1), "delivery: lossless", tt.output, 1))
		out := filepath.Join(dir, tt.reel)
		if err := CheckReel(p.File, out); tt.refused != "" {
			if err == nil || !strings.Contains(err.Error(), tt.refused) {
				t.Errorf("%s: %v, want %q", tt.output, err, tt.refused)
			}
			continue
		} else if err != nil {
			t.Errorf("%s: %v", tt.output, err)
		}
		rows, err := Batch(t.Context(), p, BatchOptions{Only: []string{"ridge", "shore"}, Fresh: true})
		if err != nil {
			t.Fatal(err)
		}
		reel, err := MakeReel(t.Context(), p, rows, out, false, nil)
		if err != nil || reel.Frames != 6 || reel.Sound != deliver.NoSound {
			t.Errorf("%s: %+v, %v", tt.output, reel, err)
			continue
		}
		clip, err1 := p.Tools.Probe(t.Context(), rows[0].Out)
		made, err2 := p.Tools.Probe(t.Context(), out)
		if err1 != nil || err2 != nil || made.Codec != clip.Codec || made.PixFmt != clip.PixFmt || made.Colour != clip.Colour {
			t.Errorf("%s: %+v, %+v (%v, %v)", tt.output, clip, made, err1, err2)
		}
	}
}
