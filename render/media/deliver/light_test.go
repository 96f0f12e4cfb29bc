package deliver

import (
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"

	"fairframe/layout"
	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/media/graph"
	"fairframe/testdata/published"
)

// band is a capture of upright bars, made of codes that are written plane by
// plane, so that no conversion has a hand in it.
type band struct {
	name   string
	codes  []ycc  // of each bar, first, second and third plane, as PixFmt has them
	pixels string // pixel format
	tags   []string
}

var bandSize = image.Pt(128, 32)

// planesOf draws a band's picture in any planar format of 8 or 10 bits.
func (b band) planesOf() []byte {
	sub := image.Pt(1, 1)
	switch {
	case strings.Contains(b.pixels, "420"):
		sub = image.Pt(2, 2)
	case strings.Contains(b.pixels, "422"):
		sub = image.Pt(2, 1)
	}
	var p []byte
	for c := range 3 {
		w, h := bandSize.X, bandSize.Y
		if c > 0 {
			w, h = w/sub.X, h/sub.Y
		}
		for i := range w * h {
			v := b.codes[i%w*len(b.codes)/w][c]
			if strings.HasSuffix(b.pixels, "10le") {
				p = binary.LittleEndian.AppendUint16(p, uint16(v))
			} else {
				p = append(p, byte(v))
			}
		}
	}
	return p
}

