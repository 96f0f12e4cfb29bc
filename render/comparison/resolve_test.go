package comparison

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"fairframe/render/pacing"
)

func TestParseEveryKey(t *testing.T) {
	f := parse(t, rich)
	path := filepath.FromSlash
	if f.Title != "2024" {
		t.Errorf("title %q", f.Title)
	}
	if want := (Output{Folder: path("reviews/clips/here"), Size: image.Pt(1080, 1920), Rate: ntsc60, Delivery: DeliveryLossless}); !reflect.DeepEqual(f.Output, want) {
		t.Errorf("output %+v, want %+v", f.Output, want)
	}
	if want := (Fonts{path("reviews/fonts/a.ttf"), path("reviews/fonts/b.ttf"), "fonts/a.ttf", "fonts/b.ttf"}); f.Fonts != want {
		t.Errorf("fonts %+v, want %+v", f.Fonts, want)
	}
	for i, want := range []Capture{
		{Key: "alder", Name: "7", Detail: "60 Hz: quality", Raster: image.Pt(1408, 792), Pacing: Source{File: path("reviews/a.csv"), file: "a.csv"}},
		{Key: "birch_2", Name: "birch_2", Pacing: Source{File: path("reviews/b.txt"), file: "b.txt"}},
		{Key: "cedar.x", Name: "cedar.x", Pacing: Source{File: path("reviews/c.txt"), file: "c.txt",
			Format: pacing.Format{Column: "t", Means: pacing.TimeStamp, Unit: pacing.Microseconds, Starts: -1500 * time.Millisecond}}},
		{Key: "fir", Name: "fir", Pacing: Source{File: path("reviews/d.txt"), file: "d.txt",
			Format: pacing.Format{Column: "new", Means: pacing.NewFrame, Starts: 1500 * time.Millisecond}}},
		{Key: "elm", Name: "elm"},
	} {
		want.video = string("abcde"[i]) + ".mkv"
		want.Video = filepath.Join("reviews", want.video)
		if !reflect.DeepEqual(f.Captures[i], want) {
			t.Errorf("capture %d is %+v, want %+v", i, f.Captures[i], want)
		}
		if want.Pacing.Given() != (want.Key != "elm") {
			t.Errorf("%s: pacing given: %v", want.Key, want.Pacing.Given())
		}
	}

	half, one := Ratio{Num: 1, Den: 2}, Ratio{Num: 1, Den: 1}
	middle := Point{half, half}
	near := Window{Center: middle, Magnify: Ratio{Num: 3, Den: 2}, Kernel: KernelNearest} // as under defaults
	over := Deck{Place: DeckOver, RateAxis: Axis{0, 130}, TimeAxis: Axis{0, 33.4}, RateWindow: 500 * time.Millisecond, TreadSpan: 2 * time.Second}
	none, tabs := over, over
	none.Place, tabs.Tabs = DeckNone, true
	for i, want := range []Scene{
		{ID: "1", Captures: []string{"alder", "birch_2"}, Start: map[string]Time{"alder": timeOf(t, "1s"), "birch_2": timeOf(t, "f12")},
			Length: ntsc60.TimeOf(480), Window: map[string]Window{"alder": near, "birch_2": near}, Deck: over, Audio: AudioNone, Line: 20},
		{ID: "all", Captures: []string{"alder", "cedar.x", "fir"},
			Start:  map[string]Time{"alder": timeOf(t, "00:01:30;15"), "cedar.x": timeOf(t, "00:01:30;15"), "fir": timeOf(t, "00:01:30;15")},
			Length: ntsc60.TimeOf(510), Deck: none, Caption: "Lake", Audio: "fir", Summary: 2500 * time.Millisecond, Line: 21,
			Window: map[string]Window{
				"alder":   {Whole: true, Kernel: KernelNearest},
				"cedar.x": {Center: Point{Ratio{Num: 1, Den: 3}, half}, Magnify: Ratio{Num: 3, Den: 2}, Kernel: KernelNearest},
				"fir":     {Center: middle, Magnify: Ratio{Num: 3, Den: 2}, Kernel: KernelNearest},
			}},
		{ID: "whole_picture", Captures: []string{"alder", "birch_2"}, Start: map[string]Time{"alder": timeOf(t, "1m30s"), "birch_2": timeOf(t, "1m30s")},
			Length: ntsc60.TimeOf(480), Deck: tabs, Audio: AudioNone, Line: 30,
			Window: map[string]Window{"alder": {Whole: true, Kernel: KernelNearest}, "birch_2": {Whole: true, Kernel: KernelNearest}}},
		{ID: "elm", Captures: []string{"alder", "elm"}, Start: map[string]Time{"alder": timeOf(t, "1s"), "elm": timeOf(t, "2s")},
			Length: ntsc60.TimeOf(480), Deck: none, Audio: AudioNone, Line: 34,
			Window: map[string]Window{"alder": near, "elm": {Center: Point{Ratio{Num: 0, Den: 1}, one}, Magnify: Ratio{Num: 3, Den: 2}, Kernel: KernelNearest}}},
	} {
		want.View = ViewColumns
		if !reflect.DeepEqual(f.Scenes[i], want) {
			t.Errorf("scene %d\n got %+v\nwant %+v", i, f.Scenes[i], want)
		}
	}
}

