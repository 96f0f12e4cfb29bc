package deliver

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/gif"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"golang.org/x/image/webp"

	"fairframe/render/media"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
)

// ramp is a layer whose alpha takes every value, in one colour.
func ramp(area image.Rectangle) graph.Layer {
	return graph.Layer{Kind: graph.Alpha, Area: area, Still: true, Draw: func(dst []byte, _ int) {
		n := area.Dx() * area.Dy()
		for i := range n {
			dst[i] = 150
			dst[n*3/2+i] = byte(i % area.Dx())
		}
		for i := range n / 4 {
			dst[n+i], dst[n+n/4+i] = 90, 180
		}
	}}
}

// delivered renders a short clip of a bar-coded capture, with a translucent ramp
// and an opaque strip over it.
func delivered(t *testing.T, o DeliverySpec) (*graph.Clip, Rendered, string) {
	t.Helper()
	d, err := Choose(o)
	if err != nil {
		t.Fatal(err)
	}
	capture := barCapture(t, codecs[10], hz60, 40, 0)
	clip := columns(t, image.Pt(320, 180), hz60, 24, []media.Capture{capture}, nil0, centred)
	clip.Delivery = d
	clip.Rate, _ = d.Rate(clip.Rate)
	clip.Frames = clip.Rate.FramesIn(hz60.TimeOf(24))
	strip := graph.Layer{Kind: graph.Opaque, Area: image.Rect(0, 150, 320, 180), Draw: func(dst []byte, k int) {
		n := 320 * 30
		for i := range n {
			dst[i] = byte(40 + k)
		}
		for i := range n / 2 {
			dst[n+i] = 128
		}
	}}
	clip.Layers = []graph.Layer{ramp(image.Rect(20, 100, 276, 140)), strip}
	if d.Silent() {
		clip.Sound = graph.Sound{}
	}
	out := filepath.Join(t.TempDir(), "clip"+d.Ext)
	made, err := Render(t.Context(), tools(t), clip, out, nil)
	if err != nil {
		t.Fatal(err)
	}
	if left := files(t, filepath.Dir(out)); len(left) != 1 {
		t.Errorf("the folder holds %v", left)
	}
	return clip, made, out
}

