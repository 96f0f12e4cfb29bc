package deliver

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fairframe/render/media"
	"fairframe/render/media/graph"
	"fairframe/render/media/mediatest"
)

// packetsOf returns where the packets of a capture's pictures lie and how long
// they are, in the order of the stream.
func packetsOf(t *testing.T, path string) (at [][2]int) {
	t.Helper()
	tools := tools(t)
	var out strings.Builder
	err := tools.Run(t.Context(), media.Process{Program: tools.FFprobe, Stdout: media.ReadInto(&out), Args: []string{"-v", "level+error",
		"-select_streams", "v:0", "-show_entries", "packet=pos,size", "-of", "csv=p=0", media.FileURL(path)}})
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(out.String()) {
		var size, pos int
		if strings.TrimSpace(line) == "" {
			continue // of a program's own in MPEG-TS
		}
		if _, err := fmt.Sscanf(line, "%d,%d", &size, &pos); err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		at = append(at, [2]int{pos, size})
	}
	return at
}

// spoilt is a copy of a capture in which a part of a packet's bytes, in quarters of
// it, have lost their meaning. Transport packets keep their heads.
func spoilt(t *testing.T, c media.Capture, packet, from, to int, with func(i int, b byte) byte) media.Capture {
	t.Helper()
	whole, err := os.ReadFile(c.Path)
	if err != nil {
		t.Fatal(err)
	}
	b := bytes.Clone(whole)
	list := packetsOf(t, c.Path)
	pos, size := list[packet][0], list[packet][1]
	for i := pos + size*from/4; i < pos+size*to/4; i++ {
		if filepath.Ext(c.Path) != ".ts" || i%188 >= 20 {
			b[i] = with(i, b[i])
		}
	}
	path := filepath.Join(t.TempDir(), "spoilt"+filepath.Ext(c.Path))
	if err := os.WriteFile(path, b, 0o644); err != nil {
		t.Fatal(err)
	}
	got, err := tools(t).Probe(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// scrambled flips bits here and there.
func scrambled(i int, b byte) byte { return b ^ (byte(i*37) | 1) }

// sparse flips few bits, so that the slices of FFV1 keep their lengths.
func sparse(i int, b byte) byte {
	if i%64 == 0 {
		return b ^ 0x10
	}
	return b
}

// ones are what a decoder of HEVC says something about, which passes over most else.
func ones(int, byte) byte { return 0xff }

// damageCases are a capture of each kind, in which packet 40, a key frame, may be
// spoilt without a frame being lost.
var damageCases = []struct {
	codec    codec
	from, to int // quarters of the packet
	with     func(int, byte) byte
	last     int64 // the frame before the next key frame
}{
	{codec{"h264", ".mkv", []string{"-c:v", "libx264", "-preset", "veryfast", "-crf", "12", "-g", "40", "-bf", "3"}}, 2, 4, scrambled, 79},
	{codec{"hevc", ".mp4", []string{"-c:v", "libx265", "-preset", "ultrafast", "-crf", "12", "-x265-params", "log-level=error:open-gop=0:keyint=40:min-keyint=40", "-tag:v", "hvc1"}}, 1, 3, ones, 79},
	{codec{"h264", ".ts", []string{"-c:v", "libx264", "-preset", "veryfast", "-crf", "12", "-g", "40", "-bf", "3"}}, 2, 4, scrambled, 79},
	{codec{"ffv1", ".mkv", []string{"-c:v", "ffv1", "-level", "3", "-slicecrc", "1", "-g", "1"}}, 1, 2, sparse, 40},
}

// tried is how many stretches are tried of a case: all of them with FAIRFRAME_FAULTS
// alone.
func tried(n int) int {
	switch {
	case os.Getenv("FAIRFRAME_FAULTS") != "":
		return 6
	case n == 0:
		return 3
	}
	return 1
}

// TestDamageInsideTheSceneFails spoils one coded picture, for which the decoder
// makes up another. Where the scene shows it, or what is predicted from it, the
// clip fails and says where; where it does not, the clip is made. Damage that is
// known and tolerated lets the clip be made, with every frame in its place.
func TestDamageInsideTheSceneFails(t *testing.T) {
	tools := tools(t)
	for n, kind := range damageCases {
		t.Run(kind.codec.name+kind.codec.ext, func(t *testing.T) {
			t.Parallel()
			capture := spoilt(t, barCapture(t, kind.codec, hz60, 100, 0), 40, kind.from, kind.to, kind.with)
			for _, tt := range []struct {
				name   string
				first  int64
				frames int64
				fails  bool
			}{
				{"across", 30, 50, true},
				{"from the very frame", 40, 10, true},
				{"before", 0, 20, false},
				{"from what is predicted from it", 50, 10, kind.last > 50},
				{"up to it", 30, 11, true},
				{"after", 82, 10, false},
			}[:tried(n)] {
				clip := columns(t, image.Pt(320, 180), hz60, tt.frames, []media.Capture{capture}, []time.Duration{hz60.TimeOf(tt.first)}, centred)
				clip.Sound = graph.Sound{}
				dir := t.TempDir()
				_, err := Render(t.Context(), tools, clip, filepath.Join(dir, "clip.mkv"), nil)
				if (err != nil) != tt.fails {
					t.Errorf("%s: error %v", tt.name, err)
				}
				found, derr := Damages(t.Context(), tools, clip)
				if derr != nil {
					t.Fatalf("%s: %v", tt.name, derr)
				}
				var d *media.Damaged
				if !tt.fails {
					if len(found) > 0 {
						t.Errorf("%s: damage %+v", tt.name, found)
					}
					continue
				}
				if left := files(t, dir); len(left) > 0 {
					t.Errorf("%s: left behind: %v", tt.name, left)
				}
				if !errors.As(err, &d) || len(found) != 1 || found[0] != *d {
					t.Errorf("%s: error %v, damage %+v", tt.name, err, found)
					continue
				}
				if d.Capture != "c0" || d.First > max(40, tt.first) || d.First < max(tt.first, 40-16) || d.Last > kind.last || d.Last < min(kind.last, tt.first+tt.frames-1, 40) ||
					d.Complaints < 1 || d.Words == "" || strings.Contains(d.Words, "0x") || strings.Contains(d.Words, string(filepath.Separator)) {
					t.Errorf("%s: damage %+v", tt.name, *d)
				}
				if tt.name != "across" {
					continue
				}
				clip.Tolerated = found
				path := filepath.Join(dir, "clip.mkv")
				done, err := Render(t.Context(), tools, clip, path, nil)
				if err != nil {
					t.Fatal(err)
				}
				made := done.Clip
				// Outside of the damage every frame is the one that belongs there.
				n := int64(0)
				_, err = tools.DecodeVideo(t.Context(), made, media.Request{Count: -1}, func(k int64, picture *[]byte) error {
					luma := *picture
					n++
					if frame := tt.first + k; frame < d.First || frame > d.Last {
						v, err := mediatest.Read(luma[made.Size.X*(made.Size.Y/3):][:made.Size.X], float64(made.Size.X)/2, float64(mediatest.BarWidth(capSize.X)))
						if err != nil || int64(v) != frame {
							return fmt.Errorf("output frame %d shows %d instead of %d (%v)", k, v, frame, err)
						}
					}
					return nil
				})
				if err != nil || n != tt.frames {
					t.Errorf("tolerated: %d frames instead of %d, %v", n, tt.frames, err)
				}
			}
		})
	}
}

// TestMissingFramesAreNotTolerated takes pictures out of a capture altogether:
// that some damage is known does not make up for them.
func TestMissingFramesAreNotTolerated(t *testing.T) {
	tools := tools(t)
	capture := spoilt(t, barCapture(t, damageCases[3].codec, hz60, 60, 0), 40, 1, 2, sparse)
	whole, err := os.ReadFile(capture.Path)
	if err != nil {
		t.Fatal(err)
	}
	clip := columns(t, image.Pt(320, 180), hz60, 45, []media.Capture{capture}, []time.Duration{hz60.TimeOf(10)}, centred)
	clip.Sound = graph.Sound{}
	if clip.Tolerated, err = Damages(t.Context(), tools, clip); err != nil || len(clip.Tolerated) != 1 {
		t.Fatalf("damage %+v, error %v", clip.Tolerated, err)
	}
	// The capture ends in the middle of the scene.
	if err := os.WriteFile(capture.Path, whole[:packetsOf(t, capture.Path)[50][0]], 0o644); err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if _, err = Render(t.Context(), tools, clip, filepath.Join(dir, "clip.mkv"), nil); err == nil || !strings.Contains(err.Error(), "capture c0 ") {
		t.Errorf("error %v", err)
	}
	if left := files(t, dir); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

// TestSoundDecoders: of captures without damage no decoder says anything that would stop a
// clip, from the beginning and from the middle.
func TestSoundDecoders(t *testing.T) {
	for _, c := range []codec{codecs[0], codecs[4], codecs[7], codecs[9], codecs[10], codecs[11],
		{"vp9", ".mkv", []string{"-c:v", "libvpx-vp9", "-deadline", "realtime", "-cpu-used", "8"}},
		{"av1", ".mkv", []string{"-c:v", "libsvtav1", "-preset", "10"}},
	} {
		t.Run(c.name+c.ext, func(t *testing.T) {
			t.Parallel()
			capture := barCaptureOf(t, c, tinySize, hz60, 60, 0)
			if words, err := tools(t).Complaint(t.Context(), capture); words != "" || err != nil {
				t.Errorf("%q, %v", words, err)
			}
			clip := columns(t, tinySize, hz60, 10, []media.Capture{capture}, []time.Duration{hz60.TimeOf(43)}, centred)
			clip.Sound = graph.Sound{}
			if found, err := Damages(t.Context(), tools(t), clip); len(found) > 0 || err != nil {
				t.Errorf("from the middle: %+v, %v", found, err)
			}
		})
	}
}

// TestBlackMotionJPEG: ffmpeg 5.1 and 7.1 miss the end of an MJPEG picture that is black,
// although it is there. That stops nothing; where it is not there, the clip fails.
func TestBlackMotionJPEG(t *testing.T) {
	tools, dir := tools(t), t.TempDir()
	path := filepath.Join(dir, "black.mkv")
	err := tools.Run(t.Context(), media.Process{Args: []string{"-y", "-v", "level+error", "-nostdin",
		"-f", "lavfi", "-i", "color=black:s=320x180:r=60:d=1", "-f", "lavfi", "-i", "sine=r=48000:d=1",
		"-c:v", "mjpeg", "-q:v", "2", "-pix_fmt", "yuvj422p", "-c:a", "aac", path}})
	if err != nil {
		t.Fatal(err)
	}
	capture, err := tools.Probe(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	render := func(c media.Capture, out string) (*graph.Clip, error) {
		clip := columns(t, tinySize, hz60, 30, []media.Capture{c}, []time.Duration{hz60.TimeOf(10)}, centred)
		_, err := Render(t.Context(), tools, clip, filepath.Join(dir, out), nil)
		return clip, err
	}
	clip, err := render(capture, "clip.mkv")
	if err != nil {
		t.Fatal(err)
	}
	if found, err := Damages(t.Context(), tools, clip); len(found) > 0 || err != nil {
		t.Errorf("damage %+v, %v", found, err)
	}
	decoded, err := tools.DecodeVideo(t.Context(), capture, media.Request{Count: -1}, func(int64, *[]byte) error { return nil })
	if decoded.Trouble != "" || err != nil {
		t.Errorf("trouble %q, %v", decoded.Trouble, err)
	}
	// Of the last frame before the scene, of one in it, and of one after it.
	for _, tt := range []struct {
		packet int
		fails  bool
	}{{8, false}, {20, true}, {45, false}} {
		cut := withoutEnd(t, capture, tt.packet)
		_, err := render(cut, "cut.mkv")
		var d *media.Damaged
		switch {
		case (err != nil) != tt.fails:
			t.Errorf("packet %d without its end: %v", tt.packet, err)
		case tt.fails && (!errors.As(err, &d) || d.First > int64(tt.packet) || d.Last < int64(tt.packet)):
			t.Errorf("packet %d without its end: %v", tt.packet, err)
		}
	}
}

// withoutEnd is a copy of an MJPEG capture of which one packet has lost its EOI.
func withoutEnd(t *testing.T, c media.Capture, packet int) media.Capture {
	t.Helper()
	b, err := os.ReadFile(c.Path)
	if err != nil {
		t.Fatal(err)
	}
	at := packetsOf(t, c.Path)[packet]
	eoi := at[0] + bytes.Index(b[at[0]:], []byte{0xff, 0xd9})
	b[eoi], b[eoi+1] = 0, 0
	path := filepath.Join(t.TempDir(), "cut.mkv")
	if err := os.WriteFile(path, b, 0o644); err != nil {
		t.Fatal(err)
	}
	got, err := tools(t).Probe(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	return got
}