// short is a comparison file with room for one scene's keys.
const short = `
captures:
  alder: {video: a.mkv, pacing: a.csv}
  birch: {video: b.mkv, pacing: b.csv}
  cedar: {video: c.mkv, pacing: c.csv}
%s
scenes:
  - {id: shore, captures: [birch, alder]%s}
`

func sceneOf(t *testing.T, defaults, keys string) Scene {
	t.Helper()
	return parse(t, fmt.Sprintf(short, defaults, keys)).Scenes[0]
}

// One fault is a word, as ever; several are a list, whose order says nothing.
func TestTolerate(t *testing.T) {
	for _, c := range []struct {
		defaults, keys string
		want           Faults
	}{
		{"", "", nil},
		{"", ", tolerate: none", nil},
		{"", ", tolerate: gaps", []string{TolerateGaps}},
		{"", ", tolerate: [gaps]", []string{TolerateGaps}},
		{"", ", tolerate: [gaps, decode-errors]", []string{TolerateDecodeErrors, TolerateGaps}},
		{"defaults: {tolerate: [gaps, decode-errors]}", "", []string{TolerateDecodeErrors, TolerateGaps}},
		{"defaults: {tolerate: [gaps, decode-errors]}", ", tolerate: none", nil},
		{"defaults: {tolerate: gaps}", ", tolerate: decode-errors", []string{TolerateDecodeErrors}},
	} {
		s := sceneOf(t, c.defaults, ", start: 3s, length: 1s"+c.keys)
		if !reflect.DeepEqual(s.Tolerate, c.want) || s.Tolerates(TolerateGaps) != slices.Contains(c.want, TolerateGaps) {
			t.Errorf("%s %s: %q, want %q", c.defaults, c.keys, s.Tolerate, c.want)
		}
	}
}