// TestDeliveries decodes each delivery again: frames by their numbers, codec,
// pixels, colour tags, sound, and the order of what is in the file.
func TestDeliveries(t *testing.T) {
	for _, tt := range []struct {
		order         DeliverySpec
		codec, pixels string
		tag           string // the sample entry's
		profile       string
	}{
		{DeliverySpec{Delivery: "web"}, "h264", "yuv420p", "avc1", "High"},
		{DeliverySpec{Delivery: "hevc", Effort: "quick"}, "hevc", "yuv420p", "hvc1", "Main"},
		{DeliverySpec{Delivery: "hdr", Effort: "quick"}, "hevc", "yuv420p10le", "hvc1", "Main 10"},
		{DeliverySpec{Delivery: "av1", Effort: "quick", Quality: "high"}, "av1", "yuv420p", "av01", "Main"},
		{DeliverySpec{Delivery: "edit"}, "prores", "yuv422p10le", "apch", "HQ"},
		{DeliverySpec{Delivery: "edit", Quality: "small"}, "prores", "yuv422p10le", "apcs", "LT"},
		{DeliverySpec{Delivery: "dnxhr"}, "dnxhd", "yuv422p10le", "AVdh", "DNXHR HQX"},
		{DeliverySpec{Delivery: "dnxhr", Quality: "high"}, "dnxhd", "yuv422p", "AVdh", "DNXHR HQ"},
		{DeliverySpec{Delivery: "lossless"}, "ffv1", "yuv420p", "FFV1", ""},
	} {
		t.Run(fmt.Sprint(tt.order.Delivery, " ", tt.order.Quality), func(t *testing.T) {
			clip, made, out := delivered(t, tt.order)
			if made.Clip.Frames != 24 || made.Clip.Rate != hz60 || made.Clip.Size != clip.Size || !made.Clip.Audio || made.Clip.Codec != tt.codec || made.Clip.PixFmt != tt.pixels {
				t.Errorf("the clip is %+v", made.Clip)
			}
			want := media.Colour{Matrix: "bt709", Primaries: "bt709", Transfer: "bt709"}
			if tt.order.Delivery == "hdr" { // of a capture in SDR
				want = media.Colour{Matrix: "bt2020", Primaries: "bt2020", Transfer: media.PQ}
			}
			if c := made.Clip.Colour; c != want {
				t.Errorf("the clip is tagged %+v", c)
			}
			for k, seen := range numbers(t, clip, made.Clip) {
				if seen[0] != k {
					t.Errorf("frame %d shows %d", k, seen[0])
				}
			}
			var said strings.Builder
			if err := tools(t).Run(t.Context(), media.Process{Program: tools(t).FFprobe, Stdout: media.ReadInto(&said),
				Line: func(line string) { t.Errorf("ffprobe says: %s", line) },
				Args: []string{"-v", "level+warning", "-show_entries", "stream=codec_tag_string,profile,codec_name,duration", "-of", "default=nw=1", media.FileURL(out)}}); err != nil {
				t.Fatal(err)
			}
			for _, want := range []string{"codec_tag_string=" + tt.tag, "profile=" + tt.profile, "codec_name=" + tt.codec} {
				if tt.order.Delivery == "lossless" && !strings.HasPrefix(want, "codec_name") {
					continue
				}
				if !strings.Contains(said.String(), want+"\n") && (!strings.HasPrefix(want, "profile=") || !strings.Contains(said.String(), want)) {
					t.Errorf("no %s in\n%s", want, &said)
				}
			}
			if strings.HasSuffix(out, ".mkv") {
				return
			}
			boxes, err := topBoxes(out)
			if err != nil || slices.Index(boxes, "moov") < 0 || slices.Index(boxes, "moov") > slices.Index(boxes, "mdat") {
				t.Errorf("boxes %v, %v", boxes, err)
			}
		})
	}
}

// TestOverlays: alpha comes back within one code of 255 everywhere, colours
// where something is drawn, and nothing of the captures is in it.
func TestOverlays(t *testing.T) {
	for _, codec := range []string{"prores", "ffv1", "vp9", "png"} {
		t.Run(codec, func(t *testing.T) {
			clip, made, out := delivered(t, DeliverySpec{Delivery: "overlay", Codec: codec})
			if made.Clip.Frames != 24 || made.Clip.Audio || made.Clip.Rate != hz60 {
				t.Errorf("the clip is %+v", made.Clip)
			}
			input := []string{"-i", media.FileURL(out)}
			switch codec {
			case "vp9":
				input = append([]string{"-c:v", "libvpx-vp9"}, input...) // ffmpeg's own decoder drops alpha
			case "png":
				input = []string{"-framerate", "60", "-i", framesIn(out)}
			}
			n := clip.Size.X * clip.Size.Y
			var got bytes.Buffer
			args := append([]string{"-v", "level+error", "-nostdin"}, input...)
			err := tools(t).Run(t.Context(), media.Process{Program: tools(t).FFmpeg, Stdout: func(r io.Reader) error { _, err := io.Copy(&got, r); return err },
				Args: append(args, "-map", "0:v:0", "-vf", "scale=in_color_matrix=bt709:out_color_matrix=bt709:out_range=tv:flags=accurate_rnd+full_chroma_int+full_chroma_inp,format=yuva444p", "-f", "rawvideo", "pipe:1")})
			if err != nil {
				t.Fatal(err)
			}
			if got.Len() != 24*4*n {
				t.Fatalf("%d bytes, want %d", got.Len(), 24*4*n)
			}
			const k = 7
			frame := got.Bytes()[k*4*n:][:4*n]
			for y := range clip.Size.Y {
				for x := range clip.Size.X {
					i := y*clip.Size.X + x
					alpha, luma := 0, 0
					switch at := image.Pt(x, y); {
					case at.In(clip.Layers[0].Area):
						alpha, luma = x-20, 150
					case at.In(clip.Layers[1].Area):
						alpha, luma = 255, 40+k
					}
					if a := int(frame[3*n+i]); a-alpha > 1 || alpha-a > 1 {
						t.Fatalf("at %d,%d alpha is %d, drawn was %d", x, y, a, alpha)
					}
					if l := int(frame[i]); alpha > 0 && (l-luma > 2 || luma-l > 2) {
						t.Fatalf("at %d,%d luma is %d, drawn was %d", x, y, l, luma)
					}
				}
			}
			still, err := Still(t.Context(), tools(t), clip, k)
			if err != nil {
				t.Fatal(err)
			}
			picture, err := png.Decode(bytes.NewReader(still))
			if err != nil {
				t.Fatal(err)
			}
			if _, _, _, a := picture.At(100, 50).RGBA(); a != 0 {
				t.Errorf("the preview has alpha %d where nothing is drawn", a)
			}
		})
	}
}

