package render

import (
	"image"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"fairframe/render/media"
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
  - {id: lake, captures: [alder, birch], start: 50ms, length: 50ms, audio: none, deck: {place: none, tabs: true}}
`
	for delivery, want := range map[string]int{"web": 2, "overlay": 0} {
		p := open(t, dir, strings.Replace(file, "web", delivery, 1))
		plan, err := p.Plan(t.Context(), &p.File.Scenes[0])
		if err != nil {
			t.Fatal(err)
		}
		got := slices.DeleteFunc(slices.Clone(plan.Warnings), func(w string) bool { return !strings.Contains(w, "HDR") })
		if len(got) != want || want > 0 && (!strings.HasPrefix(got[0], "capture birch is HDR (PQ)") || !strings.Contains(got[1], "tone-mapped: birch; shown as recorded: alder")) {
			t.Errorf("%s: %q", delivery, got)
		}
	}
}
