package deck

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"fairframe/layout"
	"fairframe/render/pacing"
)

var sixty = pacing.Rate{Num: 60, Den: 1}

func chartSettings(t testing.TB, size image.Point, captures, secs int) ChartSettings {
	t.Helper()
	s := demoOf(t, layout.Spec{Size: size, Captures: captures, Tabs: true}, 60*secs)
	return ChartSettings{Size: size, Title: s.Caption, Captures: s.Captures, Length: time.Duration(secs) * time.Second, Rate: sixty}
}

func newChart(t testing.TB, s ChartSettings) *Chart {
	t.Helper()
	c, err := NewChart(s)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// element is one of an SVG's, with its attributes and its text.
type element struct {
	name, text string
	attr       map[string]string
}

// parseSVG reads an SVG, which must be well formed.
func parseSVG(t *testing.T, svg []byte) []element {
	t.Helper()
	var out []element
	dec := xml.NewDecoder(bytes.NewReader(svg))
	for {
		token, err := dec.Token()
		if err == io.EOF {
			return out
		}
		if err != nil {
			t.Fatalf("%v in\n%s", err, svg)
		}
		switch v := token.(type) {
		case xml.StartElement:
			e := element{name: v.Name.Local, attr: map[string]string{}}
			for _, a := range v.Attr {
				e.attr[a.Name.Local] = a.Value
			}
			out = append(out, e)
		case xml.CharData:
			if n := len(out); n > 0 && strings.TrimSpace(string(v)) != "" {
				out[n-1].text += string(v)
			}
		}
	}
}

func byID(t *testing.T, list []element, id string) element {
	t.Helper()
	for _, e := range list {
		if e.attr["id"] == id {
			return e
		}
	}
	t.Fatalf("no element %q", id)
	return element{}
}

// numbers returns the numbers of a path, and how many lines it has.
func numbers(t *testing.T, d string) (v []float64, lines int) {
	t.Helper()
	lines = strings.Count(d, "M")
	for _, s := range strings.FieldsFunc(d, func(r rune) bool { return strings.ContainsRune("MLhvz ", r) }) {
		f, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		v = append(v, f)
	}
	return v, lines
}

// The SVG's lines go through the traces' rates: every point is compared with
// frames counted by definition, at the scale of the axis labels and ticks.
func TestChartLines(t *testing.T) {
	s := chartSettings(t, hd(), 3, 12)
	c := newChart(t, s)
	svg, err := c.SVG()
	if err != nil {
		t.Fatal(err)
	}
	list := parseSVG(t, svg)
	// The scale, from what stands beside the axes: the baselines of "60" and "0"
	// and the positions of "0" and "12" below.
	var y60, y0, x0, x12 float64
	number := func(s string) float64 { v, _ := strconv.ParseFloat(s, 64); return v }
	for _, e := range list {
		switch {
		case e.name == "text" && e.text == "60" && y60 == 0:
			y60 = number(e.attr["y"])
		case e.name == "text" && e.text == "0" && e.attr["text-anchor"] == "end" && y0 == 0:
			y0 = number(e.attr["y"])
		case e.name == "text" && e.text == "0" && e.attr["text-anchor"] == "middle":
			x0 = number(e.attr["x"])
		case e.name == "text" && e.text == "12" && e.attr["text-anchor"] == "middle":
			x12 = number(e.attr["x"])
		}
	}
	if y60 == 0 || y0 <= y60 || x12 <= x0 {
		t.Fatalf("scale: 60 at %v, 0 at %v; 0 s at %v, 12 s at %v", y60, y0, x0, x12)
	}
	for i, one := range s.Captures {
		v, lines := numbers(t, byID(t, list, fmt.Sprintf("rate-%d", i+1)).attr["d"])
		if lines != 1 || len(v) != 2*(720+1) {
			t.Fatalf("capture %d: %d lines, %d numbers", i+1, lines, len(v))
		}
		for k := range len(v) / 2 {
			at := sixty.TimeOf(int64(k))
			wantX := x0 + at.Seconds()/12*(x12-x0)
			wantY := y60 + (60-slowLine(Settings{}, one, one.Start+at))/60*(y0-y60)
			// Baselines stand on whole pixels below the middle of their label; what
			// is left is a constant of the type, taken from the first point.
			if off := v[2*k+1] - wantY; math.Abs(v[2*k]-wantX) > 0.011 || math.Abs(off-(v[1]-(y60+(60-slowLine(Settings{}, one, one.Start))/60*(y0-y60)))) > 1.1 {
				t.Fatalf("capture %d at %v: (%v, %v), want (%v, %v)", i+1, at, v[2*k], v[2*k+1], wantX, wantY)
			}
		}
	}
	// Alder holds 60 at first and 30 later: exactly on the gridlines.
	v, _ := numbers(t, byID(t, list, "rate-1").attr["d"])
	grid := float64(c.deck.hairline()) / 2
	for k, fps := range map[int]float64{0: 60, 60: 60, 300: 30, 700: 60} {
		if want := float64(c.deck.rateAxis.row(fps, c.rate)) + grid; math.Abs(v[2*k+1]-want) > 0.51 {
			t.Errorf("line at frame %d is at %v, the gridline of %v fps at %v", k, v[2*k+1], fps, want)
		}
	}
}

// Treads in the SVG are as wide as their frames last and as high as their times.
func TestChartTreads(t *testing.T) {
	s := chartSettings(t, hd(), 2, 3)
	s.Captures[0].Trace = withStill(t, s.Captures[0].Trace)
	c := newChart(t, s)
	svg, err := c.SVG()
	if err != nil {
		t.Fatal(err)
	}
	list := parseSVG(t, svg)
	for i, one := range s.Captures {
		v, n := numbers(t, byID(t, list, fmt.Sprintf("caps-%d", i+1)).attr["d"])
		area := c.lanes[i].area
		var frames []pacing.Frame
		for _, f := range one.Trace.Over(one.Start, one.Start+s.Length) {
			if f.Kind == pacing.Normal {
				frames = append(frames, f)
			}
		}
		if n != len(frames) || len(v) != 5*n {
			t.Fatalf("capture %d: %d treads of %d frames", i+1, n, len(frames))
		}
		scale := float64(area.Dx()) / 3
		for j, f := range frames {
			x := float64(area.Min.X) + (f.Begin-one.Start).Seconds()*scale
			x1 := min(x+f.Time.Seconds()*scale, float64(area.Max.X))
			x = max(x, float64(area.Min.X))
			y := float64(area.Max.Y) - float64(f.Time)/1e6/c.deck.timeAxis.Max*float64(area.Dy())
			if math.Abs(v[5*j]-x) > 0.011 || math.Abs(v[5*j]+v[5*j+2]-x1+c.gap) > 0.021 || math.Abs(v[5*j+1]-y) > 0.011 {
				t.Fatalf("capture %d, frame %d: (%v, %v) %v wide, want (%v, %v) to %v", i+1, j, v[5*j], v[5*j+1], v[5*j+2], x, y, x1)
			}
		}
	}
	if !strings.Contains(string(svg), ">still</text>") || !strings.Contains(string(svg), `id="still-1"`) || strings.Contains(string(svg), `id="still-2"`) {
		t.Error("the still stretch of capture 1 alone is to be marked")
	}
}

// Frames longer than the axis are cut and their values written; torn frames have
// a mark and a key.
func TestChartMarks(t *testing.T) {
	svg, err := newChart(t, chartSettings(t, hd(), 3, 12)).SVG()
	if err != nil {
		t.Fatal(err)
	}
	list := parseSVG(t, svg)
	// wavering stays 6 refreshes, 100 ms, every 230 refreshes.
	if n := strings.Count(string(svg), ">100.0</text>"); n != 3 {
		t.Errorf("%d long frames are labelled", n)
	}
	if _, n := numbers(t, byID(t, list, "cuts-2").attr["d"]); n != 6 {
		t.Errorf("%d cuts", n)
	}
	if n := strings.Count(string(svg), ">torn</text>"); n != 1 || strings.Contains(string(svg), `id="torn-1"`) {
		t.Errorf("%d keys to torn frames", n)
	}
	if !strings.Contains(string(svg), ">mean of 1 s within spans</text>") {
		t.Error("the window is not stated")
	}
}

// In long scenes treads become ranges and the line a longer mean, and both say so.
func TestChartOfLongScene(t *testing.T) {
	s := chartSettings(t, image.Pt(640, 360), 2, 600)
	c := newChart(t, s)
	if c.band == 0 || c.lineWindow() <= time.Second {
		t.Fatalf("band %v, window %v", c.band, c.lineWindow())
	}
	svg, err := c.SVG()
	if err != nil {
		t.Fatal(err)
	}
	if text := string(svg); !strings.Contains(text, ">range in each "+seconds(c.band)+"</text>") || !strings.Contains(text, ">mean of "+seconds(c.lineWindow())+" within spans (1 s would be too fine to see)</text>") {
		t.Errorf("the chart does not say what it shows:\n%s", text)
	}
	if len(svg) > 100_000 {
		t.Errorf("%d bytes: the file grows with the scene", len(svg))
	}
	list := parseSVG(t, svg)
	// Alder's first step after 3 s of 30 fps from 3 s to 7 s of its capture, which
	// is 2 s to 6 s of the scene, reaches from 16.7 to 33.3 ms.
	v, n := numbers(t, byID(t, list, "caps-1").attr["d"])
	if want := int(math.Ceil(600 / c.band.Seconds())); n != want {
		t.Fatalf("%d steps, want %d", n, want)
	}
	area := c.lanes[0].area
	row := func(ms float64) float64 {
		return float64(area.Max.Y) - ms/c.deck.timeAxis.Max*float64(area.Dy())
	}
	top, foot := v[1], v[1]+v[3]
	if math.Abs(top-row(2000.0/60)) > 0.011 || math.Abs(foot-row(1000.0/60)-c.capHeight()) > 0.021 {
		t.Errorf("first step from %v to %v, want %v to %v", top, foot, row(2000.0/60), row(1000.0/60)+c.capHeight())
	}
	last := 5 * (n - 1)
	if v[last+3] != c.capHeight() {
		t.Errorf("last step, of one frame time, is %v high", v[last+3])
	}
}

// The two back ends show the same: where the SVG has a box, the picture has its
// colour.
func TestChartBackEndsAgree(t *testing.T) {
	c := newChart(t, chartSettings(t, hd(), 3, 3))
	img, err := c.Image()
	if err != nil {
		t.Fatal(err)
	}
	svg, err := c.SVG()
	if err != nil {
		t.Fatal(err)
	}
	looked := 0
	for _, e := range parseSVG(t, svg) {
		id := e.attr["id"]
		if !strings.HasPrefix(id, "caps-") && !strings.HasPrefix(id, "bodies-") && id != "ground" {
			continue
		}
		var want color.NRGBA
		if _, err := fmt.Sscanf(e.attr["fill"], "#%02X%02X%02X", &want.R, &want.G, &want.B); err != nil {
			t.Fatal(err)
		}
		want.A = 255
		v, n := numbers(t, e.attr["d"])
		for k := range n {
			b := v[5*k:]
			x, y := int(b[0]+b[2]/2), int(b[1]+b[3]/2)
			if id == "ground" {
				x, y = 3, 3
			} else if b[2] < 3 || b[3] < 2.9 {
				continue // no pixel lies wholly inside
			} else if strings.HasPrefix(id, "bodies") {
				y = int(b[1] + 2) // above the torn marks
			}
			looked++
			if got := img.NRGBAAt(x, y); got != want {
				t.Fatalf("%s, box %d: (%d,%d) is %v, want %v", id, k, x, y, got, want)
			}
		}
	}
	if looked < 500 {
		t.Errorf("%d boxes were looked at", looked)
	}
}

// User text never becomes markup, in either direction of writing.
func TestChartHostileText(t *testing.T) {
	s := chartSettings(t, image.Pt(1280, 720), 2, 3)
	const evil = `"/><script>alert('1')</script>&amp;]]>`
	const hebrew = "שלום \u202e<b>"
	s.Title, s.Captures[0].Name, s.Captures[0].Detail, s.Captures[1].Name = evil+strings.Repeat("x", 300), evil, "<i>&", hebrew
	c := newChart(t, s)
	svg, err := c.SVG()
	if err != nil {
		t.Fatal(err)
	}
	found := map[string]int{}
	for _, e := range parseSVG(t, svg) {
		switch e.name {
		case "svg", "title", "desc", "path", "text":
		default:
			t.Errorf("an element <%s>", e.name)
		}
		found[e.text]++
	}
	if found[evil] != 2 || found[hebrew] != 2 { // legend and lane
		t.Errorf("names: %v", found)
	}
	if w := c.Warnings(); len(w) != 1 || !strings.HasPrefix(w[0], "title shortened to ") {
		t.Errorf("warnings %q", w)
	}
	if _, err := c.PNG(); err == nil || !strings.Contains(err.Error(), "U+05E9") {
		t.Errorf("a picture of glyphs that no font has: %v", err)
	}
}

func TestChartErrors(t *testing.T) {
	for name, spoil := range map[string]func(*ChartSettings){
		"no captures":   func(s *ChartSettings) { s.Captures = nil },
		"five captures": func(s *ChartSettings) { s.Captures = make([]Capture, 5) },
		"no length":     func(s *ChartSettings) { s.Length = 0 },
		"no rate":       func(s *ChartSettings) { s.Rate = pacing.Rate{} },
		"tiny":          func(s *ChartSettings) { s.Size = image.Pt(20, 20) },
		"huge":          func(s *ChartSettings) { s.Size.X = 1 << 20 },
		"window":        func(s *ChartSettings) { s.RateWindow = -1 },
		"axis":          func(s *ChartSettings) { s.RateAxis = Axis{50, 40} },
		"style":         func(s *ChartSettings) { s.Captures[0].Style = 2 },
	} {
		s := chartSettings(t, image.Pt(640, 360), 2, 3)
		spoil(&s)
		if _, err := NewChart(s); err == nil || !strings.HasPrefix(err.Error(), "deck: ") {
			t.Errorf("%s: %v", name, err)
		}
	}
	// Captures of which nothing is known leave their lane empty.
	s := chartSettings(t, image.Pt(640, 360), 2, 3)
	s.Captures[1].Trace = nil
	svg, err := newChart(t, s).SVG()
	if err != nil || strings.Contains(string(svg), `id="rate-2"`) || strings.Contains(string(svg), `id="caps-2"`) {
		t.Errorf("a capture without a trace: %v", err)
	}
}

// Charts of all sizes keep apart what they show and stay inside their picture.
func TestChartArrangement(t *testing.T) {
	for _, size := range append([]image.Point{{320, 180}, {96, 96}, {1024, 256}}, goldenSizes...) {
		for n := 1; n <= layout.MaxCaptures; n++ {
			s := chartSettings(t, size, max(n, layout.MinCaptures), 3)
			s.Captures = s.Captures[:n]
			c := newChart(t, s)
			page := image.Rectangle{Max: size}
			last := c.rate
			if size.X > 96 && size.Y >= 180 && (c.rate.Dy() < size.Y/8 || c.rate.Dx() < size.X/2) {
				t.Errorf("%v, %d captures: the line has %v", size, n, c.rate)
			}
			if size.Y < 180 || size.X < 180 {
				continue // must not fail, and cannot look well
			}
			for i, l := range c.lanes {
				if !l.area.In(page) || l.area.Min.Y <= last.Max.Y || l.area.Min.X != c.rate.Min.X || l.area.Max.X != c.rate.Max.X {
					t.Errorf("%v, %d captures: lane %d is %v, after %v", size, n, i+1, l.area, last)
				}
				last = l.area
			}
		}
	}
}

// goldenPicture compares an RGB picture with testdata/NAME.png.
func goldenPicture(t *testing.T, name string, got *image.NRGBA) {
	t.Helper()
	path := filepath.Join("testdata", name+".png")
	if *update {
		writePNG(t, path, got)
		return
	}
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	want, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	off, worst := 0, 0
	if want.Bounds() == got.Rect {
		for y := range got.Rect.Dy() {
			for x := range got.Rect.Dx() {
				a := got.NRGBAAt(x, y)
				b := color.NRGBAModel.Convert(want.At(x, y)).(color.NRGBA)
				d := max(abs(int(a.R)-int(b.R)), abs(int(a.G)-int(b.G)), abs(int(a.B)-int(b.B)))
				worst = max(worst, d)
				if d > tolerance {
					off++
				}
			}
		}
		if off == 0 {
			return
		}
	}
	writePNG(t, filepath.Join("testdata", name+".got.png"), got)
	t.Errorf("%d pixels of %v are off by up to %d; see testdata/%s.got.png (go test ./render/deck -update accepts)", off, got.Rect, worst, name)
}

func TestChartGoldens(t *testing.T) {
	for _, g := range []struct {
		name     string
		size     image.Point
		captures int
		secs     int
	}{{"chart-wide", image.Pt(640, 360), 3, 12}, {"chart-tall", image.Pt(360, 640), 2, 3}, {"chart-long", image.Pt(640, 360), 3, 120}} {
		img, err := newChart(t, chartSettings(t, g.size, g.captures, g.secs)).Image()
		if err != nil {
			t.Fatal(err)
		}
		goldenPicture(t, g.name, img)
	}
}