func TestDefaults(t *testing.T) {
	for _, c := range []struct {
		name, defaults, keys string
		alder, birch         string // starts
	}{
		{"one for all", "", ", start: 3s, length: 1s", "3s", "3s"},
		{"one for each", "", ", start: {birch: 1s, alder: 2s}, length: 1s", "2s", "1s"},
		{"from defaults", "defaults: {start: 4s, length: 1s}", "", "4s", "4s"},
		{"scene before defaults", "defaults: {start: 4s, length: 2s}", ", start: 3s, length: 1s", "3s", "3s"},
		{"one from defaults", "defaults: {start: {alder: 4s, birch: 5s, cedar: 6s}}", ", start: {birch: 1s}, length: 1s", "4s", "1s"},
		{"the rest from defaults", "defaults: {start: 4s}", ", start: {birch: 1s}, length: 1s", "4s", "1s"},
		{"all before each", "defaults: {start: {alder: 4s, birch: 5s}}", ", start: 3s, length: 1s", "3s", "3s"},
	} {
		s := sceneOf(t, c.defaults, c.keys)
		want := map[string]Time{"alder": timeOf(t, c.alder), "birch": timeOf(t, c.birch)}
		if !maps.Equal(s.Start, want) {
			t.Errorf("%s: starts %v, want %v", c.name, s.Start, want)
		}
		if want := time.Second; c.name != "from defaults" && s.Length != want {
			t.Errorf("%s: length %v, want %v", c.name, s.Length, want)
		}
	}
	const rest = ", start: 0s, length: 1s"
	for _, c := range []struct {
		defaults, keys string
		want           time.Duration
	}{{"", "", 0}, {"", ", summary: 4s", 4 * time.Second}, {"defaults: {summary: 4s}", "", 4 * time.Second}, {"defaults: {summary: 4s}", ", summary: 500ms", 500 * time.Millisecond}, {"defaults: {summary: 4s}", ", summary: 0s", 0}} {
		if s := sceneOf(t, c.defaults, rest+c.keys); s.Summary != c.want {
			t.Errorf("%s%s: summary %v, want %v", c.defaults, c.keys, s.Summary, c.want)
		}
	}
	if s := sceneOf(t, "", rest); s.Audio != "birch" || !s.Deck.Tabs || s.Caption != "" {
		t.Errorf("by default: audio %q, tabs %v, caption %q; want the first capture shown, tabs, no caption", s.Audio, s.Deck.Tabs, s.Caption)
	}
	for _, c := range []struct {
		defaults, keys string
		want           Deck
	}{
		{"deck: {place: none}", "", Deck{Place: DeckNone}},
		{"deck: {place: none, tabs: true}", "", Deck{Place: DeckNone, Tabs: true}},
		{"deck: {place: none}", ", deck: {place: over}", Deck{Place: DeckOver, Tabs: true}},
		{"deck: {tabs: false}", ", deck: {place: over}", Deck{Place: DeckOver}},
	} {
		c.want.RateWindow, c.want.TreadSpan = time.Second, 1500*time.Millisecond
		if s := sceneOf(t, "defaults: {"+c.defaults+"}", rest+c.keys); s.Deck != c.want {
			t.Errorf("%s%s: %+v, want %+v", c.defaults, c.keys, s.Deck, c.want)
		}
	}
}

// A summary needs pacing logs, with a deck or without.
func TestSummaryNeedsLogs(t *testing.T) {
	text := strings.Replace(fmt.Sprintf(short, "", ", start: 0s, length: 1s, deck: {place: none}, summary: 4s"), ", pacing: a.csv", "", 1)
	_, err := Parse("c.yaml", []byte(text))
	const want = `c.yaml:3:3: captures.alder: no pacing, which the summary of scene "shore" needs -> add pacing: with the path of a pacing log or with measure, or remove summary:`
	if err == nil || told(err) != want {
		t.Errorf("%v, want %s", err, want)
	}
	if _, err := Parse("c.yaml", []byte(strings.Replace(text, ", summary: 4s", "", 1))); err != nil {
		t.Error(err)
	}
}

// A window is laid over the one under defaults, key by key.
func TestWindowLayers(t *testing.T) {
	middle := Point{Ratio{Num: 1, Den: 2}, Ratio{Num: 1, Den: 2}}
	plain := Window{Center: middle, Magnify: Ratio{Num: 1, Den: 1}, Kernel: KernelLanczos}
	triple := Window{Center: middle, Magnify: Ratio{Num: 3, Den: 1}, Kernel: KernelNearest}
	corner := Window{Center: Point{Ratio{Num: 0, Den: 1}, Ratio{Num: 0, Den: 1}}, Magnify: Ratio{Num: 3, Den: 1}, Kernel: KernelNearest}
	whole := Window{Whole: true, Kernel: KernelLanczos}
	for _, c := range []struct {
		defaults, scene string
		alder, birch    Window
	}{
		{"", "", plain, plain},
		{"", "whole", whole, whole},
		{"", "{kernel: nearest, magnify: 3}", triple, triple},
		{"{kernel: nearest, magnify: 3}", "", triple, triple},
		{"{kernel: nearest, magnify: 3}", "{center: [0, 0]}", corner, corner},
		{"{kernel: nearest, magnify: 3}", "{alder: {center: [0, 0]}}", corner, triple},
		{"{kernel: nearest, magnify: 3}", "{alder: {center: [0, 0]}, birch: whole}", corner, Window{Whole: true, Kernel: KernelNearest}},
		{"{alder: whole, cedar: {magnify: 2}}", "", whole, plain},
		{"whole", "{alder: {kernel: nearest, magnify: 3}}", triple, whole},
		{"whole", "{magnify: 1}", plain, plain},
	} {
		defaults, keys := "", ", start: 0s, length: 1s"
		if c.defaults != "" {
			defaults = "defaults: {window: " + c.defaults + "}"
		}
		if c.scene != "" {
			keys += ", window: " + c.scene
		}
		s := sceneOf(t, defaults, keys)
		if !reflect.DeepEqual(s.Window["alder"], c.alder) || !reflect.DeepEqual(s.Window["birch"], c.birch) || len(s.Window) != 2 {
			t.Errorf("defaults %q, scene %q: %+v", c.defaults, c.scene, s.Window)
		}
	}
}

