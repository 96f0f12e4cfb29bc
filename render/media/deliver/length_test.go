package deliver

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"fairframe/render/media"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
)

// lengthRates are rates of clips, lengthOrders all deliveries and their forms.
func lengthRates() []pacing.Rate {
	return []pacing.Rate{{Num: 24, Den: 1}, {Num: 25, Den: 1}, hz30, {Num: 50, Den: 1}, hz60, hz5994, hz120}
}

func lengthOrders() []DeliverySpec {
	return []DeliverySpec{{Delivery: "web"}, {Delivery: "hevc"}, {Delivery: "av1"}, {Delivery: "hdr"}, {Delivery: "edit"}, {Delivery: "dnxhr"}, {Delivery: "lossless"},
		{Delivery: "overlay"}, {Delivery: "overlay", Codec: "ffv1"}, {Delivery: "overlay", Codec: "vp9"}, {Delivery: "overlay", Codec: "png"},
		{Delivery: "gif"}, {Delivery: "webp"}}
}

// tinySize is about the least that all encoders take.
var tinySize = image.Pt(256, 128)

// tiny is a clip of n small frames of a capture with sound.
func tiny(t *testing.T, o DeliverySpec, capture media.Capture, r pacing.Rate, n int64) *graph.Clip {
	t.Helper()
	if o.Delivery != "lossless" {
		o.Effort = "quick"
	}
	d, err := Choose(o)
	if err != nil {
		t.Fatal(err)
	}
	clip := columns(t, tinySize, r, n, []media.Capture{capture}, nil0, centred)
	clip.Delivery = d
	if d.Silent() {
		clip.Sound = graph.Sound{}
	}
	if d.OverlayOnly {
		clip.Layers = []graph.Layer{ramp(image.Rect(0, 0, 256, 40))}
	}
	return clip
}

// TestLengths: clips of every length that is odd for a container are taken, in every
// delivery, with the picture as long as its frames. Each run tries one clip a delivery,
// with another rate and another length, FAIRFRAME_SWEEP=1 all at all rates, and long ones.
func TestLengths(t *testing.T) {
	sweep, lengths := os.Getenv("FAIRFRAME_SWEEP") != "", []int64{1, 2, 3, 59, 60, 61}
	longest := lengths[len(lengths)-1]
	if sweep {
		longest = 600
		lengths = append(lengths, longest)
	}
	whole, captures := t, map[pacing.Rate]media.Capture{}
	for i, o := range lengthOrders() {
		for j, r := range lengthRates() {
			for k, n := range lengths {
				if !sweep && (j != i%len(lengthRates()) || k != i%len(lengths)) {
					continue
				}
				t.Run(fmt.Sprintf("%s %s %d at %s", o.Delivery, o.Codec, n, strings.ReplaceAll(r.String(), "/", " in ")), func(t *testing.T) {
					d, err := Choose(o)
					if err != nil {
						t.Fatal(err)
					}
					r, _ := d.Rate(r)
					if _, known := captures[r]; !known {
						captures[r] = barCaptureOf(whole, codecs[0], tinySize, r, int(longest)+10, 0)
					}
					clip := tiny(t, o, captures[r], r, n)
					dir := t.TempDir()
					made, err := Render(t.Context(), tools(t), clip, filepath.Join(dir, "clip"+clip.Delivery.Ext), nil)
					if err != nil {
						t.Fatal(err)
					}
					if made.Clip.Frames != n || made.Clip.Rate != clip.Rate {
						t.Errorf("%s at %s", media.Frames(made.Clip.Frames), made.Clip.Rate)
					}
				})
			}
		}
	}
}

// TestDoctored: a clip that lacks a picture, has one twice, or shows one at another time
// is refused, whatever it lies in; untouched it is taken.
func TestDoctored(t *testing.T) {
	const n = 24
	capture := barCaptureOf(t, codecs[0], tinySize, hz60, 2*n, 0)
	for _, o := range lengthOrders() {
		if o.Delivery == "gif" || o.Delivery == "webp" || o.Codec == "png" {
			continue
		}
		t.Run(o.Delivery+" "+o.Codec, func(t *testing.T) {
			t.Parallel()
			clip := tiny(t, o, capture, hz60, n)
			clip.Sound = graph.Sound{}
			dir := t.TempDir()
			good := filepath.Join(dir, "good"+clip.Delivery.Ext)
			if _, err := Render(t.Context(), tools(t), clip, good, nil); err != nil {
				t.Fatal(err)
			}
			// By 0.3 of a frame. Some versions write the one into Matroska, some the other.
			const late = `if(eq(N\,9)\,round(0.3*(DTS-PREV_INDTS))\,0)`
			shorter := *clip
			shorter.Frames--
			for _, one := range []struct {
				name         string
				clip         *graph.Clip
				filter, want string
			}{
				{"untouched", clip, "null", ""},
				{"one dropped", clip, `noise=drop=eq(n\,7)`, "it has 23 frames instead of 24"},
				{"one too many", &shorter, "null", "it has 24 frames instead of 23"},
				{"one too many, one dropped", &shorter, `noise=drop=eq(n\,7)`, "is shown after"},
				{"one at another time", clip, `setts=pts=PTS+` + late + `:dts=DTS+` + late, "is shown after"},
				{"all slower", clip, `setts=pts=PTS*1.02:dts=DTS*1.02`, "is shown after"},
			} {
				bad := filepath.Join(dir, "bad"+clip.Delivery.Ext)
				if err := tools(t).Run(t.Context(), media.Process{Program: tools(t).FFmpeg, Args: append([]string{"-y", "-v", "level+error", "-nostdin", "-copyts",
					"-i", media.FileURL(good), "-map", "0:v:0", "-c", "copy", "-bsf:v", one.filter, "-movflags", "+faststart", "-f", clip.Delivery.Format}, media.FileURL(bad))}); err != nil {
					t.Fatal(one.name, err)
				}
				_, _, err := checkOutput(t.Context(), tools(t), one.clip, bad)
				switch {
				case one.want == "" && err != nil:
					t.Errorf("%s: %v", one.name, err)
				case one.want != "" && (err == nil || !strings.Contains(err.Error(), one.want)):
					t.Errorf("%s: %v, want %q", one.name, err, one.want)
				case err != nil && (strings.Contains(err.Error(), "capture") || !strings.Contains(fmt.Sprint(err.(*media.Error).Hints()), "the captures are not the cause")):
					t.Errorf("%s: %v, hint %v", one.name, err, err.(*media.Error).Hints())
				}
			}
		})
	}
}