// record makes the bands' captures, and a clip that shows them under each other.
func record(t *testing.T, bands []band) *graph.Clip {
	t.Helper()
	d, err := DeliveryOf("lossless")
	if err != nil {
		t.Fatal(err)
	}
	clip := &graph.Clip{Size: image.Pt(bandSize.X, bandSize.Y*len(bands)), Rate: hz30, Frames: 2, Delivery: d}
	shot, err := layout.Window{Whole: true}.Shoot(bandSize, bandSize, bandSize)
	if err != nil {
		t.Fatal(err)
	}
	for i, b := range bands {
		path := filepath.Join(t.TempDir(), "band.mkv")
		picture := b.planesOf()
		args := append([]string{"-c:v", "ffv1", "-level", "3"}, b.tags...)
		err := tools(t).Encode(t.Context(), media.EncodeSpec{Out: path, Size: bandSize, PixFmt: b.pixels, Rate: hz30,
			Args: append(args, "-pix_fmt", b.pixels, "-f", "matroska")}, func(w io.Writer) error {
			for range 3 {
				if _, err := w.Write(picture); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil {
			t.Fatalf("%s: %v", b.name, err)
		}
		capture, err := tools(t).Probe(t.Context(), path)
		if err != nil {
			t.Fatalf("%s: %v", b.name, err)
		}
		at := image.Pt(0, i*bandSize.Y)
		clip.Inputs = append(clip.Inputs, graph.Input{Name: b.name, Capture: capture})
		clip.Panes = append(clip.Panes, graph.Pane{Input: i, Shot: shot, Kernel: "lanczos", Area: image.Rectangle{Min: at, Max: at.Add(bandSize)}})
	}
	return clip
}

// shown renders a clip of bands and returns the code of each band's bars.
func shown(t *testing.T, clip *graph.Clip, bands []band) [][]ycc {
	t.Helper()
	out := filepath.Join(t.TempDir(), "clip.mkv")
	if _, err := Render(t.Context(), tools(t), clip, out, nil); err != nil {
		t.Fatal(err)
	}
	picture := planes(t, out, clip.Size, 1)
	list := make([][]ycc, len(bands))
	for i, b := range bands {
		for j := range b.codes {
			list[i] = append(list[i], codeAt(picture, clip.Size, image.Pt(barCentre(j, len(b.codes), bandSize.X), i*bandSize.Y+bandSize.Y/2)))
		}
	}
	return list
}

// barCodes are the codes of 75 % bars, white to black, of a matrix and a depth, from
// testdata/published/01_colour_bars.csv (SMPTE RP 219-1; its last columns say which
// rows were computed).
func barCodes(t *testing.T, matrix string, bits int) []ycc {
	t.Helper()
	var list []ycc
	for _, r := range published.Records(t, "01_colour_bars.csv") {
		if r[0] == matrix && r[1] == "75" && r[3] == strconv.Itoa(bits) {
			var c ycc
			for i := range c {
				c[i], _ = strconv.Atoi(r[4+i])
			}
			list = append(list, c)
		}
	}
	if len(list) != 8 {
		t.Fatalf("%d bars of %s at %d bits", len(list), matrix, bits)
	}
	return list
}

// barLights are the R'G'B' signals of 75 % bars, white to black (SMPTE RP 219-1).
func barLights() [][3]float64 {
	const on = 0.75
	return [][3]float64{{on, on, on}, {on, on, 0}, {0, on, on}, {0, on, 0}, {on, 0, on}, {on, 0, 0}, {0, 0, on}, {}}
}

// inBT2020 are the signals of BT.709 colours in the gamut of BT.2020, seen on a
// display of gamma 2.4 (ITU-R BT.1886). The matrix is that of ITU-R BT.2087-0,
// from memory; its rows sum to 1, as white has to stay white.
func inBT2020(c [3]float64) (out [3]float64) {
	m := [3][3]float64{{0.6274, 0.3293, 0.0433}, {0.0691, 0.9195, 0.0114}, {0.0164, 0.0880, 0.8956}}
	for i := range m {
		for j := range c {
			out[i] += m[i][j] * math.Pow(c[j], 2.4)
		}
		out[i] = math.Pow(out[i], 1/2.4)
	}
	return out
}

// weights are the shares of red and blue in luma: ITU-R BT.709-6, BT.2020-2
// (testdata/published/01_luma_and_quantisation.csv).
type weights struct{ r, b float64 }

var of709, of2020 = weights{0.2126, 0.0722}, weights{0.2627, 0.0593}

// codes are the limited-range codes of signals, by the formulas of that table.
func (k weights) codes(c [3]float64, bits int) ycc {
	y := k.r*c[0] + (1-k.r-k.b)*c[1] + k.b*c[2]
	scale := float64(int(1) << (bits - 8))
	return ycc{
		int(math.Floor((219*y+16)*scale + 0.5)),
		int(math.Floor((224*(c[2]-y)/(2-2*k.b)+128)*scale + 0.5)),
		int(math.Floor((224*(c[0]-y)/(2-2*k.r)+128)*scale + 0.5)),
	}
}

// inFull turns limited codes of ten bits into full-range ones of a depth
// (BT.2100-2 table 9).
func inFull(list []ycc, bits int) []ycc {
	scale, top := float64(int(1)<<(bits-8)), float64(int(1)<<bits-1)
	out := make([]ycc, len(list))
	for i, c := range list {
		out[i][0] = int(math.Round((float64(c[0])/4 - 16) / 219 * top))
		for j := 1; j < 3; j++ {
			out[i][j] = int(math.Round((float64(c[j])/4-128)/224*top + 128*scale))
		}
	}
	return out
}

// TestEveryCodingArrivesAsBT709 shows bars of many codings under each other in
// one clip: each comes out with the codes published for BT.709.
func TestEveryCodingArrivesAsBT709(t *testing.T) {
	want := barCodes(t, "BT.709", 8)
	var in2020 [2][]ycc
	var pale []ycc
	for i, c := range barLights() {
		if w := worst(of709.codes(c, 8), want[i]); w > 0 {
			t.Fatalf("the formula gives %v for bar %d, published is %v", of709.codes(c, 8), i, want[i])
		}
		// In BT.2020's gamut paler bars: those at the edge of BT.709's hang on less
		// than a code of the source.
		for j := range c {
			c[j] = max(c[j], 0.25)
		}
		pale = append(pale, of709.codes(c, 8))
		for k := range in2020 {
			in2020[k] = append(in2020[k], of2020.codes(inBT2020(c), 8+2*k))
		}
	}
	systems := []struct {
		name, table string
		tags        []string
	}{
		{"BT.601 525", "BT.601", []string{"-colorspace", "smpte170m", "-color_primaries", "smpte170m", "-color_trc", "smpte170m"}},
		{"BT.601 625", "BT.601", []string{"-colorspace", "bt470bg", "-color_primaries", "bt470bg", "-color_trc", "bt709"}},
		{"BT.709", "BT.709", []string{"-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709"}},
		{"BT.2020", "", []string{"-colorspace", "bt2020nc", "-color_primaries", "bt2020", "-color_trc", "bt2020-10"}},
	}
	var bands []band
	for _, s := range systems {
		for k, bits := range []int{8, 10} {
			codes, ten := in2020[k], in2020[1]
			if s.table != "" {
				codes, ten = barCodes(t, s.table, bits), barCodes(t, s.table, 10)
			}
			for i, sampling := range []string{"420", "422", "444"} {
				pixels := "yuv" + sampling + "p" + []string{"", "10le"}[k]
				add := func(codes []ycc, r string) {
					bands = append(bands, band{fmt.Sprintf("%s %s %s", s.name, pixels, r), codes, pixels, append(slices.Clone(s.tags), "-color_range", r)})
				}
				// Every depth and sampling in limited range, every depth in full range.
				add(codes, "tv")
				if i == 2*k {
					add(inFull(ten, bits), "pc")
				}
			}
		}
	}
	for k, pixels := range []string{"gbrp", "gbrp10le"} {
		top := float64(int(1)<<(8+2*k) - 1)
		codes := make([]ycc, 8)
		for i, c := range barLights() {
			codes[i] = ycc{int(math.Round(c[1] * top)), int(math.Round(c[2] * top)), int(math.Round(c[0] * top))}
		}
		bands = append(bands, band{"RGB " + pixels, codes, pixels, nil})
	}
	// Chunks keep the number of decoders of a process within reason.
	for chunk := range slices.Chunk(bands, 12) {
		clip := record(t, chunk)
		for i, bars := range shown(t, clip, chunk) {
			want := want
			if strings.HasPrefix(chunk[i].name, "BT.2020") {
				want = pale
			}
			for j, got := range bars {
				if w := worst(got, want[j]); w > 2 {
					t.Errorf("%s: bar %d is %v, published is %v", chunk[i].name, j, got, want[j])
				}
			}
		}
	}
}

// TestHDRIsToneMapped: patches of published light come out in order, reference
// white at its stated code, however they are coded; a capture in SDR beside
// them is left alone, and the warnings say which is which.
func TestHDRIsToneMapped(t *testing.T) {
	var limited, full, rgb []ycc
	var light []float64
	// PQ codes of light: testdata/published/01_pq_st2084.csv (SMPTE ST 2084, of
	// which some rows were computed by its formula, as the file says).
	row := regexp.MustCompile(`^inverse EOTF N\(([0-9.]+)\)$`)
	code := regexp.MustCompile(`code (\d+), full-range (\d+)`)
	chosen := []string{"0", "1", "10", "26", "100", "203", "1000", "4000"}
	for _, r := range published.Records(t, "01_pq_st2084.csv") {
		m := row.FindStringSubmatch(r[0])
		if m == nil || !slices.Contains(chosen, m[1]) {
			continue
		}
		cd, _ := strconv.ParseFloat(m[1], 64)
		c := code.FindStringSubmatch(r[1])
		y, _ := strconv.Atoi(c[1])
		f, _ := strconv.Atoi(c[2])
		light = append(light, cd)
		limited, full, rgb = append(limited, ycc{y, 512, 512}), append(full, ycc{f, 512, 512}), append(rgb, ycc{f, f, f})
	}
	if len(light) != len(chosen) || !slices.IsSorted(light) {
		t.Fatalf("patches of %v cd/m²", light)
	}
	// HLG's signal for reference white: Report ITU-R BT.2408, table 1.
	var hlg int
	for _, r := range published.Records(t, "01_bt2408_levels.csv") {
		if r[1] == "203" {
			percent, _ := strconv.Atoi(r[3])
			hlg = 64 + 876*percent/100
		}
	}
	pq := []string{"-colorspace", "bt2020nc", "-color_primaries", "bt2020", "-color_trc", "smpte2084"}
	bands := []band{
		{"limited", limited, "yuv420p10le", append(slices.Clone(pq), "-color_range", "tv")},
		{"full", full, "yuv444p10le", append(slices.Clone(pq), "-color_range", "pc")},
		{"rgb", rgb, "gbrp10le", []string{"-color_primaries", "bt2020", "-color_trc", "smpte2084"}},
		{"bare", limited, "yuv420p10le", []string{"-color_trc", "smpte2084"}},
		{"hlg", []ycc{{hlg, 512, 512}}, "yuv420p10le", []string{"-colorspace", "bt2020nc", "-color_primaries", "bt2020", "-color_trc", "arib-std-b67", "-color_range", "tv"}},
		{"sdr", barCodes(t, "BT.709", 8), "yuv420p", []string{"-colorspace", "bt709", "-color_range", "tv"}},
	}
	clip := record(t, bands)
	got := shown(t, clip, bands)
	const white = 202 // as tonemap.go and help/hdr.md state it
	for i, b := range bands[:4] {
		for j, c := range got[i] {
			if max(c[1], c[2]) > 129 || min(c[1], c[2]) < 127 {
				t.Errorf("%s: %g cd/m² is no longer grey: %v", b.name, light[j], c)
			}
			if j > 0 && (c[0] < got[i][j-1][0] || light[j] <= 1000 && c[0] == got[i][j-1][0]) {
				t.Errorf("%s: %g cd/m² is code %d, after %d for %g", b.name, light[j], c[0], got[i][j-1][0], light[j-1])
			}
			want := -1
			switch cd := light[j]; {
			case cd <= media.KneeOfWhite*media.ReferenceWhite:
				// In proportion, on a display of gamma 2.4 (ITU-R BT.1886).
				want = int(math.Round(16 + 219*math.Pow(cd/media.ReferenceWhite, 1/2.4)))
			case cd == media.ReferenceWhite:
				want = white
			case cd >= media.PeakLight:
				want = 235
			}
			if want >= 0 && abs(c[0]-want) > 1 {
				t.Errorf("%s: %g cd/m² is code %d instead of %d", b.name, light[j], c[0], want)
			}
		}
	}
	if c := got[4][0]; abs(c[0]-white) > 1 {
		t.Errorf("HLG's reference white is %v instead of code %d", c, white)
	}
	for j, c := range got[5] {
		if w := worst(c, bands[5].codes[j]); w > 0 {
			t.Errorf("the SDR capture's bar %d became %v", j, c)
		}
	}
	warnings := finding.Warnings(clip.Conversions())
	if len(warnings) != 6 {
		t.Fatalf("%d warnings: %q", len(warnings), warnings)
	}
	for i, part := range []string{"capture limited is HDR (PQ)", "capture full is HDR (PQ)", "capture rgb is HDR (PQ)", "capture bare is HDR (PQ)", "capture hlg is HDR (HLG)",
		"converted: limited, full, rgb, bare, hlg; shown in the light that was recorded: sdr"} {
		if !strings.Contains(warnings[i], part) {
			t.Errorf("warning %q lacks %q", warnings[i], part)
		}
	}
}

// TestConversionNeedsFilters: an ffmpeg without zimg is refused for HDR, and only
// for that, with a word on what to do.
func TestConversionNeedsFilters(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("the stand-in for ffmpeg is a shell script")
	}
	stand := filepath.Join(t.TempDir(), "ffmpeg")
	script := "#!/bin/sh\necho ' ... setparams V->V x'\necho ' ... sidedata V->V x'\n"
	if err := os.WriteFile(stand, []byte(script), 0o755); err != nil {
		t.Fatal(err)
	}
	poor := &media.Tools{FFmpeg: stand}
	c := media.Capture{Path: "a.mkv", Colour: media.Colour{Matrix: "bt2020", Primaries: "bt2020", Transfer: "smpte2084"}}
	var e *media.Error
	if err := poor.CheckConvertible(t.Context(), c, media.SDR()); !errors.As(err, &e) || !strings.Contains(e.Msg, "lacks the filter zscale") || !strings.Contains(e.Hint, "zimg") {
		t.Errorf("without zscale: %v", err)
	}
	if err := poor.CheckConvertible(t.Context(), media.Capture{Colour: media.Colour{Matrix: "bt601", Primaries: "bt709"}}, media.SDR()); err != nil {
		t.Errorf("SDR: %v", err)
	}
}

func abs(a int) int { return max(a, -a) }