// TestLoops reads GIF and WebP with the general libraries for them.
func TestLoops(t *testing.T) {
	t.Run("gif", func(t *testing.T) {
		_, made, out := delivered(t, DeliverySpec{Delivery: "gif"})
		f, err := os.Open(out)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		g, err := gif.DecodeAll(f)
		if err != nil {
			t.Fatal(err)
		}
		// 0.4 s at 60: every second frame, of 3 or 4 hundredths.
		sum := 0
		for _, d := range g.Delay {
			if sum += d; d < 2 {
				t.Errorf("a frame of %d hundredths, which browsers show for ten", d)
			}
		}
		if len(g.Image) != 12 || g.LoopCount != 0 || sum < 39 || sum > 41 || made.Clip.Rate != hz30 {
			t.Errorf("%d frames of %v hundredths, loops %d, rate %v", len(g.Image), g.Delay, g.LoopCount, made.Clip.Rate)
		}
		// The strip's grey: code 40 is (40-16)*255/219 = 28 of full range.
		if r, gr, b, _ := g.Image[0].At(160, 165).RGBA(); r>>8 > 36 || r>>8 < 20 || gr>>8 > 36 || b>>8 > 36 {
			t.Errorf("the strip is %d %d %d", r>>8, gr>>8, b>>8)
		}
	})
	t.Run("webp", func(t *testing.T) {
		_, made, out := delivered(t, DeliverySpec{Delivery: "webp"})
		b, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		if made.Clip.Frames != 24 || made.Clip.Rate != hz60 {
			t.Errorf("the loop is %+v", made.Clip)
		}
		// The first frame as a file of its own: the library reads still pictures.
		at := bytes.Index(b, []byte("ANMF"))
		frame := b[at+8+16:][:int(uint32(b[at+4])|uint32(b[at+5])<<8|uint32(b[at+6])<<16)-16]
		still := append([]byte("RIFF\x00\x00\x00\x00WEBP"), frame...)
		for i, v := 0, len(still)-8; i < 4; i, v = i+1, v>>8 {
			still[4+i] = byte(v)
		}
		p, err := webp.Decode(bytes.NewReader(still))
		if err != nil {
			t.Fatal(err)
		}
		if p.Bounds().Size() != image.Pt(320, 180) {
			t.Errorf("size %v", p.Bounds())
		}
		// The library hands out the codes, which are of limited range (WebP Lossy
		// Bitstream, RFC 6386 section 9.2).
		if y := p.(*image.YCbCr).YCbCrAt(160, 165).Y; y > 43 || y < 37 {
			t.Errorf("the strip is %d, drawn was 40", y)
		}
	})
	d, _ := DeliveryOf("gif")
	for r, want := range map[int64]pacing.Rate{25: {Num: 25, Den: 1}, 50: {Num: 50, Den: 1}, 60: {Num: 30, Den: 1}, 120: {Num: 40, Den: 1}} {
		if got, warning := d.Rate(pacing.Rate{Num: r, Den: 1}); got != want || (warning == "") != (r <= 50) {
			t.Errorf("%d becomes %v: %s", r, got, warning)
		}
	}
}

