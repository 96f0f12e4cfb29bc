package comparison

import (
	"image"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"fairframe/render/pacing"
)

// designed is the example of the design, with the made-up game.
const designed = `title: Kestrel Pass
output:
  folder: out
  size: 1920x1080           # even numbers
  rate: 60                  # or 60000/1001; a rational, never a float
  delivery: web
captures:
  alder:
    name: Alder             # shown; defaults to the key
    detail: quality mode    # optional second text on the name tab
    raster: 1408x792        # optional: the resolution the machine renders at
    video: captures/alder.mkv
    pacing: captures/alder.csv
  birch:
    name: Birch
    raster: 1920x1080
    video: captures/birch.mkv
    pacing: {file: captures/birch.txt, column: ms, means: frame-time, unit: ms, starts: 0s}
scenes:
  - id: ridge
    captures: [alder, birch]             # two or three, in the order shown
    start: {alder: 3s, birch: 00:00:03.250}
    length: 8s
    view: columns
    window: {center: [0.5, 0.5], magnify: 1}
    deck: {place: below}
    caption: Launch from the north ridge, clear sky
`

func parse(t *testing.T, text string) *File {
	t.Helper()
	f, err := Parse(filepath.FromSlash("reviews/kestrel.yaml"), []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func timeOf(t *testing.T, s string) Time {
	t.Helper()
	v, err := ParseTime(s)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func TestParseDesignedExample(t *testing.T) {
	half, one := Ratio{Num: 1, Den: 2}, Ratio{Num: 1, Den: 1}
	w := Window{Center: Point{half, half}, Magnify: one, Kernel: KernelLanczos}
	path := filepath.FromSlash
	want := &File{
		Path: path("reviews/kestrel.yaml"), Dir: "reviews", Title: "Kestrel Pass",
		Output: Output{Folder: path("reviews/out"), Size: image.Pt(1920, 1080), Rate: pacing.Rate{Num: 60, Den: 1}, Delivery: "web"},
		Captures: []Capture{
			{Key: "alder", Name: "Alder", Detail: "quality mode", Raster: image.Pt(1408, 792), Video: path("reviews/captures/alder.mkv"), video: "captures/alder.mkv",
				Pacing: Source{File: path("reviews/captures/alder.csv"), file: "captures/alder.csv"}},
			{Key: "birch", Name: "Birch", Raster: image.Pt(1920, 1080), Video: path("reviews/captures/birch.mkv"), video: "captures/birch.mkv",
				Pacing: Source{File: path("reviews/captures/birch.txt"), file: "captures/birch.txt",
					Format: pacing.Format{Column: "ms", Means: pacing.FrameTime, Unit: pacing.Milliseconds}}},
		},
		Scenes: []Scene{{
			ID: "ridge", Captures: []string{"alder", "birch"}, Length: 8 * time.Second, View: "columns",
			Start:  map[string]Time{"alder": timeOf(t, "3s"), "birch": timeOf(t, "00:00:03.250")},
			Window: map[string]Window{"alder": w, "birch": w},
			Deck: Deck{Place: "below", Tabs: true,
				RateWindow: time.Second, TreadSpan: 1500 * time.Millisecond},
			Caption: "Launch from the north ridge, clear sky", Audio: "alder", Line: 20,
		}},
	}
	for name, text := range map[string]string{
		"as written":          designed,
		"with CR LF":          strings.ReplaceAll(designed, "\n", "\r\n"),
		"with byte order":     "\ufeff" + designed,
		"with document marks": "---\n" + designed + "...\n",
	} {
		got := parse(t, text)
		if strings.HasPrefix(text, "---") {
			got.Scenes[0].Line--
		}
		got.output = nil // places in the file, not what it says
		if !reflect.DeepEqual(got, want) {
			t.Errorf("%s:\n got %+v\nwant %+v", name, got, want)
		}
	}
}
