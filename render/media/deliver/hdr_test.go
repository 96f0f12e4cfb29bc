package deliver

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"image"
	"image/png"
	"io"
	"math"
	"path/filepath"
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

// exactly is an hdr delivery whose coder loses nothing, so that codes can be
// compared.
func exactly(t *testing.T, transfer string) graph.Delivery {
	t.Helper()
	d, err := Choose(DeliverySpec{Delivery: "hdr", Transfer: transfer, Effort: "quick", Options: []string{"-x265-params", "lossless=1"}})
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// deep decodes the first frame of a file to packed 10-bit codes of a pixel format.
func deep(t *testing.T, path, format string, samples int) []uint16 {
	t.Helper()
	raw := make([]byte, 2*samples)
	err := tools(t).Run(t.Context(), media.Process{Program: tools(t).FFmpeg,
		Args:   []string{"-v", "level+error", "-nostdin", "-i", media.FileURL(path), "-frames:v", "1", "-f", "rawvideo", "-pix_fmt", format, "pipe:1"},
		Stdout: func(r io.Reader) error { _, err := io.ReadFull(r, raw); return err }})
	if err != nil {
		t.Fatal(err)
	}
	codes := make([]uint16, samples)
	for i := range codes {
		codes[i] = binary.LittleEndian.Uint16(raw[2*i:])
	}
	return codes
}

// deepAt is the colour at a place of a packed 4:2:0 picture.
func deepAt(p []uint16, size, at image.Point) ycc {
	n := size.X * size.Y
	i := n + at.Y/2*(size.X/2) + at.X/2
	return ycc{int(p[at.Y*size.X+at.X]), int(p[i]), int(p[i+n/4])}
}

// rendered renders a clip in 10 bits and returns its first picture.
func rendered(t *testing.T, clip *graph.Clip) ([]uint16, Rendered) {
	t.Helper()
	out := filepath.Join(t.TempDir(), "clip.mp4")
	made, err := Render(t.Context(), tools(t), clip, out, nil)
	if err != nil {
		t.Fatal(err)
	}
	return deep(t, out, "yuv420p10le", clip.Size.X*clip.Size.Y*3/2), made
}

// lightOf is the light, in cd/m² of BT.2020's primaries, that a display shows for
// codes of 10 bits: SMPTE ST 2084 as in testdata/published/01_pq_st2084.csv, and
// ITU-R BT.2100-2, table 5, for HLG on 1000 cd/m², from memory.
func lightOf(transfer string, c ycc) (light [3]float64) {
	luma, cb, cr := (float64(c[0])-64)/876, (float64(c[1])-512)/896, (float64(c[2])-512)/896
	r, b := luma+1.4746*cr, luma+1.8814*cb
	signal := [3]float64{r, (luma - 0.2627*r - 0.0593*b) / 0.6780, b}
	var y float64
	for i, e := range signal {
		e = max(e, 0)
		if transfer == media.PQ {
			p := math.Pow(e, 32.0/2523)
			light[i] = 10000 * math.Pow(max(p-0.8359375, 0)/(18.8515625-18.6875*p), 16384.0/2610)
			continue
		}
		const a, b, c = 0.17883277, 0.28466892, 0.55991073
		if e <= 0.5 {
			light[i] = e * e / 3
		} else {
			light[i] = (math.Exp((e-c)/a) + b) / 12
		}
		y += of2020.share(i) * light[i]
	}
	if transfer == media.HLG {
		for i := range light {
			light[i] *= 1000 * math.Pow(y, 0.2)
		}
	}
	return light
}

// share is the weight of R, G or B in luma.
func (k weights) share(i int) float64 { return [3]float64{k.r, 1 - k.r - k.b, k.b}[i] }

// lightOfSDR is the same for codes of BT.709, 8 bits, on a display of gamma 2.4
// (ITU-R BT.1886) whose white has 203 cd/m² (Report ITU-R BT.2408, table 1).
func lightOfSDR(c ycc) (light [3]float64) {
	luma, cb, cr := (float64(c[0])-16)/219, (float64(c[1])-128)/224, (float64(c[2])-128)/224
	r, b := luma+1.5748*cr, luma+1.8556*cb
	signal := [3]float64{r, (luma - 0.2126*r - 0.0722*b) / 0.7152, b}
	m := between("bt709", "bt2020")
	for i := range m {
		for j := range signal {
			light[i] += 203 * m[i][j] * math.Pow(min(1, max(0, signal[j])), 2.4)
		}
	}
	return light
}

// alike reports whether two lights look the same: within what two codes make of it.
func alike(a, b [3]float64) bool {
	for i := range a {
		if math.Abs(a[i]-b[i]) > 0.03*max(a[0], a[1], a[2])+0.05 {
			return false
		}
	}
	return true
}

// TestHDRKeepsAndConvertsLight puts captures of every kind of light into one clip:
// those of its own transfer keep their codes, the others their light.
func TestHDRKeepsAndConvertsLight(t *testing.T) {
	as := func(transfer, r string) []string {
		return []string{"-colorspace", "bt2020nc", "-color_primaries", "bt2020", "-color_trc", transfer, "-color_range", r}
	}
	light := []ycc{{64, 512, 512}, {327, 512, 512}, {573, 512, 512}, {723, 512, 512}, {855, 512, 512}, {450, 560, 600}, {500, 470, 540}, {940, 512, 512}}
	scene := []ycc{{64, 512, 512}, {300, 512, 512}, {721, 512, 512}, {940, 512, 512}, {500, 600, 700}, {294, 387, 887}, {400, 700, 450}, {600, 500, 480}}
	var grb []ycc
	for _, c := range light {
		f := (c[0] - 64) * 1023 / 876
		grb = append(grb, ycc{f, f, f})
	}
	plain := barCodes(t, "BT.709", 8)
	var plainRGB []ycc
	for _, c := range barLights() {
		plainRGB = append(plainRGB, ycc{int(math.Round(255 * c[1])), int(math.Round(255 * c[2])), int(math.Round(255 * c[0]))})
	}
	bands := []band{
		{"pq", light, "yuv420p10le", as(media.PQ, "tv")},
		{"pq 444", light, "yuv444p10le", as(media.PQ, "tv")},
		{"pq full", inFull(light, 10), "yuv420p10le", as(media.PQ, "pc")},
		{"pq rgb", grb, "gbrp10le", []string{"-color_primaries", "bt2020", "-color_trc", media.PQ}},
		{"hlg", scene, "yuv420p10le", as(media.HLG, "tv")},
		{"sdr", plain, "yuv420p", []string{"-colorspace", "bt709", "-color_primaries", "bt709", "-color_range", "tv"}},
		{"sdr white", []ycc{{235, 128, 128}, {126, 128, 128}}, "yuv420p", []string{"-colorspace", "bt709", "-color_range", "tv"}},
		{"sdr full", inFull(barCodes(t, "BT.709", 10), 8), "yuv420p", []string{"-colorspace", "bt709", "-color_range", "pc"}},
		{"sdr rgb", plainRGB, "gbrp", nil},
	}
	clip := record(t, bands)
	clip.Frames = 1
	for _, to := range []string{media.PQ, media.HLG} {
		clip.Delivery = exactly(t, map[string]string{media.PQ: "pq", media.HLG: "hlg"}[to])
		picture, made := rendered(t, clip)
		if c := made.Clip.Colour; c != (media.Colour{Matrix: "bt2020", Primaries: "bt2020", Transfer: to}) {
			t.Errorf("the clip is tagged %+v", c)
		}
		for i, b := range bands {
			for j, c := range b.codes {
				got := deepAt(picture, clip.Size, image.Pt(barCentre(j, len(b.codes), bandSize.X), i*bandSize.Y+bandSize.Y/2))
				from := clip.Inputs[i].Capture.Colour.Transfer
				off := 2
				switch i {
				case 0, 4:
					off = 0
				case 1:
					off = 1
				case 2, 3:
					c = light[j]
					if i == 3 {
						c[1], c[2] = 512, 512
					}
				case 7, 8:
					c = plain[j]
				}
				switch {
				case from == to:
					if worst(got, c) > off {
						t.Errorf("%s in %s: %v became %v", b.name, to, c, got)
					}
				case to == media.HLG && from == media.PQ:
					want := lightOf(media.PQ, c)
					if peak := max(want[0], want[1], want[2]); peak > 1000 {
						if got[0] != 940 {
							t.Errorf("%s in HLG: %v, of %.0f cd/m², became %v", b.name, c, peak, got)
						}
					} else if !alike(want, lightOf(to, got)) {
						t.Errorf("%s in HLG: %v became %v, light %.1f became %.1f", b.name, c, got, want, lightOf(to, got))
					}
				case to == media.PQ && from == media.HLG:
					if want := lightOf(from, c); !alike(want, lightOf(to, got)) {
						t.Errorf("%s in PQ: %v became %v, light %.1f became %.1f", b.name, c, got, want, lightOf(to, got))
					}
				default:
					if want := lightOfSDR(c); !alike(want, lightOf(to, got)) {
						t.Errorf("%s in %s: %v became %v, light %.1f became %.1f", b.name, to, c, got, want, lightOf(to, got))
					}
				}
			}
		}
		// Graphics white: 58 % in PQ, 75 % in HLG (Report ITU-R BT.2408, table 1).
		got := deepAt(picture, clip.Size, image.Pt(20, 6*bandSize.Y+16))
		if want := graphicsWhite(t, to); worst(got, ycc{want, 512, 512}) > 2 {
			t.Errorf("SDR's white in %s is %v, published is code %d", to, got, want)
		}
	}
	// Without an order, captures of both kinds make PQ, and only HLG makes HLG.
	clip.Delivery = exactly(t, "")
	if got := clip.Transfer(); got != media.PQ {
		t.Errorf("PQ beside HLG makes %s", got)
	}
	only := *clip
	only.Inputs, only.Panes = clip.Inputs[4:6], []graph.Pane{clip.Panes[0]}
	if got := only.Transfer(); got != media.HLG {
		t.Errorf("HLG beside SDR makes %s", got)
	}
	warnings := finding.Warnings(clip.Conversions())
	for _, part := range []string{"capture hlg is HDR (HLG) and is converted to PQ", "capture sdr is SDR and is placed in the HDR clip (PQ) with its white at 203 cd/m²",
		"converted: hlg, sdr, sdr white, sdr full, sdr rgb; shown in the light that was recorded: pq, pq 444, pq full, pq rgb;"} {
		if !slices.ContainsFunc(warnings, func(w string) bool { return strings.Contains(w, part) }) {
			t.Errorf("no %q in %q", part, warnings)
		}
	}
}

// graphicsWhite is the 10-bit code of HDR reference white: that of the table of PQ
// codes, and of HLG the percentage of BT.2408.
func graphicsWhite(t *testing.T, transfer string) int {
	t.Helper()
	if transfer == media.PQ {
		for _, r := range published.Records(t, "01_pq_st2084.csv") {
			if r[0] == "inverse EOTF N(203)" {
				var limited, full int
				if _, err := fmt.Sscanf(r[1], "10-bit limited Y code %d, full-range %d", &limited, &full); err != nil {
					t.Fatal(err)
				}
				return limited
			}
		}
	}
	for _, r := range published.Records(t, "01_bt2408_levels.csv") {
		if r[1] == "203" {
			percent, _ := strconv.Atoi(r[3])
			return 64 + 876*percent/100
		}
	}
	t.Fatal("no row of 203 cd/m²")
	return 0
}

// TestDrawnInHDR: what Go draws has graphics white at its published code, and all
// other colours as zimg converts them; alpha is straight.
func TestDrawnInHDR(t *testing.T) {
	const side = 2
	var colours []ycc
	for i := range 125 {
		c := [3]float64{float64(i%5) / 4, float64(i/5%5) / 4, float64(i/25) / 4}
		colours = append(colours, of709.codes(c, 8))
	}
	area := image.Rect(0, 0, 125*side, 32)
	fill := func(dst []byte, size image.Point, c func(x int) ycc) {
		n := size.X * size.Y
		for y := range size.Y {
			for x := range size.X {
				v := c(x)
				dst[y*size.X+x] = byte(v[0])
				dst[n+y/2*(size.X/2)+x/2], dst[n+n/4+y/2*(size.X/2)+x/2] = byte(v[1]), byte(v[2])
			}
		}
	}
	parts := []graph.Layer{
		{Kind: graph.Opaque, Area: area, Still: true, Draw: func(dst []byte, _ int) {
			fill(dst, area.Size(), func(x int) ycc { return colours[x/side] })
		}},
		{Kind: graph.Alpha, Area: image.Rect(0, 32, 256, 64), Draw: func(dst []byte, _ int) {
			fill(dst, image.Pt(256, 32), func(int) ycc { return ycc{235, 128, 128} })
			for i := range 256 * 32 {
				dst[256*32*3/2+i] = byte(i % 256)
			}
		}},
	}
	ground := ycc{327, 512, 512}
	band := []band{{"pq", []ycc{ground}, "yuv420p10le", []string{"-colorspace", "bt2020nc", "-color_primaries", "bt2020", "-color_trc", media.PQ, "-color_range", "tv"}}}
	clip := record(t, band)
	clip.Size, clip.Frames, clip.Layers = image.Pt(256, 64), 1, parts
	shot, err := layout.Window{Whole: true}.Shoot(bandSize, clip.Size, clip.Size)
	if err != nil {
		t.Fatal(err)
	}
	clip.Panes = []graph.Pane{{Shot: shot, Kernel: "nearest", Area: image.Rectangle{Max: clip.Size}}}
	for _, to := range []string{media.PQ, media.HLG} {
		clip.Delivery = exactly(t, map[string]string{media.PQ: "pq", media.HLG: "hlg"}[to])
		picture, _ := rendered(t, clip)
		want := byZimg(t, colours, to)
		for i := range colours {
			if got := deepAt(picture, clip.Size, image.Pt(i*side, 10)); worst(got, want[i]) > 2 {
				t.Errorf("%v in %s is %v, by zimg %v", colours[i], to, got, want[i])
			}
		}
		white := graphicsWhite(t, to)
		if got := deepAt(picture, clip.Size, image.Pt(124*side, 10)); worst(got, ycc{white, 512, 512}) > 2 {
			t.Errorf("drawn white in %s is %v, published is code %d", to, got, white)
		}
		under := int(picture[40*clip.Size.X])
		for a := range 256 {
			got := int(picture[40*clip.Size.X+a])
			if mixed := (a*white + (255-a)*under + 127) / 255; abs(got-mixed) > 2 {
				t.Errorf("white of alpha %d over %d is %d instead of %d", a, under, got, mixed)
			}
		}
	}
}

// byZimg converts colours of BT.709 with zimg, by way of ffmpeg's zscale.
func byZimg(t *testing.T, colours []ycc, transfer string) []ycc {
	t.Helper()
	var raw []byte
	for c := range 3 {
		for _, v := range colours {
			raw = append(raw, byte(v[c]))
		}
	}
	size := fmt.Sprintf("%dx1", len(colours))
	out := make([]byte, 6*len(colours))
	err := tools(t).Run(t.Context(), media.Process{Program: tools(t).FFmpeg,
		Args: []string{"-v", "level+error", "-f", "rawvideo", "-pix_fmt", "yuv444p", "-video_size", size, "-i", "pipe:0",
			"-vf", "setparams=" + media.SDR().Tags() + ",zscale=p=bt2020:t=" + transfer + ":m=bt2020nc:r=tv:npl=203:agamma=0,format=yuv444p10le", "-f", "rawvideo", "pipe:1"},
		Stdin:  func(w io.Writer) error { _, err := w.Write(raw); return err },
		Stdout: func(r io.Reader) error { _, err := io.ReadFull(r, out); return err }})
	if err != nil {
		t.Fatal(err)
	}
	list := make([]ycc, len(colours))
	for i := range list {
		for c := range 3 {
			list[i][c] = int(binary.LittleEndian.Uint16(out[2*(c*len(colours)+i):]))
		}
	}
	return list
}

// sideData is what ffprobe finds beside the first picture of a file, in its own words.
func sideData(t *testing.T, path string) map[string]string {
	t.Helper()
	var out strings.Builder
	if err := tools(t).Run(t.Context(), media.Process{Program: tools(t).FFprobe, Stdout: media.ReadInto(&out),
		Args: []string{"-v", "error", "-select_streams", "v:0", "-show_frames", "-read_intervals", "%+#1", "-of", "json", media.FileURL(path)}}); err != nil {
		t.Fatal(err)
	}
	var said struct {
		Frames []struct {
			Side []map[string]any `json:"side_data_list"`
		}
	}
	if err := json.Unmarshal([]byte(out.String()), &said); err != nil {
		t.Fatal(err)
	}
	found := map[string]string{}
	for _, d := range said.Frames[0].Side {
		for k, v := range d {
			if k != "side_data_type" {
				found[k] = fmt.Sprint(v)
			}
		}
	}
	return found
}

// TestMasteringDataIsPassedOn: the clip states what its captures state, nothing that
// they do not, and of differing ones the one with the highest peak.
func TestMasteringDataIsPassedOn(t *testing.T) {
	// P3 and BT.2020 displays (chromaticities of SMPTE EG 432-1 and ITU-R BT.2020-2),
	// in 1/50000.
	p3 := "master-display=G(13250,34500)B(7500,3000)R(34000,16000)WP(15635,16450)L(10000000,50)"
	wide := media.Mastering{Green: [2]int{8500, 39850}, Blue: [2]int{6550, 2300}, Red: [2]int{35400, 14600}, White: [2]int{15635, 16450}, Max: 40000000, Min: 1}
	capture := func(name, params string) media.Capture {
		path := filepath.Join(t.TempDir(), name+".mp4")
		args := []string{"-c:v", "libx265", "-preset", "ultrafast", "-x265-params", strings.TrimSuffix("log-level=error:"+params, ":"), "-tag:v", "hvc1",
			"-color_range", "tv", "-color_trc", media.PQ, "-colorspace", "bt2020nc", "-color_primaries", "bt2020", "-f", "mp4"}
		format := "yuv420p10le"
		picture := band{codes: []ycc{{400, 512, 512}}, pixels: format}.planesOf()
		err := tools(t).Encode(t.Context(), media.EncodeSpec{Out: path, Size: bandSize, PixFmt: format, Rate: hz30, Args: args}, func(w io.Writer) error {
			_, err := w.Write(slices.Concat(picture, picture))
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		c, err := tools(t).Probe(t.Context(), path)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	full, bare := capture("full", p3+":max-cll=900,300"), capture("bare", "")
	other, dim, scene := full, full, bare
	other.Mastering, other.Light = &wide, &media.ContentLight{Max: 800, Average: 350}
	dim.Light = &media.ContentLight{Max: 120, Average: 60}
	scene.Colour.Transfer = media.HLG
	plain := record(t, []band{{"sdr", []ycc{{100, 128, 128}}, "yuv420p", []string{"-colorspace", "bt709", "-color_range", "tv"}}}).Inputs[0].Capture
	codes := func(x ...int) string { return fmt.Sprint(x) }
	for _, tt := range []struct {
		name     string
		captures []media.Capture
		display  string // green's x and y, the highest and the lowest luminance, in HEVC's units
		light    string
		warning  string
		made     map[string]string // what ffprobe finds in the clip; nil: none is made
	}{
		{"one and SDR", []media.Capture{full, plain}, codes(13250, 34500, 10000000, 50), codes(900, 300), "",
			map[string]string{"green_x": "13250/50000", "red_y": "16000/50000", "blue_x": "7500/50000", "white_point_y": "16450/50000",
				"max_luminance": "10000000/10000", "min_luminance": "50/10000", "max_content": "900", "max_average": "300"}},
		{"two", []media.Capture{full, other}, codes(8500, 39850, 40000000, 1), codes(900, 350), "names that of b, which has the highest peak", nil},
		// libx265 writes zeros, which stand for what is not known (CTA-861.3).
		{"one of two", []media.Capture{bare, full}, codes(13250, 34500, 10000000, 50), "", "states no MaxCLL and MaxFALL, since those of a are not known",
			map[string]string{"green_x": "13250/50000", "max_content": "0"}},
		{"beside HLG", []media.Capture{full, scene}, codes(13250, 34500, 10000000, 50), "", "since those of b are not known", nil},
		{"dimmer than what is drawn", []media.Capture{dim}, codes(13250, 34500, 10000000, 50), codes(203, 60), "", nil},
		{"none", []media.Capture{bare, plain}, "", "", "", map[string]string{"green_x": "", "max_luminance": "", "max_content": "", "max_average": ""}},
		{"HLG", []media.Capture{scene}, "", "", "", nil},
	} {
		d, err := Choose(DeliverySpec{Delivery: "hdr", Effort: "quick"})
		if err != nil {
			t.Fatal(err)
		}
		clip := &graph.Clip{Size: image.Pt(bandSize.X, bandSize.Y*len(tt.captures)), Rate: hz30, Frames: 1, Delivery: d}
		shot, err := layout.Window{Whole: true}.Shoot(bandSize, bandSize, bandSize)
		if err != nil {
			t.Fatal(err)
		}
		for i, c := range tt.captures {
			at := image.Pt(0, i*bandSize.Y)
			clip.Inputs = append(clip.Inputs, graph.Input{Name: string(rune('a' + i)), Capture: c})
			clip.Panes = append(clip.Panes, graph.Pane{Input: i, Shot: shot, Kernel: "lanczos", Area: image.Rectangle{Min: at, Max: at.Add(bandSize)}})
		}
		m, light, _ := clip.StatedLight()
		display, content := "", ""
		if m != nil {
			display = codes(m.Green[0], m.Green[1], m.Max, m.Min)
		}
		if light != nil {
			content = codes(light.Max, light.Average)
		}
		if display != tt.display || content != tt.light {
			t.Errorf("%s: %s and %s are stated instead of %s and %s", tt.name, display, content, tt.display, tt.light)
		}
		warnings := strings.Join(finding.Warnings(clip.Conversions()), "\n")
		if tt.warning == "" && strings.Contains(warnings, "MaxCLL") || !strings.Contains(warnings, tt.warning) {
			t.Errorf("%s: warnings %q lack %q", tt.name, warnings, tt.warning)
		}
		if tt.made == nil {
			continue
		}
		out := filepath.Join(t.TempDir(), "clip.mp4")
		if _, err := Render(t.Context(), tools(t), clip, out, nil); err != nil {
			t.Fatalf("%s: %v", tt.name, err)
		}
		got := sideData(t, out)
		for k, want := range tt.made {
			if got[k] != want {
				t.Errorf("%s: %s is %q instead of %q", tt.name, k, got[k], want)
			}
		}
	}
}

// TestDifferenceInHDR: the difference of R'G'B' is that of the PQ signals.
func TestDifferenceInHDR(t *testing.T) {
	a, b := [3]float64{0.6, 0.5, 0.4}, [3]float64{0.5, 0.55, 0.4}
	tags := []string{"-colorspace", "bt2020nc", "-color_primaries", "bt2020", "-color_trc", media.PQ, "-color_range", "tv"}
	clip := record(t, []band{{"a", []ycc{of2020.codes(a, 10)}, "yuv420p10le", tags}, {"b", []ycc{of2020.codes(b, 10)}, "yuv420p10le", tags}})
	clip.Size, clip.Frames, clip.Delivery = bandSize, 1, exactly(t, "")
	pane := clip.Panes[0]
	var gained [3]float64
	for i := range a {
		gained[i] = 3 * math.Abs(a[i]-b[i])
	}
	pane.Subtrahend = &graph.Subtrahend{Input: 1, Shot: pane.Shot, Kernel: "lanczos", Gain: layout.Fraction{Num: 3, Den: 1}, Colour: true}
	clip.Panes = []graph.Pane{pane}
	picture, _ := rendered(t, clip)
	// Of R'G'B' in ten bits, three times as much as one code is lost.
	if got, want := deepAt(picture, clip.Size, image.Pt(64, 16)), of2020.codes(gained, 10); worst(got, want) > 3 {
		t.Errorf("the difference is %v instead of %v", got, want)
	}
}

// TestStillOfHDR: a still is the composed picture, tone-mapped as a whole.
func TestStillOfHDR(t *testing.T) {
	tags := []string{"-colorspace", "bt2020nc", "-color_primaries", "bt2020", "-color_trc", media.PQ, "-color_range", "tv"}
	clip := record(t, []band{{"pq", []ycc{{573, 512, 512}}, "yuv420p10le", tags}, {"sdr", []ycc{{235, 128, 128}}, "yuv420p", []string{"-colorspace", "bt709", "-color_range", "tv"}}})
	area := image.Rect(96, 0, 128, 32)
	clip.Layers = []graph.Layer{{Kind: graph.Opaque, Area: area, Draw: func(dst []byte, _ int) {
		for i := range dst {
			dst[i] = 128
		}
		for i := range area.Dx() * area.Dy() {
			dst[i] = 235
		}
	}}}
	clip.Dividers = []image.Rectangle{image.Rect(0, 30, 128, 34)}
	clip.Opening = &graph.Page{Frames: 1, Picture: slices.Concat(slices.Repeat([]byte{235}, clip.Size.X*clip.Size.Y), slices.Repeat([]byte{128}, clip.Size.X*clip.Size.Y/2))}
	clip.Delivery = exactly(t, "")
	for k, places := range map[int64][]image.Point{0: {{20, 10}, {20, 50}, {110, 10}}, -1: {{20, 10}, {64, 50}}} {
		still, err := Still(t.Context(), tools(t), clip, k)
		if err != nil {
			t.Fatal(err)
		}
		picture, err := png.Decode(bytes.NewReader(still))
		if err != nil {
			t.Fatal(err)
		}
		for _, at := range places {
			// Reference white, wherever it comes from, is code 202 of 16 to 235.
			r, g, b, _ := picture.At(at.X, at.Y).RGBA()
			want := (202 - 16) * 255 / 219
			if abs(int(r>>8)-want) > 2 || abs(int(g>>8)-want) > 2 || abs(int(b>>8)-want) > 2 {
				t.Errorf("frame %d at %v is %d, %d, %d instead of %d", k, at, r>>8, g>>8, b>>8, want)
			}
		}
	}
}
