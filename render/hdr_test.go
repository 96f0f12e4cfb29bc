package render

import (
	"fmt"
	"image"
	"io"
	"math"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"fairframe/render/check"
	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/media/deliver"
	"fairframe/render/scene"
)

// TestHDRBesideSDRIsWarnedOf: whoever renders a scene of an HDR capture and one in
// SDR is told which was converted, unless no capture is shown.
func TestHDRBesideSDRIsWarnedOf(t *testing.T) {
	dir := t.TempDir()
	size := image.Pt(320, 180)
	barCapture(t, filepath.Join(dir, "alder.mkv"), size, hz60, 12)
	err := tools(t).Encode(t.Context(), media.EncodeSpec{Out: filepath.Join(dir, "birch.mkv"), Size: size, PixFmt: "yuv420p10le", Rate: hz60,
		Args: []string{"-c:v", "ffv1", "-f", "matroska", "-color_primaries", "bt2020", "-color_trc", "smpte2084", "-colorspace", "bt2020nc", "-color_range", "tv"}},
		func(w io.Writer) error {
			_, err := w.Write(make([]byte, 12*size.X*size.Y*3))
			return err
		})
	if err != nil {
		t.Fatal(err)
	}
	const file = `output: {size: 640x360, delivery: web}
captures:
  alder: {video: alder.mkv}
  birch: {video: birch.mkv}
scenes:
  - {id: shore, captures: [alder, birch], start: 50ms, length: 50ms, audio: none, deck: {place: none, tabs: true}}
`
	for delivery, want := range map[string]int{"web": 2, "overlay": 0} {
		p := open(t, dir, strings.Replace(file, "web", delivery, 1))
		plan, err := scene.PlanScene(t.Context(), p, &p.File.Scenes[0])
		if err != nil {
			t.Fatal(err)
		}
		got := slices.DeleteFunc(finding.Warnings(plan.AllWarnings()), func(w string) bool { return !strings.Contains(w, "HDR") })
		if len(got) != want || want > 0 && (!strings.HasPrefix(got[0], "capture birch is HDR (PQ)") || !strings.Contains(got[1], "converted: birch; shown in the light that was recorded: alder")) {
			t.Errorf("%s: %q", delivery, got)
		}
	}
}

