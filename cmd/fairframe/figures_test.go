package main

import (
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
)

// figuresFile writes a comparison of three tiny captures, with logs of known
// pacing, into a new folder and goes there.
//
//   - alder runs at 60 Hz: 60 fps for 1 s, 30 fps for 1 s;
//   - birch runs at 60 Hz, logged as new-frame flags: 3:2 pulldown of 24 fps;
//   - cedar runs at 60000/1001 Hz: one frame a refresh, every 24th takes five,
//     and every tenth is torn.
//
// Names are hostile.
func figuresFile(t *testing.T) {
	t.Helper()
	t.Chdir(t.TempDir())
	for name, rate := range map[string]string{"a.mkv": "60", "c.mkv": "60000/1001"} {
		cmd := exec.Command("ffmpeg", "-v", "error", "-f", "lavfi", "-i", "testsrc2=size=64x36:rate="+rate, "-frames:v", "150", "-c:v", "ffv1", name)
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("ffmpeg: %v\n%s", err, out)
		}
	}
	var alder, birch, cedar strings.Builder
	alder.WriteString("time_s,frame_time_ms,tear\n")
	for n := 0; n < 120; {
		k := 1
		if n >= 60 {
			k = 2
		}
		fmt.Fprintf(&alder, "%.9f,%.6f,0\n", float64(n)/60, float64(k)*1000/60)
		n += k
	}
	birch.WriteString("new\n")
	for n := range 150 {
		flag := 0
		if m := n % 5; m == 0 || m == 3 {
			flag = 1
		}
		fmt.Fprintln(&birch, flag)
	}
	cedar.WriteString("time_s,frame_time_ms,tear\n")
	for n, i := 0, 0; n < 150; i++ {
		k, tear := 1, 0
		if i%24 == 23 {
			k = 6
		}
		if i%10 == 9 {
			tear = 18
		}
		fmt.Fprintf(&cedar, "%.9f,%.6f,%d\n", float64(n)*1001/60000, float64(k)*1001/60, tear)
		n += k
	}
	write(t, "a.csv", alder.String())
	write(t, "b.csv", birch.String())
	write(t, "c.csv", cedar.String())
	write(t, "c.yaml", `output: {size: 320x180}
captures:
  alder: {name: 'Al|der <b>&"x"', raster: 1408x792, detail: '*fast*', video: a.mkv, pacing: a.csv}
  birch: {name: 'Birch, "B"', raster: 1920x1080, video: a.mkv, pacing: {file: b.csv, column: new, means: new-frame}}
  cedar: {name: שלום, video: c.mkv, pacing: c.csv}
scenes:
  - {id: ridge, captures: [alder, birch], start: {alder: 0s, birch: f0}, length: 2s, caption: 'Ridge & "shore" <1>'}
  - {id: pass, captures: [birch, cedar], start: 0s, length: 2s, deck: {place: none}}
`)
}

// figuresOf runs the command, which must succeed and warn of nothing but what is
// told.
func figuresOf(t *testing.T, warnings string, args ...string) string {
	t.Helper()
	var out, errs strings.Builder
	if code := run(t.Context(), append([]string{"figures", "c.yaml"}, args...), &out, &errs); code != exitDone || errs.String() != warnings {
		t.Fatalf("figures %v: exit code %d\n%s", args, code, &errs)
	}
	return out.String()
}

const ratesDiffer = "warning: pass: captures birch and cedar were recorded at 60 and 60000/1001 Hz; their times at refresh multiples are not compared\n"

// TestFiguresGoldens compares all formats with files in testdata/figures.
func TestFiguresGoldens(t *testing.T) {
	golden, err := filepath.Abs(filepath.Join("testdata", "figures"))
	if err != nil {
		t.Fatal(err)
	}
	figuresFile(t)
	for format, name := range map[string]string{"table": "table.txt", "csv": "figures.csv", "json": "figures.json", "markdown": "figures.md"} {
		got := figuresOf(t, ratesDiffer, "--format", format)
		name = filepath.Join(golden, name)
		if *update {
			if err := os.MkdirAll(golden, 0o755); err != nil {
				t.Fatal(err)
			}
			write(t, name, got)
			continue
		}
		want, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if strings.ReplaceAll(string(want), "\r\n", "\n") != got {
			t.Errorf("%s differs from %s; got\n%s", format, name, got)
		}
	}
}