// animation cuts a WebP into what stands before its first ANMF chunk, and those chunks
// (RFC 9649, 2.7.1.1: a chunk's payload is padded to an even length).
func animation(t *testing.T, b []byte) (head []byte, frames [][]byte) {
	t.Helper()
	at := bytes.Index(b, []byte("ANMF"))
	head = b[:at]
	for at < len(b) {
		size := int(binary.LittleEndian.Uint32(b[at+4:]))
		next := at + 8 + size + size&1
		frames = append(frames, b[at:next])
		at = next
	}
	return head, frames
}

// TestDoctoredLoops is TestDoctored of a WebP and of a folder of pictures.
func TestDoctoredLoops(t *testing.T) {
	const n = 24
	capture := barCaptureOf(t, codecs[0], tinySize, hz60, 2*n, 0)
	t.Run("webp", func(t *testing.T) {
		clip := tiny(t, DeliverySpec{Delivery: "webp"}, capture, hz60, n)
		dir := t.TempDir()
		good := filepath.Join(dir, "good.webp")
		if _, err := Render(t.Context(), tools(t), clip, good, nil); err != nil {
			t.Fatal(err)
		}
		b, err := os.ReadFile(good)
		if err != nil {
			t.Fatal(err)
		}
		head, list := animation(t, b)
		if len(list) != n {
			t.Fatalf("%d chunks of %d pictures that differ", len(list), n)
		}
		longer := slices.Clone(list[9])
		longer[20] += 9 // its duration, in milliseconds
		for name, frames := range map[string][][]byte{
			"untouched": list, "dropped": slices.Delete(slices.Clone(list), 7, 8), "doubled": slices.Insert(slices.Clone(list), 7, list[7]),
			"longer": append(append(slices.Clone(list[:9]), longer), list[10:]...), "last dropped": list[:n-1], "none": nil,
		} {
			bad := filepath.Join(dir, "bad.webp")
			whole := append(slices.Clone(head), bytes.Join(frames, nil)...)
			binary.LittleEndian.PutUint32(whole[4:], uint32(len(whole)-8))
			if err := os.WriteFile(bad, whole, 0o644); err != nil {
				t.Fatal(err)
			}
			if _, err := checkLoop(clip, bad); (err == nil) != (name == "untouched") {
				t.Errorf("%s: %v", name, err)
			}
		}
		// One frame becomes a still picture, which is no loop of more.
		one := tiny(t, DeliverySpec{Delivery: "webp"}, capture, hz60, 1)
		if _, err := Render(t.Context(), tools(t), one, good, nil); err != nil {
			t.Fatal(err)
		}
		if _, err := checkLoop(clip, good); err == nil {
			t.Error("a still picture passes for a loop")
		}
	})
	t.Run("gif", func(t *testing.T) {
		even := loop{length: 240 * time.Millisecond}
		for i := range 12 {
			even.stamps = append(even.stamps, time.Duration(i)*20*time.Millisecond)
		}
		hz50 := pacing.Rate{Num: 50, Den: 1}
		if words := even.differs(hz50, 12, false); words != "" {
			t.Error(words)
		}
		for name, spoil := range map[string]func(*loop){
			"dropped": func(l *loop) { l.stamps = slices.Delete(l.stamps, 5, 6) },
			"doubled": func(l *loop) { l.stamps = slices.Insert(l.stamps, 5, l.stamps[5]) },
			"swapped": func(l *loop) { l.stamps[5] = l.stamps[6] },
			"late":    func(l *loop) { l.stamps[5] += 20 * time.Millisecond },
			"shorter": func(l *loop) { l.length -= 20 * time.Millisecond },
			"longer":  func(l *loop) { l.length += 20 * time.Millisecond },
		} {
			bad := even
			bad.stamps = slices.Clone(even.stamps)
			if spoil(&bad); bad.differs(hz50, 12, false) == "" {
				t.Errorf("%s passes", name)
			}
		}
	})
	t.Run("folder", func(t *testing.T) {
		clip := tiny(t, DeliverySpec{Delivery: "overlay", Codec: "png"}, capture, hz60, 6)
		out := filepath.Join(t.TempDir(), "pictures")
		if _, err := Render(t.Context(), tools(t), clip, out, nil); err != nil {
			t.Fatal(err)
		}
		name := func(i int) string { return filepath.Join(out, fmt.Sprintf("frame-%06d.png", i)) }
		if err := os.Rename(name(3), name(7)); err != nil {
			t.Fatal(err)
		}
		if _, err := checkFolder(clip, out); err == nil || !strings.Contains(err.Error(), "has frame-000004.png where frame-000003.png belongs") {
			t.Errorf("a gap: %v", err)
		}
		if err := os.Remove(name(7)); err != nil {
			t.Fatal(err)
		}
		if _, err := checkFolder(clip, out); err == nil || !strings.Contains(err.Error(), "has 5 pictures instead of 6") {
			t.Errorf("one missing: %v", err)
		}
	})
}
