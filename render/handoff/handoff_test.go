package handoff

import (
	"encoding/json"
	"fmt"
	"math/big"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"fairframe/render/comparison"
	"fairframe/render/pacing"
	"fairframe/testdata/published"
)

var (
	hz60   = pacing.Rate{Num: 60, Den: 1}
	hz5994 = pacing.Rate{Num: 60000, Den: 1001}
	hz2997 = pacing.Rate{Num: 30000, Den: 1001}
)

// made is a timeline with all that may occur: two captures, one with a time code
// and a rate of its own, speed, a held frame, gaps and text that means something
// to one format or another.
func made(rate pacing.Rate) *Timeline {
	alder := Media{Path: "captures/al der#1.mkv", Rate: hz60, Frames: 600}
	birch := Media{Path: "captures/birch.mov", Rate: hz2997, Frames: 300, First: 107892, Drop: true, Labelled: true}
	return &Timeline{Title: "Kestrel\nPass", Rate: rate, Scenes: []Scene{
		{ID: "ridge", Caption: "Launch --> <b>\r\n001 & more", Frames: 300, Sound: true, Clip: Media{Path: "out/ridge.mp4", Rate: rate, Frames: 300, Drop: dropFrame(rate)},
			Shots: []Shot{
				{Key: "alder", Name: "Al<der> & Co", Capture: alder, Runs: []Run{{At: 0, Frames: 240, From: time.Second}},
					Marks: []Mark{{Span, time.Second, 3 * time.Second, "holds 30 fps", "Alder holds 30 fps --> & <so on>"}, {Hitch, 2 * time.Second, 2*time.Second + 66*time.Millisecond, "hitch", "a hitch"}}},
				{Key: "birch", Name: "Birch", Capture: birch, Runs: []Run{{At: 0, Frames: 60, From: 0}, {At: 60, Frames: 120, From: hz60.TimeOf(60), Speed: new(big.Rat)}, {At: 180, Frames: 120, From: hz60.TimeOf(60), Speed: big.NewRat(1, 2)}},
					Marks: []Mark{{Span, 500 * time.Millisecond, 1500 * time.Millisecond, "varies", "Birch varies"}}},
			}},
		{ID: "shore", Frames: 120, Clip: Media{Path: "out/shore.mp4", Rate: rate, Frames: 120}, Shots: []Shot{
			{Key: "birch", Name: "Birch", Capture: birch, Runs: []Run{{At: 0, Frames: 120, From: 2 * time.Second}}}}},
	}}
}