// TestFiguresJSON checks real output against the schema and against figures that
// were worked out by hand.
func TestFiguresJSON(t *testing.T) {
	schema := compiledFiguresSchema(t)
	figuresFile(t)
	text := figuresOf(t, ratesDiffer, "--format", "json")
	if err := validate(schema, text); err != nil {
		t.Errorf("the output does not follow its schema: %v", err)
	}
	for old, new := range map[string]string{
		`"version": 1`:        `"version": 2`,
		`"torn": 0`:           `"torn": "none"`,
		`"kind": "hold"`:      `"kind": "lock"`,
		`"still_s": 0`:        `"still": 0`,
		`"mean_fps": 45,`:     ``,
		`"median_ms": 16.6`:   `"median_ms": -16.6`,
		`"difference": null,`: `"difference": {},`,
	} {
		if !strings.Contains(text, old) {
			t.Fatalf("the output lacks %s", old)
		}
		if validate(schema, strings.Replace(text, old, new, 1)) == nil {
			t.Errorf("the schema accepts %s", new)
		}
	}
	var doc figuresJSON
	if err := json.Unmarshal([]byte(text), &doc); err != nil {
		t.Fatal(err)
	}
	near := func(what string, got *float64, want float64) {
		t.Helper()
		if got == nil || math.Abs(*got-want) > 2e-6 {
			t.Errorf("%s is %v, want %v", what, got, want)
		}
	}
	const refresh = 1000.0 / 60
	a, b := doc.Scenes[0].Captures[0], doc.Scenes[0].Captures[1]
	// 60 frames in the first second and 30 in the next.
	near("alder's mean rate", a.Mean, 45)
	near("alder's slowest 1 %", a.Slow, 30)
	near("alder's mean frame time", a.MeanTime, 2000.0/90)
	near("alder's deviation", a.Deviation, refresh*math.Sqrt(60.0*30)/90) // Bernoulli: sqrt(p(1-p)) refreshes
	near("alder's median", a.Median, refresh)
	near("alder's 95th percentile", a.P95, 2*refresh)
	near("alder's longest", a.Longest, 2*refresh)
	if a.Frames != 90 || len(a.Shares) != 2 || a.Shares[0].Frames != 60 || a.Shares[1].Frames != 30 || a.Shares[0].Part != 0.5 || a.Shares[1].Part != 0.5 {
		t.Errorf("alder: %d frames, %+v", a.Frames, a.Shares)
	}
	if len(a.Spans) != 2 || a.Spans[1].Words != `Al|der <b>&"x" holds 30 fps from 1.00 s to 2.00 s (30 frames of 33.3 ms)` {
		t.Errorf("alder's spans: %+v", a.Spans)
	}
	// 24 fps at 60 Hz: SMPTE RP 197's 3:2, as in testdata/published/08_cadences.csv
	// (mean 41.666666667 ms, population deviation 8.333333333 ms, longest 50 ms).
	near("birch's mean rate", b.Mean, 24)
	near("birch's mean frame time", b.MeanTime, 41.666666667)
	near("birch's deviation", b.Deviation, 8.333333333)
	near("birch's longest", b.Longest, 50)
	near("birch's pixel ratio", b.PixelRatio, 100*(1920.0*1080/(1408*792)-1))
	if b.Shares[0].Part != 0.4 || b.Shares[1].Part != 0.6 {
		t.Errorf("birch: %+v", b.Shares)
	}
	if len(b.Spans) != 1 || b.Spans[0].Kind != "cadence" || fmt.Sprint(b.Spans[0].Multiples) != "[3 2]" {
		t.Errorf("birch's spans: %+v", b.Spans)
	}
	if d := b.Difference; d == nil || d.Against != "alder" || d.Mean != -21 || math.Abs(d.MeanPercent+100*21.0/45) > 1e-6 || d.OffGrid == nil {
		t.Errorf("birch against alder: %+v", d)
	}
	// Cedar: of 29 refreshes, 23 are a frame each and 6 one frame. 2 s hold
	// 119.88 refreshes: hitches begin at refreshes 23, 52, 81 and 110. The measure is
	// birch's, twice its median of 41.67 ms.
	c := doc.Scenes[1].Captures[1]
	near("cedar's median", c.Median, 1001.0/60)
	near("cedar's longest", c.Longest, 6006.0/60)
	if math.Abs(c.HitchTime-250.0/3) > 1e-5 {
		t.Errorf("cedar's measure of hitches: %v", c.HitchTime)
	}
	if len(c.Hitches) != 4 || c.Hitches[1].At != rounded(52*1001.0/60000) || c.Hitches[1].FrameTime != rounded(6006.0/60) {
		t.Errorf("cedar's hitches: %+v", c.Hitches)
	}
	if c.Rate != "60000/1001" || c.Torn != 10 || c.Raster != nil || c.PixelRatio != nil {
		t.Errorf("cedar: %+v", c)
	}
	if d := c.Difference; d == nil || d.OffGrid != nil || len(d.Shares) != 0 {
		t.Errorf("cedar against birch, of another refresh: %+v", d)
	}
}