// TestPicturesReplaceOnlyPictures: a folder of pictures is replaced as a whole,
// and one with anything else in it never.
func TestPicturesReplaceOnlyPictures(t *testing.T) {
	capture := barCapture(t, codecs[10], hz60, 10, 0)
	d, err := Choose(DeliverySpec{Delivery: "overlay", Codec: "png"})
	if err != nil {
		t.Fatal(err)
	}
	clip := columns(t, image.Pt(320, 180), hz60, 6, []media.Capture{capture}, nil0, centred)
	clip.Delivery, clip.Sound, clip.Layers = d, graph.Sound{}, []graph.Layer{ramp(image.Rect(20, 100, 276, 140))}
	out := filepath.Join(t.TempDir(), "100%d clip")
	for _, n := range []int64{6, 3} {
		clip.Frames = n
		if _, err := Render(t.Context(), tools(t), clip, out, nil); err != nil {
			t.Fatal(err)
		}
		if got := files(t, out); int64(len(got)) != n {
			t.Errorf("pictures %v", got)
		}
	}
	if err := os.WriteFile(filepath.Join(out, "notes.txt"), []byte("mine"), 0o644); err != nil {
		t.Fatal(err)
	}
	_, err = Render(t.Context(), tools(t), clip, out, nil)
	if err == nil || !strings.Contains(err.Error(), "holds notes.txt, which fairframe did not put there") {
		t.Errorf("error %v", err)
	}
	if got := files(t, out); len(got) != 4 || len(files(t, filepath.Dir(out))) != 1 {
		t.Errorf("left: %v", got)
	}
}

// TestHardwareFallsBack: an encoder that this machine cannot run gives way to
// the usual one, with a warning.
func TestHardwareFallsBack(t *testing.T) {
	tools := tools(t)
	for delivery, encoder := range map[string]string{"web": "h264_videotoolbox", "hevc": "hevc_amf"} {
		d, err := Choose(DeliverySpec{Delivery: delivery, Encoder: encoder})
		if err != nil {
			t.Fatal(err)
		}
		able, warning, err := UsableDelivery(t.Context(), tools, d)
		if err != nil {
			t.Fatal(err)
		}
		if usual, _ := DeliveryOf(delivery); able.Encoder.Name == encoder {
			t.Skipf("%s works here", encoder)
		} else if able.Encoder.Name != usual.Encoder.Name || !strings.Contains(warning, "encoder "+encoder+" does not work here; "+usual.Encoder.Name+" is used instead") {
			t.Errorf("%s: %s", able.Encoder.Name, warning)
		}
	}
}

func TestOrders(t *testing.T) {
	for _, tt := range []struct {
		order     DeliverySpec
		key, want string
	}{
		{DeliverySpec{Delivery: "wbe"}, "delivery", "unknown value"},
		{DeliverySpec{Delivery: "web", Codec: "png"}, "codec", "is not made in png"},
		{DeliverySpec{Delivery: "web", Encoder: "hevc_nvenc"}, "encoder", "is not made by hevc_nvenc"},
		{DeliverySpec{Delivery: "web", Quality: "best"}, "quality", "unknown value"},
		{DeliverySpec{Delivery: "web", Effort: "hard"}, "effort", "unknown value"},
	} {
		_, err := Choose(tt.order)
		var e *DeliveryError
		if !errors.As(err, &e) || e.Key != tt.key || !strings.Contains(e.Msg, tt.want) || e.Hint == "" {
			t.Errorf("%+v: %v", tt.order, err)
		}
	}
	d, err := Choose(DeliverySpec{Delivery: "lossless", Quality: "small", Effort: "thorough"})
	if err != nil || len(d.Warnings) != 2 {
		t.Errorf("%v, %v", d.Warnings, err)
	}
}