// TestEveryViewInHDR renders each view twice, of captures in SDR and of the same
// captures with all codes times four, tagged as PQ: the HDR clip has the codes of the
// SDR clip times four wherever captures are seen, whatever the view does to them.
func TestEveryViewInHDR(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	const frames = 5
	for i, key := range []string{"alder", "birch", "cedar"} {
		writeLog(t, filepath.Join(dir, key+".csv"), cadence(frames, int64(i+1)))
		for _, deep := range []bool{false, true} {
			name, format, tags := key+"-sdr.mkv", "yuv420p", []string{"bt709", "bt709", "bt709"}
			if deep {
				name, format, tags = key+"-pq.mkv", "yuv420p10le", []string{"bt2020nc", "bt2020", "smpte2084"}
			}
			err := tools(t).Encode(t.Context(), media.EncodeSpec{Out: filepath.Join(dir, name), Size: smoothSize, PixFmt: format, Rate: hz60,
				Args: []string{"-c:v", "ffv1", "-f", "matroska", "-colorspace", tags[0], "-color_primaries", tags[1], "-color_trc", tags[2], "-color_range", "tv"}},
				func(w io.Writer) error { return smooth(w, i, frames, deep) })
			if err != nil {
				t.Fatal(err)
			}
		}
	}
	size, known := smoothSize, &scene.Cache{}
	for v, tt := range []struct {
		view string
		off  int // codes of ten bits
	}{
		{"view: columns, deck: {place: over}, title: 50ms, summary: 50ms", 0},
		{"view: inset, inset: {whole: birch, place: over}", 4},
		{"view: wipe, captures: [alder, birch, cedar], wipe: {angle: -30, at: [0.3, 0.6]}", 4},
		{"view: difference, difference: {gain: 3/2}, deck: {place: none}", 2},
		{"view: columns, window: {center: [0.4, 0.5], moves: [{at: 0s, center: [0.4, 0.5]}, {at: 50ms, center: [0.55, 0.6], magnify: 1.4}]}", 8},
	} {
		t.Run(tt.view, func(t *testing.T) {
			var clips [2][][]int
			var hidden []image.Rectangle
			for d, kind := range []string{"sdr", "pq"} {
				delivery := "lossless"
				if kind == "pq" {
					delivery = "hdr, effort: quick, ffmpeg: [-x265-params, lossless=1]"
				}
				view := tt.view
				if !strings.Contains(view, "captures:") {
					view += ", captures: [alder, birch]"
				}
				p := reopen(t, dir, fmt.Sprintf(`title: Kestrel Pass
output: {folder: out, size: %dx%d, delivery: %s}
captures:
  alder: {name: Alder, video: alder-%[4]s.mkv, pacing: alder.csv}
  birch: {name: Birch, video: birch-%[4]s.mkv, pacing: birch.csv}
  cedar: {name: Cedar, video: cedar-%[4]s.mkv, pacing: cedar.csv}
scenes:
  - {id: s%[5]d-%[4]s, start: f2, length: 50ms, audio: none, %[6]s}
`, size.X, size.Y, delivery, kind, v, view), known)
				s := &p.File.Scenes[0]
				plan, err := scene.PlanScene(t.Context(), p, s)
				if err != nil {
					t.Fatal(err)
				}
				hidden = append(hidden, plan.Clip.Dividers...)
				for _, part := range plan.Clip.Layers {
					hidden = append(hidden, part.Area)
				}
				out := filepath.Join(dir, s.ID+plan.Clip.Delivery.Ext)
				if _, err := deliver.Render(t.Context(), tools(t), plan.Clip, out, nil); err != nil {
					t.Fatal(err)
				}
				clips[d] = codes(t, out, size, kind == "pq")
			}
			if len(clips[0]) != len(clips[1]) || len(clips[0]) < 3 {
				t.Fatalf("%d and %d frames", len(clips[0]), len(clips[1]))
			}
			lead := (len(clips[0]) - 3) / 2 // pages are drawn
			compared, wrong, lines := 0, 0, 0
			for k := range 3 {
				low, high := clips[0][lead+k], clips[1][lead+k]
				for i := range low {
					at, plane := place(i, size)
					if slices.ContainsFunc(hidden, func(r image.Rectangle) bool { return at.In(r) }) {
						continue
					}
					if strings.Contains(tt.view, "wipe") && (lined(low, i, size, 35) || plane > 0) {
						lines++
						continue
					}
					compared++
					if off := high[i] - 4*low[i]; off > tt.off || -off > tt.off {
						if black := plane > 0 && low[i] == 128 && off == 2; black {
							continue // pad's black in 10 bits
						}
						if wrong++; wrong < 4 {
							t.Errorf("frame %d, plane %d at %v: code %d, in SDR %d", k, plane, at, high[i], low[i])
						}
					}
				}
			}
			if wrong > 0 || compared < size.X*size.Y {
				t.Errorf("%d of %d codes are wrong, %d of lines", wrong, compared, lines)
			}
		})
	}
}

var smoothSize = image.Pt(320, 180)

// smooth writes pictures of gentle waves that tell captures and frames apart; edges
// would show the rounding of 8 bits enlarged.
func smooth(w io.Writer, capture, frames int, deep bool) error {
	n := smoothSize.X * smoothSize.Y
	for k := range frames {
		var p []byte
		for i := range n * 3 / 2 {
			at, plane := place(i, smoothSize)
			phase := float64(at.X)/(20+5*float64(capture)) + float64(at.Y)/31 + 0.4*float64(k) + 2*float64(plane)
			v := int(math.Round(120 + 60*math.Sin(phase)/float64(1+plane)))
			if deep {
				p = append(p, byte(v<<2), byte(v>>6))
			} else {
				p = append(p, byte(v))
			}
		}
		if _, err := w.Write(p); err != nil {
			return err
		}
	}
	return nil
}