// TestFiguresCSV reads the table back and compares it with the JSON.
func TestFiguresCSV(t *testing.T) {
	figuresFile(t)
	rows, err := csv.NewReader(strings.NewReader(figuresOf(t, "", "--format", "csv", "--scene", "ridge"))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 3 {
		t.Fatalf("%d rows", len(rows))
	}
	get := func(row []string, column string) string {
		for i, name := range rows[0] {
			if name == column {
				return row[i]
			}
		}
		t.Fatalf("no column %s in %v", column, rows[0])
		return ""
	}
	for column, want := range map[string][2]string{
		"name": {`Al|der <b>&"x"`, `Birch, "B"`}, "mean_fps": {"45", "24"}, "slowest_1_percent_fps": {"30", "20"},
		"share_1_refreshes": {"0.5", "0"}, "share_2_refreshes": {"0.5", "0.4"}, "share_3_refreshes": {"0", "0.6"},
		"change_mean_fps": {"", "-21"}, "pixel_ratio": {"", "+86 %"}, "still_s": {"0", "0"},
	} {
		if got := [2]string{get(rows[1], column), get(rows[2], column)}; got != want {
			t.Errorf("%s: %q, want %q", column, got, want)
		}
	}
}

// TestCSVPaths: every column takes its cells from a key that the JSON document has.
func TestCSVPaths(t *testing.T) {
	for _, c := range csvColumns() {
		at := reflect.TypeFor[captureFiguresJSON]()
		for key := range strings.SplitSeq(c.path, ".") {
			for at.Kind() == reflect.Pointer {
				at = at.Elem()
			}
			if at.Kind() == reflect.Slice {
				at = at.Elem()
				continue
			}
			f, ok := at.FieldByNameFunc(func(name string) bool {
				f, _ := at.FieldByName(name)
				return f.Tag.Get("json") == key
			})
			if ok == (c.text != nil) {
				t.Errorf("column %s: key %q of path %q: %v", c.name, key, c.path, ok)
				break
			}
			at = f.Type
		}
	}
}

// TestFiguresPlot: the files are what their names say, and nothing is
// overwritten that must not be.
func TestFiguresPlot(t *testing.T) {
	figuresFile(t)
	figuresOf(t, "", "--scene", "ridge", "--plot", "ridge.PNG")
	figuresOf(t, ratesDiffer, "--scene", "pass", "--plot", "pass.svg")
	png, err := os.ReadFile("ridge.PNG")
	if err != nil || !strings.HasPrefix(string(png), "\x89PNG\r\n") {
		t.Errorf("ridge.PNG: %v", err)
	}
	svg, err := os.ReadFile("pass.svg")
	if err != nil {
		t.Fatal(err)
	}
	if err := xml.Unmarshal(svg, new(struct{ XMLName xml.Name })); err != nil || !strings.Contains(string(svg), ">שלום</text>") {
		t.Errorf("pass.svg: %v\n%s", err, svg)
	}
	input, err := os.ReadFile("a.csv")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("a.csv", "a.svg"); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args []string
		code int
		want string
	}{
		{[]string{"--plot", "x.svg"}, exitUsage, "error: a plot shows one scene, and c.yaml has 2\nhint: choose one with --scene ID\n"},
		{[]string{"--scene", "ridge", "--plot", "x.jpg"}, exitUsage, "error: a plot is an SVG or PNG picture, \"x.jpg\" ends in neither\nhint: end the name in .svg or .png\n"},
		{[]string{"--scene", "ridge", "--plot", ""}, exitUsage, "error: a plot is an SVG or PNG picture, \"\" ends in neither\nhint: end the name in .svg or .png\n"},
		{[]string{"--scene", "ridge", "--plot", "a.svg"}, exitFailed, "error: the picture a.svg would overwrite an input\nhint: choose another name\n"},
		{[]string{"--scene", "pass", "--plot", "x.png"}, exitFailed, "error: scene pass: deck: chart (\"שלום\"): fonts: no glyph for \"ש\" (U+05E9)\n"},
		{[]string{"--format", "xml"}, exitUsage, "error: unknown format \"xml\"\nhint: the formats are: table, csv, json, markdown\n"},
		{[]string{"--scene", "rigde"}, exitFailed, "error: c.yaml: no scene \"rigde\"\nhint: did you mean \"ridge\"? scenes here: ridge, pass\n"},
	} {
		var out, errs strings.Builder
		if code := run(t.Context(), append([]string{"figures", "c.yaml"}, c.args...), &out, &errs); code != c.code || errs.String() != c.want || out.Len() > 0 {
			t.Errorf("%q: exit code %d\n%s%s", c.args, code, &errs, &out)
		}
	}
	if now, err := os.ReadFile("a.csv"); err != nil || string(now) != string(input) {
		t.Error("an input was overwritten")
	}
	if _, err := os.Stat("x.png"); err == nil {
		t.Error("a failed plot left a file")
	}
}