func written(t testing.TB, line *Timeline, name string) string {
	t.Helper()
	var b strings.Builder
	if err := line.Write(&b, name); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// TestShown: capture time to clip time through speed and a held frame.
func TestShown(t *testing.T) {
	shot := made(hz60).Scenes[0].Shots[1]
	ms := func(n int) time.Duration { return time.Duration(n) * time.Millisecond }
	for _, tt := range []struct {
		from, to time.Duration
		want     string
	}{
		{0, ms(500), "[{0s 500ms}]"},
		{ms(500), ms(1500), "[{500ms 4s}]"}, // 0.5 s, 2 s held, 0.5 s at half speed
		{ms(1500), ms(2000), "[{4s 5s}]"},
		{ms(1000), ms(1001), "[{1s 3.002s}]"},
		{ms(2000), ms(3000), "[]"},
	} {
		if got := fmt.Sprint(shot.Shown(tt.from, tt.to, hz60)); got != tt.want {
			t.Errorf("%v to %v: %s, want %s", tt.from, tt.to, got, tt.want)
		}
	}
}

// otioWalk visits every object of an OpenTimelineIO document.
func otioWalk(v any, visit func(schema string, fields map[string]any)) {
	switch v := v.(type) {
	case map[string]any:
		if s, ok := v["OTIO_SCHEMA"].(string); ok {
			visit(s, v)
		}
		for k, one := range v {
			if k != "metadata" {
				otioWalk(one, visit)
			}
		}
	case []any:
		for _, one := range v {
			otioWalk(one, visit)
		}
	}
}

func parsed(t *testing.T, text string) map[string]any {
	t.Helper()
	var doc map[string]any
	if err := json.Unmarshal([]byte(text), &doc); err != nil {
		t.Fatal(err)
	}
	return doc
}

// TestOTIOSchema compares every object with the fields that OpenTimelineIO's own
// document lists (13_otio_fields.csv), and with the minimal file of the published
// checks, whose objects have the same fields.
func TestOTIOSchema(t *testing.T) {
	fields := map[string][]string{}
	for _, row := range published.Records(t, "13_otio_fields.csv") {
		fields[row[0]] = strings.Fields(row[1])
	}
	seen := map[string]bool{}
	check := func(optional ...string) func(string, map[string]any) {
		return func(schema string, have map[string]any) {
			seen[schema] = true
			want, ok := fields[schema]
			if !ok {
				t.Errorf("no published schema %s", schema)
			}
			if schema == "Stack.1" || schema == "Track.1" {
				want = append(slices.Clone(want), "children")
			}
			for _, k := range want {
				if _, ok := have[k]; !ok {
					t.Errorf("%s lacks %s", schema, k)
				}
			}
			for k := range have {
				if k != "OTIO_SCHEMA" && !slices.Contains(want, k) && !slices.Contains(optional, k) {
					t.Errorf("%s has %s", schema, k)
				}
			}
		}
	}
	minimal, err := os.ReadFile(filepath.Join("..", "..", "testdata", "published", "13_minimal.otio"))
	if err != nil {
		t.Fatal(err)
	}
	otioWalk(parsed(t, string(minimal)), check("color")) // a field that later versions add
	otioWalk(parsed(t, written(t, made(hz60), "a.otio")), check())
	for schema := range fields {
		if !seen[schema] {
			t.Errorf("no %s occurs", schema)
		}
	}
}

func at(v any, path ...any) any {
	for _, p := range path {
		switch p := p.(type) {
		case string:
			v = v.(map[string]any)[p]
		case int:
			v = v.([]any)[p]
		}
	}
	return v
}

// TestOTIO: what stands where, through speed, a held frame and another rate.
func TestOTIO(t *testing.T) {
	text := written(t, made(hz60), "hand/a.otio")
	if !strings.Contains(text, `"rate": 60.0,`) || strings.Contains(text, `\u0026`) {
		t.Error("numbers or text are not written as the reference does")
	}
	doc := parsed(t, text)
	if v := at(doc, "global_start_time", "value"); v != 216000.0 { // as in 13_minimal.otio: one hour at 60
		t.Errorf("it starts at %v", v)
	}
	tracks := at(doc, "tracks", "children").([]any)
	length := func(track any) (sum float64) {
		for _, c := range at(track, "children").([]any) {
			sum += at(c, "source_range", "duration", "value").(float64)
			if at(c, "source_range", "duration", "rate") != 60.0 {
				t.Error("a duration at another rate")
			}
		}
		return sum
	}
	var names []string
	for _, track := range tracks {
		names = append(names, fmt.Sprint(at(track, "name"), " ", at(track, "kind"), " ", length(track)))
	}
	if got := strings.Join(names, ", "); got != "Al<der> & Co Video 420, Birch Video 420, Scenes Video 420, Sound Audio 420" {
		t.Errorf("tracks %s", got)
	}
	birch := at(tracks[1], "children").([]any)
	for i, want := range []struct {
		start   float64
		effect  string
		scalar  any
		markers int
	}{{107892, "", nil, 1}, {107892 + 29, "FreezeFrame.1", 0.0, 1}, {107892 + 29, "LinearTimeWarp.1", 0.5, 1}, {107892 + 59, "", nil, 0}} {
		effects, markers := at(birch[i], "effects").([]any), at(birch[i], "markers").([]any)
		if at(birch[i], "source_range", "start_time", "value") != want.start || len(markers) != want.markers || (len(effects) > 0) != (want.effect != "") {
			t.Errorf("run %d: %v", i, birch[i])
		}
		if want.effect != "" && (at(effects[0], "OTIO_SCHEMA") != want.effect || at(effects[0], "time_scalar") != want.scalar) {
			t.Errorf("run %d: %v", i, effects)
		}
	}
	// Half a second to a second of Birch, at 29.97: frames 15 to 30 of it.
	if m := at(birch[0], "markers", 0, "marked_range"); at(m, "start_time", "value") != 107892.0+15 || at(m, "duration", "value") != 15.0 {
		t.Errorf("marker %v", m)
	}
	if url := at(tracks[0], "children", 0, "media_references", "DEFAULT_MEDIA", "target_url"); url != "../captures/al%20der%231.mkv" {
		t.Errorf("url %v", url)
	}
	for path, want := range map[string]string{"/a b/c.mkv": "file:///a%20b/c.mkv", "C:/a b.mkv": "file:///C:/a%20b.mkv", "a:b.mkv": "./a:b.mkv", "../ü.mkv": "../%C3%BC.mkv"} {
		if got := urlOf(path); got != want {
			t.Errorf("%s: %s, want %s", path, got, want)
		}
	}
}

// edlEvent is an event as the published minimal file writes it (13_minimal.edl;
// columns by 13_otio_edl.md): number, reel, channels, cut, and four labels.
var edlEvent = regexp.MustCompile(`^(\d{3})  ([A-Z0-9 ]{8}) (\S+) +C        (\S+) (\S+) (\S+) (\S+)$`)

// frameOf is the number of the frame that bears a label.
func frameOf(t *testing.T, label string, r pacing.Rate) int64 {
	t.Helper()
	parsed, err := comparison.ParseTime(label)
	if err != nil {
		t.Fatal(err)
	}
	d, err := parsed.At(r)
	if err != nil {
		t.Fatal(err)
	}
	return r.FrameAt(d)
}

// TestEDL: lists read like the published one, each event lasts as long in the
// source as in the record, and records touch, in drop-frame too.
func TestEDL(t *testing.T) {
	minimal, err := os.ReadFile(filepath.Join("..", "..", "testdata", "published", "13_minimal.edl"))
	if err != nil {
		t.Fatal(err)
	}
	for name, tt := range map[string]struct {
		text string
		rate pacing.Rate
		drop bool
	}{
		"published":  {string(minimal), hz60, false},
		"60":         {written(t, made(hz60), "a.edl"), hz60, false},
		"drop-frame": {written(t, made(hz5994), "a.edl"), hz5994, true},
	} {
		events, last := 0, int64(-1)
		for i, line := range strings.Split(strings.ReplaceAll(tt.text, "\r\n", "\n"), "\n") {
			switch {
			case i == 0:
				if !strings.HasPrefix(line, "TITLE: ") {
					t.Errorf("%s begins with %q", name, line)
				}
			case i == 1:
				if drop := line == "FCM: DROP FRAME"; drop != tt.drop || !drop && line != "FCM: NON-DROP FRAME" {
					t.Errorf("%s: %q", name, line)
				}
			case line == "" || strings.HasPrefix(line, "* "):
			default:
				m := edlEvent.FindStringSubmatch(line)
				if m == nil {
					t.Errorf("%s: %q is no event", name, line)
					continue
				}
				events++
				if n, _ := strconv.Atoi(m[1]); n != events {
					t.Errorf("%s: event %s comes as number %d", name, m[1], events)
				}
				in, out, from, to := frameOf(t, m[4], tt.rate), frameOf(t, m[5], tt.rate), frameOf(t, m[6], tt.rate), frameOf(t, m[7], tt.rate)
				if out-in != to-from || out <= in || last >= 0 && from != last {
					t.Errorf("%s: %s", name, line)
				}
				if strings.Contains(m[6], ";") != tt.drop {
					t.Errorf("%s: record %s", name, m[6])
				}
				last = to
			}
		}
		if events != 2 {
			t.Errorf("%s: %d events\n%s", name, events, tt.text)
		}
	}
	text := written(t, made(hz60), "a.edl")
	for _, want := range []string{
		"TITLE: Kestrel Pass\r\n",
		"001  RIDGE    AA/V  C        00:00:00:00 00:00:05:00 01:00:00:00 01:00:05:00\r\n",
		"002  SHORE    V     C        00:00:00:00 00:00:02:00 01:00:05:00 01:00:07:00\r\n",
		"* FROM CLIP NAME:  ridge.mp4\r\n",
		"* CAPTION: Launch --> <b>  001 & more\r\n",
		"*   FRAMES 60 TO 299 (1.000 S TO 5.000 S) AT 01:00:00:00\r\n",
		"AT 01:00:01:00, HELD\r\n", "AT 01:00:03:00, SPEED 1/2\r\n",
		"* MARK: 01:00:01:00 hitch\r\n",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the list lacks %q\n%s", want, text)
		}
	}
	for name, line := range map[string]*Timeline{
		"too many": {Rate: hz60, Scenes: make([]Scene, 1000)},
		"120 fps":  {Rate: pacing.Rate{Num: 120, Den: 1}, Scenes: make([]Scene, 1)},
		"12.5 fps": {Rate: pacing.Rate{Num: 25, Den: 2}, Scenes: make([]Scene, 1)},
		"a day":    {Rate: hz60, Scenes: []Scene{{Frames: 60 * 3600 * 23}}},
	} {
		if err := line.Write(&strings.Builder{}, "a.edl"); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func TestReelNames(t *testing.T) {
	var scenes []Scene
	for _, id := range []string{"ridge", "north-ridge-1", "north-ridge-2", "north_ridge", "ax", "bars", "é", "ü", "Ridge"} {
		scenes = append(scenes, Scene{ID: id})
	}
	got := strings.Join(reelNames(scenes), " ")
	if want := "RIDGE NORTHRID NORTHRI2 NORTHRI3 AX2 BARS2 SCENE7 SCENE8 RIDGE2"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

// vttTimes is a cue's timings by the WebVTT syntax (W3C, github.com/w3c/webvtt
// index.bs @009ec96, "WebVTT timestamp" and "WebVTT cue timings"; seen).
var vttTimes = regexp.MustCompile(`^(\d{2,}):([0-5]\d):([0-5]\d)\.(\d{3}) --> (\d{2,}):([0-5]\d):([0-5]\d)\.(\d{3})$`)

// TestVTT checks what the W3C's syntax asks of a file: its head, unique cue
// identifiers, beginnings in order, ends after them, and text that holds no
// arrow and no character that means something.
func TestVTT(t *testing.T) {
	text := written(t, made(hz60), "a.vtt")
	blocks := strings.Split(strings.TrimSuffix(text, "\n"), "\n\n")
	if blocks[0] != "WEBVTT - Kestrel Pass" || !strings.HasPrefix(blocks[1], "NOTE ") {
		t.Errorf("it begins with %q", blocks[:2])
	}
	ids := map[string]bool{}
	last := 0
	var cues []string
	for _, b := range blocks[2:] {
		lines := strings.Split(b, "\n")
		if len(lines) != 3 {
			t.Fatalf("block %q", b)
		}
		m := vttTimes.FindStringSubmatch(lines[1])
		if m == nil || ids[lines[0]] || strings.Contains(lines[0]+lines[2], "-->") {
			t.Fatalf("block %q", b)
		}
		ids[lines[0]] = true
		var n [8]int
		for i := range n {
			n[i], _ = strconv.Atoi(m[i+1])
		}
		from, to := ((n[0]*60+n[1])*60+n[2])*1000+n[3], ((n[4]*60+n[5])*60+n[6])*1000+n[7]
		if to <= from || from < last {
			t.Errorf("times of %q", b)
		}
		last = from
		// Only the voice's tag and the escapes are left.
		rest := regexp.MustCompile(`^<v [^<>&\n]+(&(amp|lt|gt);[^<>&\n]*)*>|&(amp|lt|gt);`).ReplaceAllString(lines[2], "")
		if strings.ContainsAny(rest, "<>&") {
			t.Errorf("text %q", lines[2])
		}
		cues = append(cues, lines[0]+" "+lines[1])
	}
	if got, want := strings.Join(cues, "; "), "ridge/alder/1 00:00:00.000 --> 00:00:02.000; ridge/birch/1 00:00:00.500 --> 00:00:04.000"; got != want {
		t.Errorf("cues %s, want %s", got, want)
	}
}

func TestUnknownFormat(t *testing.T) {
	err := made(hz60).Write(&strings.Builder{}, "a.xml")
	if err == nil || !strings.Contains(err.Error(), `no format ends in ".xml"`) {
		t.Error(err)
	}
}