// place is where sample i of a packed 4:2:0 picture stands, and in which plane.
func place(i int, size image.Point) (at image.Point, plane int) {
	n := size.X * size.Y
	if i < n {
		return image.Pt(i%size.X, i/size.X), 0
	}
	i -= n
	plane = 1 + i/(n/4)
	i %= n / 4
	return image.Pt(i%(size.X/2)*2, i/(size.X/2)*2), plane
}

// lined reports whether luma near a place comes close to a code.
func lined(p []int, i int, size image.Point, code int) bool {
	for d := -6; d <= 6; d++ {
		if j := i + d; j >= 0 && j < size.X*size.Y && p[j] <= code+8 {
			return true
		}
	}
	return false
}

// codes decodes a video completely into packed 4:2:0 codes of 8 or 10 bits.
func codes(t *testing.T, path string, size image.Point, deep bool) [][]int {
	t.Helper()
	format := "yuv420p"
	if deep {
		format = "yuv420p10le"
	}
	raw, err := exec.Command(tools(t).FFmpeg, "-v", "error", "-nostdin", "-i", "file:"+path, "-fps_mode", "passthrough", "-pix_fmt", format, "-f", "rawvideo", "pipe:1").Output()
	if err != nil {
		t.Fatal(err)
	}
	var all []int
	for i := 0; i < len(raw); i++ {
		if !deep {
			all = append(all, int(raw[i]))
			continue
		}
		all = append(all, int(raw[i])|int(raw[i+1])<<8)
		i++
	}
	return slices.Collect(slices.Chunk(all, size.X*size.Y*3/2))
}

// TestCheckOfHDRBesideSDR: captures are compared in the light that the clip shows,
// codes of different light not at all, and an encoder that is not to be had here is
// told of beforehand.
func TestCheckOfHDRBesideSDR(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	footage(t, filepath.Join(dir, "alder.mkv"), lavfi(moving, bt709...)...)
	// The same pictures as on a display of 203 cd/m².
	footage(t, filepath.Join(dir, "birch.mkv"), lavfi(moving, "-vf", "setparams=range=tv:colorspace=bt709:color_primaries=bt709:color_trc=bt709,zscale=p=bt2020:t=smpte2084:m=bt2020nc:npl=203,format=yuv420p10le",
		"-c:v", "ffv1", "-g", "1", "-colorspace", "bt2020nc", "-color_primaries", "bt2020", "-color_trc", "smpte2084", "-color_range", "tv")...)
	deliveries := []string{"hdr"}
	if runtime.GOOS != "windows" { // which may have that encoder
		deliveries = append(deliveries, "web, encoder: h264_amf")
	}
	for _, delivery := range deliveries {
		p := open(t, dir, `output: {size: 640x360, delivery: `+delivery+`}
captures:
  alder: {video: alder.mkv}
  birch: {video: birch.mkv}
scenes:
  - {id: shore, captures: [alder, birch], start: 0s, length: 1s, audio: none, deck: {place: none, tabs: true}}
`)
		found, err := check.Run(t.Context(), p, check.Options{})
		if err != nil {
			t.Fatal(err)
		}
		said := map[string]finding.Finding{}
		for _, f := range found {
			said[f.What] = f
			if f.Severity == finding.Fails {
				t.Errorf("%s: %s", delivery, f)
			}
		}
		if f := said["blacks were not compared"]; f.Evidence != "the captures code light differently" {
			t.Errorf("%s: %+v", delivery, found)
		}
		if delivery != "hdr" {
			if f := said["another encoder would be used"]; f.Severity != finding.Note || !strings.Contains(f.Evidence, "encoder h264_amf does not work here; libx264 is used instead") {
				t.Errorf("%s: %+v", delivery, f)
			}
		}
		// The median is so dark that tone mapping leaves it alone; its PQ code stands at 39 %.
		side := said["brightness and saturation at matching moments"]
		if !strings.HasSuffix(side.Evidence, ", of light as the clip shows it, HDR tone-mapped") {
			t.Errorf("%s: %+v", delivery, found)
		}
		var a, b float64
		if _, err := fmt.Sscanf(side.Evidence, "medians: alder %f %% and 0 %%; birch %f %% and 0 %%", &a, &b); err != nil || math.Abs(a-b) > 1 {
			t.Errorf("%s: %s", delivery, side.Evidence)
		}
	}
}