// TestFiguresWithoutLog: a log that is missing is an error, and so is none at all.
func TestFiguresWithoutLog(t *testing.T) {
	figuresFile(t)
	if err := os.Remove("c.csv"); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ old, want string }{
		{"", "error: scene pass: capture cedar: pacing log cannot be read: no such file or directory\nhint: check the path after pacing:\n"},
		{", pacing: c.csv", "error: scene pass: capture cedar has no pacing, which the figures need\nhint: add pacing: with the path of a pacing log\n"},
	} {
		text, err := os.ReadFile("c.yaml")
		if err != nil {
			t.Fatal(err)
		}
		if c.old != "" {
			write(t, "c.yaml", strings.Replace(string(text), c.old, "", 1))
		}
		var out, errs strings.Builder
		if code := run(t.Context(), []string{"figures", "c.yaml"}, &out, &errs); code != exitFailed || !strings.Contains(errs.String(), c.want) || out.Len() > 0 {
			t.Errorf("exit code %d\n%s%s", code, &errs, &out)
		}
	}
}

// TestFiguresHelp: every figure and every key is explained.
func TestFiguresHelp(t *testing.T) {
	text := helpOf(t, "figures")
	for _, f := range pacingFigures {
		if f.meaning == "" || !strings.Contains(text, "  "+f.label+" ") {
			t.Errorf("%s is not explained", f.label)
		}
	}
	var count func(v any) int
	count = func(v any) int {
		s := v.(map[string]any)
		if items, ok := s["items"]; ok {
			return count(items)
		}
		n := 0
		for key, p := range asMap(s["properties"]) {
			n += 1 + count(p)
			if asMap(p)["description"] == "" || !strings.Contains(text, " "+key) {
				t.Errorf("key %s is not explained", key)
			}
		}
		return n
	}
	var doc any
	if err := json.Unmarshal([]byte(figuresSchema(t)), &doc); err != nil {
		t.Fatal(err)
	}
	if n := count(doc); n < 65 {
		t.Errorf("%d keys were looked at", n)
	}
}

func asMap(v any) map[string]any {
	m, _ := v.(map[string]any)
	return m
}

// TestNoFormula: no text in a CSV is a formula to a spreadsheet. The beginnings are those
// that OWASP lists ("CSV Injection").
func TestNoFormula(t *testing.T) {
	for _, tt := range []struct{ text, cell string }{
		{"Alder", "Alder"}, {"", ""}, {"a=b", "a=b"}, {"'=1", "'=1"}, {`=HYPERLINK("http://x")`, `'=HYPERLINK("http://x")`}, {"+1", "'+1"}, {"-1+1", "'-1+1"}, {"@SUM(1)", "'@SUM(1)"},
		{"\t=1", "'\t=1"}, {"\r=1", "'\r=1"},
	} {
		if got := noFormula(tt.text); got != tt.cell {
			t.Errorf("%q becomes %q, want %q", tt.text, got, tt.cell)
		}
	}
}

// TestVisible: what would steer a terminal is shown instead of done.
func TestVisible(t *testing.T) {
	for _, tt := range []struct{ text, shown string }{
		{"Ägypten 🎮 59.94\t…", "Ägypten 🎮 59.94\t…"}, {"a\x1b[2Jb", `a\x1b[2Jb`}, {"a\u202eb", `a\u202eb`}, {"a\u009b31mb", `a\u009b31mb`}, {"a\nb\rc\x00", `a\nb\rc\x00`}, {"שלום", "שלום"},
	} {
		if got := visible(tt.text); got != tt.shown {
			t.Errorf("%q becomes %q, want %q", tt.text, got, tt.shown)
		}
	}
	var b strings.Builder
	line(&b, "error", "first\n  second\x07\n")
	if want := "error: first\n  second\\a\n"; b.String() != want {
		t.Errorf("%q, want %q", b.String(), want)
	}
}