// A length in frames of the output has that many frames.
func TestLengthInFrames(t *testing.T) {
	for _, rate := range []string{"60", "60000/1001", "30", "24000/1001", "50", "240"} {
		for _, n := range []int64{1, 2, 3, 7, 480, 86399} {
			f := parse(t, fmt.Sprintf(short, "output: {rate: "+rate+"}", fmt.Sprintf(", start: 0s, length: f%d", n)))
			if got := f.Output.Rate.FramesIn(f.Scenes[0].Length); got != n {
				t.Errorf("length f%d at %s: %v, which is %d frames", n, rate, f.Scenes[0].Length, got)
			}
		}
	}
}

func TestPaths(t *testing.T) {
	abs, err := filepath.Abs("elsewhere")
	if err != nil {
		t.Fatal(err)
	}
	text := strings.NewReplacer("a.mkv", "'"+filepath.ToSlash(abs)+"/a.mkv'", "b.csv", "../logs/b.csv", "b.mkv", "'-ä %d: b''.mkv'").Replace(fmt.Sprintf(short, "", ", start: 0s, length: 1s"))
	f := parse(t, text)
	for got, want := range map[string]string{
		f.Dir:                     "reviews",
		f.Captures[0].Video:       filepath.Join(abs, "a.mkv"),
		f.Captures[1].Video:       filepath.Join("reviews", "-ä %d: b'.mkv"),
		f.Captures[1].Pacing.File: filepath.Join("logs", "b.csv"),
		f.Output.Folder:           filepath.Join("reviews", "out"),
	} {
		if got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
	f, err = Parse("c.yaml", []byte(fmt.Sprintf(short, "", ", start: 0s, length: 1s")))
	if err != nil || f.Dir != "." || f.Captures[0].Video != "a.mkv" {
		t.Errorf("in the present folder: %q %q, %v", f.Dir, f.Captures[0].Video, err)
	}
}

func TestFileScene(t *testing.T) {
	f := parse(t, rich)
	s, err := f.Scene("all")
	if err != nil || s != &f.Scenes[1] {
		t.Errorf("scene all: %v, %v", s, err)
	}
	for id, want := range map[string]string{
		"al":    `did you mean "all"? scenes here: 1, all, whole_picture, elm`,
		"ridge": "scenes here: 1, all, whole_picture, elm",
		"":      "scenes here: 1, all, whole_picture, elm",
	} {
		_, err := f.Scene(id)
		var e *Error
		if !errors.As(err, &e) || e.Error() != f.Path+": no scene "+quote(id) || e.Hint != want {
			t.Errorf("scene %q: %v -> %s, want -> %s", id, err, e.Hint, want)
		}
	}
	if c, ok := f.Capture("fir"); !ok || c != &f.Captures[3] {
		t.Errorf("capture fir: %v, %v", c, ok)
	}
	if c, ok := f.Capture("all"); ok {
		t.Errorf("capture all: %v", c)
	}
}

func TestCanonical(t *testing.T) {
	base := fmt.Sprintf(short, "", ", start: 1s, length: 2s")
	told := map[string]string{}
	of := func(name, text string) string {
		f, err := Parse(name, []byte(text))
		if err != nil {
			t.Fatal(err)
		}
		s, err := f.Scene("shore")
		if err != nil {
			t.Fatal(err)
		}
		canonical := string(f.Canonical(s))
		// What Canonical tells apart has settings that differ.
		settings := fmt.Sprint(f.Settings(s))
		if other, twice := told[settings]; twice && other != canonical {
			t.Errorf("the same settings, but\n%s\n%s", canonical, other)
		}
		told[settings] = canonical
		return canonical
	}
	want := of("c.yaml", base)
	for _, c := range []struct{ name, old, new string }{
		{"title", "\ncaptures:", "\ntitle: x\ncaptures:"},
		{"folder", "\ncaptures:", "\noutput: {folder: x}\ncaptures:"},
		{"comment and lines", "scenes:", "# x\n\nscenes:"},
		{"defaults written out", "length: 2s", "length: 2000ms, deck: {place: below, tabs: true}, audio: birch"},
		{"from defaults", "scenes:", "defaults: {caption: '', view: auto}\nscenes:"},
		{"another scene", "scenes:", "scenes:\n  - {id: a, captures: [alder, cedar], start: 0s, length: 1s}"},
		{"another capture", "c.mkv", "d.mkv"},
		{"same time", "start: 1s", "start: 00:00:01.000"},
	} {
		if got := of("c.yaml", strings.Replace(base, c.old, c.new, 1)); got != want {
			t.Errorf("%s changes it:\n%s\n%s", c.name, want, got)
		}
	}
	if got := of(filepath.FromSlash("some/where/else.yaml"), base); got != want {
		t.Errorf("the folder changes it:\n%s\n%s", want, got)
	}
	seen := map[string]string{want: "nothing"}
	for _, c := range []struct{ name, old, new string }{
		{"size", "\ncaptures:", "\noutput: {size: 1280x720}\ncaptures:"},
		{"rate", "\ncaptures:", "\noutput: {rate: 30}\ncaptures:"},
		{"delivery", "\ncaptures:", "\noutput: {delivery: lossless}\ncaptures:"},
		{"text", "\ncaptures:", "\nfonts: {text: a.ttf}\ncaptures:"},
		{"bold", "\ncaptures:", "\nfonts: {bold: a.ttf}\ncaptures:"},
		{"name", "a.mkv", "a.mkv, name: Alder"},
		{"detail", "a.mkv", "a.mkv, detail: Alder"},
		{"raster", "a.mkv", "a.mkv, raster: 1408x792"},
		{"video", "a.mkv", "aa.mkv"},
		{"log", "a.csv", "aa.csv"},
		{"column", "pacing: a.csv", "pacing: {file: a.csv, column: t, means: time-stamp}"},
		{"means", "pacing: a.csv", "pacing: {file: a.csv, column: t, means: frame-time}"},
		{"unit", "pacing: a.csv", "pacing: {file: a.csv, column: t, means: time-stamp, unit: ms}"},
		{"starts", "pacing: a.csv", "pacing: {file: a.csv, starts: 1s}"},
		{"id", "id: shore", "id: shore"},
		{"order", "[birch, alder]", "[alder, birch]"},
		{"captures", "[birch, alder]", "[birch, cedar]"},
		{"start", "start: 1s", "start: 1001ms"},
		{"start in frames", "start: 1s", "start: f60"},
		{"start in timecode", "start: 1s", "start: 00:00:01:00"},
		{"start of one", "start: 1s", "start: {alder: 1s, birch: 2s}"},
		{"length", "length: 2s", "length: 3s"},
		{"center", "length: 2s", "length: 2s, window: {center: [0.4, 0.5]}"},
		{"magnify", "length: 2s", "length: 2s, window: {magnify: 2}"},
		{"kernel", "length: 2s", "length: 2s, window: {kernel: nearest}"},
		{"whole", "length: 2s", "length: 2s, window: whole"},
		{"place", "length: 2s", "length: 2s, deck: {place: over}"},
		{"tabs", "length: 2s", "length: 2s, deck: {tabs: false}"},
		{"rate axis", "length: 2s", "length: 2s, deck: {rate-axis: [0, 60]}"},
		{"time axis", "length: 2s", "length: 2s, deck: {time-axis: [0, 70]}"},
		{"rate window", "length: 2s", "length: 2s, deck: {rate-window: 2s}"},
		{"tread span", "length: 2s", "length: 2s, deck: {tread-span: 2s}"},
		{"caption", "length: 2s", "length: 2s, caption: x"},
		{"audio", "length: 2s", "length: 2s, audio: none"},
		{"time code", "length: 2s", "length: 2s, timecode: alder"},
		{"summary", "length: 2s", "length: 2s, summary: 4s"},
		{"summary of another length", "length: 2s", "length: 2s, summary: 5s"},
	} {
		got := of("c.yaml", strings.Replace(base, c.old, c.new, 1))
		if other, twice := seen[got]; twice && c.name != "id" {
			t.Errorf("%s changes as little as %s: %s", c.name, other, got)
		}
		seen[got] = c.name
	}
}

func TestRead(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "c.yaml")
	if err := os.WriteFile(name, []byte(designed), 0o644); err != nil {
		t.Fatal(err)
	}
	f, err := Read(name)
	if err != nil || f.Captures[0].Video != filepath.Join(dir, "captures", "alder.mkv") {
		t.Errorf("%+v, %v", f, err)
	}
	missing := filepath.Join(dir, "d.yaml")
	if _, err = Read(missing); err == nil || !strings.HasPrefix(told(err), missing+": cannot be read: ") {
		t.Errorf("missing file: %v", err)
	}
	if _, err = Read(dir); err == nil || !strings.HasPrefix(told(err), dir+": cannot be read: ") {
		t.Errorf("a folder: %v", err)
	}
	if err := os.WriteFile(name, bytes.Repeat([]byte("#\n"), maxSize/2+1), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err = Read(name); err == nil || told(err) != name+": more than 1024 KiB long: this is no comparison file" {
		t.Errorf("a long file: %v", err)
	}
}

// Files that are no comparison at all, or hostile.
func TestParseStrangeFiles(t *testing.T) {
	const start = " -> `fairframe demo DIR` writes one to start from"
	bomb := "a: &a [x, x]\n"
	for c := 'b'; c < 'l'; c++ {
		bomb += fmt.Sprintf("%c: &%c [*%c, *%c]\n", c, c, c-1, c-1)
	}
	for _, c := range []struct{ name, text, want string }{
		{"empty", "", "c.yaml:1:1: the file holds no comparison" + start},
		{"comment", "# nothing yet\n", "c.yaml:1:1: the file holds no comparison" + start},
		{"marker", "---\n", "c.yaml:1:1: the file holds no comparison" + start},
		{"text", "hello", `c.yaml:1:1: expected the keys captures and scenes, found "hello"` + start},
		{"list", "- a\n", `c.yaml:1:1: expected the keys captures and scenes, found a list` + start},
		{"UTF-16", "\xff\xfet\x00", "c.yaml:1:1: the text is not UTF-8 -> save the file as UTF-8, or name the comparison file, if this is another one"},
		{"UTF-16 without a mark", "t\x00i\x00", "c.yaml:1:1: the text is not UTF-8 -> save the file as UTF-8, or name the comparison file, if this is another one"},
		{"Latin-1", "title: x\n# caf\xe9", "c.yaml:2:1: the text is not UTF-8 -> save the file as UTF-8, or name the comparison file, if this is another one"},
		{"control character", "title: \x01", "c.yaml:1:1: not YAML: control characters are not allowed"},
		{"deep", strings.Repeat("[", 5000) + strings.Repeat("]", 5000), "c.yaml:1:21: nested more than 20 deep"},
		{"too deep to parse", "title: x\nscenes: " + strings.Repeat("[", 20000), "c.yaml:2:1: not YAML: exceeded max depth of 10000"},
		{"many captures", "scenes: [{}]\ncaptures:\n" + strings.Repeat("  a: {}\n", 5000), "c.yaml:1:10: scenes[1]: missing key \"id\" -> id: name of the scene and of its clip's file\nc.yaml:3:3: captures: expected 1 to 100, found 5000"},
		{"unknown alias", "title: *wow\n", "c.yaml:1:8: aliases such as *wow are not used here -> text that begins with * needs quotes"},
	} {
		_, err := Parse("c.yaml", []byte(c.text))
		if err == nil || told(err) != c.want {
			t.Errorf("%s:\n got %v\nwant %s", c.name, told(err), c.want)
		}
	}
	_, err := Parse("c.yaml", []byte(bomb))
	var list Errors
	if !errors.As(err, &list) || len(list) != maxErrors+1 || list[0].Msg != "anchors such as &a are not used here" {
		t.Fatalf("bomb: %v", err)
	}
	if last := list[maxErrors].Error(); last != "c.yaml: more mistakes follow; these are the first 10" {
		t.Errorf("the last error is %s", last)
	}
	var first *Error
	if !errors.As(err, &first) || first != list[0] || strings.Count(err.Error(), "\n") != maxErrors {
		t.Errorf("as one error: %v", first)
	}
}

// The words of a pacing log's format are those of package pacing.
func TestWordsOfPacing(t *testing.T) {
	for _, w := range words(tagOf[logFormat]("Means")) {
		if _, err := pacing.ParseMeaning(w); err != nil {
			t.Error(err)
		}
	}
	for _, w := range words(tagOf[logFormat]("Unit")) {
		if _, err := pacing.ParseUnit(w); err != nil {
			t.Error(err)
		}
	}
}

func TestMeasuredPacing(t *testing.T) {
	// One video under two keys is measured once.
	parse(t, strings.Replace(designed, "    pacing: captures/alder.csv\n", "    pacing: measure\n  cedar: {video: captures/alder.mkv, pacing: measure}\n", 1))
	for text, want := range map[string]Source{
		"measure":                     {Measure: true},
		"{region: [0, 8, 1920, 900]}": {Measure: true, Region: image.Rect(0, 8, 1920, 908)},
		"{ignore: [[1, 2, 3, 4], [5, 6, 7, 8]]}": {Measure: true,
			Ignore: []image.Rectangle{image.Rect(1, 2, 4, 6), image.Rect(5, 6, 12, 14)}},
		"{measure: true, tears: none}": {Measure: true, Tears: "none"},
		"{tears: search}":              {Measure: true, Tears: "search"},
	} {
		f := parse(t, strings.Replace(designed, "pacing: captures/alder.csv", "pacing: "+text, 1))
		want.Log, want.log = filepath.Join(f.Dir, "captures", "alder.pacing.csv"), "captures/alder.pacing.csv"
		if got := f.Captures[0].Pacing; !reflect.DeepEqual(got, want) || !got.Given() {
			t.Errorf("%s: %+v, want %+v", text, got, want)
		}
		plain := parse(t, designed)
		if bytes.Equal(f.Canonical(&f.Scenes[0]), plain.Canonical(&plain.Scenes[0])) {
			t.Errorf("%s: the fingerprint does not tell it from a log", text)
		}
	}
}

// Captures that differ only in their ending keep a log each; one that is measured
// twice alike keeps one.
func TestMeasuredLogs(t *testing.T) {
	f := parse(t, `captures:
  a: {video: clips/ridge.mkv, pacing: measure}
  b: {video: clips/ridge.mp4, pacing: measure}
  c: {video: clips/ridge.mp4, pacing: measure}
  d: {video: clips/ridge.mov, pacing: {tears: none}}
  e: {video: clips/wood.mkv, pacing: clips/wood.csv}
scenes: [{id: s, captures: [a, b], start: 0s, length: 1s}]
`)
	want := []string{"clips/ridge.pacing.csv", "clips/ridge.mp4.pacing.csv", "clips/ridge.mp4.pacing.csv", "clips/ridge.mov.pacing.csv", "clips/wood.csv"}
	for i, c := range f.Captures {
		if _, log := c.Written(); log != want[i] {
			t.Errorf("capture %s: %s, want %s", c.Key, log, want[i])
		}
		path := c.Pacing.Log
		if !c.Pacing.Measure {
			path = c.Pacing.File
		}
		if filepath.ToSlash(path) != filepath.ToSlash(f.Dir)+"/"+want[i] {
			t.Errorf("capture %s: kept at %s", c.Key, path)
		}
	}
}