// TestOptions: what steers the encoder passes, what could open a file, write
// another output or change what is shown does not.
func TestOptions(t *testing.T) {
	for _, good := range [][]string{nil, {"-crf", "20"}, {"-tune", "film"}, {"-b:v", "20M"}, {"-b:a", "320k"}, {"-g", "15"}, {"-deblock", "-1:-1"}, {"-psy-rd", "1.0:0.15"},
		{"-x264-params", "aq-mode=3:me=umh:deblock=-1,-1"}, {"-x265-params", "aq-mode=3:no-sao=1:wpp"}, {"-svtav1-params", "tune=0:enable-overlays=1"}} {
		if _, err := checkOptions(good); err != nil {
			t.Errorf("%v: %v", good, err)
		}
	}
	for _, bad := range [][]string{{"-i", "x.mp4"}, {"-map", "0"}, {"-vf", "movie=x"}, {"-filter_complex", "null"}, {"-f", "tee"}, {"out.mp4"}, {"-crf"}, {"-crf", "20", "out.mp4"},
		{"-attach", "passwd"}, {"-vstats_file", "x"}, {"-passlogfile", "x"}, {"-pass", "1"}, {"-pix_fmt", "gray"}, {"-r", "30"}, {"-s", "1x1"}, {"-ss", "1"}, {"-t", "1"}, {"-y", "1"},
		{"-progress", "http://x"}, {"-report", "1"}, {"-tag:v", "hev1"}, {"-movflags", "frag_keyframe"}, {"-metadata", "a=b"}, {"-sdp_file", "x"}, {"-crf", "/etc/passwd"},
		{"-crf", "file:x"}, {"-preset", "-y"}, {"-vpre", "x"}, {"-fpre", "x"}, {"-dump_attachment", "x"}, {"-init_hw_device", "x"}, {"-CRF;", "1"}, {"", ""}, {"-", "1"},
		{"-x264-params", "stats=x.log"}, {"-x264-params", "dump-yuv=x"}, {"-x264-params", "qpfile=x"}, {"-x264-params", "crf=20:cqmfile=x"}, {"-x264-params", "opencl-clbin=x"},
		{"-x264-params", "aq-mode=/x"}, {"-x265-params", "csv=x"}, {"-x265-params", "analysis-save=x"}, {"-x265-params", "recon=x"}, {"-x265-params", "scaling-list=x"},
		{"-x265-params", "zonefile=x"}, {"-x265-params", "dhdr10-info=x"}, {"-x265-params", "nalu-file=x"}, {"-x265-params", "master-display=x"}, {"-x265-params", "log-file=x"},
		{"-x265-params:v", "crf=1"}, {"-x264-params", "CSV=x"}, {"-x264-params", "level\\=x"}, {"-x264-params", ""}, {"-x264opts", "crf=20"}} {
		if _, err := checkOptions(bad); err == nil {
			t.Errorf("%q passes", bad)
		}
	}
	// Only what steers the coder of the sound may go where there is no picture: to
	// the trial for its peaks, and to a reel.
	d, err := Choose(DeliverySpec{Delivery: "web", Options: []string{"-crf", "20", "-b:a", "64k", "-preset", "slow", "-cutoff", "8000", "-b:v", "1M", "-aac_coder:a:0", "fast"}})
	if want := []string{"-c:a", "aac", "-b:a", "256k", "-b:a", "64k", "-cutoff", "8000", "-aac_coder:a:0", "fast"}; err != nil || !slices.Equal(d.SoundArgs(), want) {
		t.Errorf("the sound's options are %q, %v", d.SoundArgs(), err)
	}
	if _, err := checkOptions(make([]string, maxOptions+1)); err == nil {
		t.Error("any number of options pass")
	}
	got := graph.Merge([]string{"-crf", "16", "-x265-params", "log-level=error"}, []string{"-x265-params", "aq-mode=3", "-crf", "20"})
	if want := []string{"-crf", "16", "-x265-params", "log-level=error:aq-mode=3", "-crf", "20"}; !slices.Equal(got, want) {
		t.Errorf("merged to %q", got)
	}
}
