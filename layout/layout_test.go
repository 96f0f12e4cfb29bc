package layout

import (
	"encoding/csv"
	"fmt"
	"image"
	"os"
	"strconv"
	"strings"
	"testing"
)

// sizes are the outputs that must compose well.
var sizes = []image.Point{{1280, 720}, {1920, 1080}, {3840, 2160}, {1080, 1920}, {1080, 1080}}

// others are even sizes in use elsewhere, and odd shapes at the limits.
var others = []image.Point{
	{96, 96}, {320, 180}, {640, 360}, {640, 480}, {854, 480}, {1024, 768}, {1440, 1080}, {2560, 1440},
	{3440, 1440}, {3840, 1080}, {4096, 2160}, {7680, 4320}, {720, 1280}, {1080, 1350}, {1200, 1500},
	{2160, 3840}, {134, 176}, {96, 240}, {384, 96}, {16384, 4096}, {6552, 16380},
}

func specs(sizes []image.Point) []Spec {
	var out []Spec
	for _, size := range sizes {
		for n := MinCaptures; n <= MaxCaptures; n++ {
			for _, p := range []Place{Below, Over, None} {
				for flags := range 4 {
					out = append(out, Spec{Size: size, Captures: n, Place: p, Tabs: flags&1 == 0, Caption: flags&2 == 0})
				}
			}
		}
	}
	return out
}

func TestProperties(t *testing.T) {
	for _, s := range specs(append(append([]image.Point(nil), sizes...), others...)) {
		sc, err := Solve(s)
		if err != nil {
			t.Errorf("%+v: %v", s, err)
			continue
		}
		checkScreen(t, s, sc)
	}
}

// checkScreen checks what every screen must keep.
func checkScreen(t *testing.T, s Spec, sc Screen) {
	t.Helper()
	bad := func(format string, args ...any) {
		t.Helper()
		t.Errorf("%+v: %s\n%v", s, fmt.Sprintf(format, args...), sc)
	}
	whole := image.Rectangle{Max: s.Size}

	// Panes tile the picture area: side by side, full height, no gap.
	picture := whole
	if s.Place == Below {
		picture.Max.Y = sc.Strip.Min.Y
	}
	if len(sc.Panes) != s.Captures {
		bad("%d panes", len(sc.Panes))
		return
	}
	x, least, most := 0, sc.Panes[0].Dx(), sc.Panes[0].Dx()
	for _, p := range sc.Panes {
		if p.Min != image.Pt(x, 0) || p.Max.Y != picture.Max.Y || p.Empty() {
			bad("pane %v does not tile", p)
		}
		x, least, most = p.Max.X, min(least, p.Dx()), max(most, p.Dx())
	}
	if x != s.Size.X || most-least > 2 {
		bad("panes end at %d and are %d to %d wide", x, least, most)
	}
	for i, d := range sc.Dividers {
		if d.Min.X+d.Max.X != 2*sc.Panes[i].Max.X || d.Min.Y != 0 || d.Max.Y != sc.Strip.Min.Y {
			bad("divider %v is not on the boundary", d)
		}
	}
	if want := s.Captures - 1; s.Place != None && len(sc.Dividers) != want || s.Place == None && sc.Dividers != nil {
		bad("%d dividers", len(sc.Dividers))
	}

	// Whatever the video pipeline cuts along is even.
	for _, r := range append(append([]image.Rectangle{sc.Strip}, sc.Panes...), sc.Dividers...) {
		if r.Min.X%2 != 0 || r.Min.Y%2 != 0 || r.Max.X%2 != 0 || r.Max.Y%2 != 0 {
			bad("odd edge in %v", r)
		}
	}

	if s.Place == None && !s.Tabs {
		if !sc.Strip.Empty() || len(sc.Tabs) > 0 {
			bad("a strip without anything to show")
		}
		return
	}
	if sc.Strip.Dx() != s.Size.X || sc.Strip.Empty() || !sc.Strip.In(whole) {
		bad("strip %v", sc.Strip)
	}
	if s.Place != None && sc.Strip.Max.Y != s.Size.Y {
		bad("strip %v does not rest on the lower edge", sc.Strip)
	}
	// DESIGN 6: the smallest text is at least 1/60 of the height.
	for _, px := range []int{sc.Type.Small, sc.Type.Name, sc.Type.Rate, sc.Type.Time} {
		if px*60 < s.Size.Y || px < sc.Type.Small {
			bad("type of %d px", px)
		}
	}
	checkParts(t, s, sc, bad)
}

func checkParts(t *testing.T, s Spec, sc Screen, bad func(string, ...any)) {
	t.Helper()
	want := 0 // parts that must be there, besides panes, dividers and containers
	if s.Tabs {
		want += s.Captures * 3 // swatch and at least a line, and the box
		for i, tab := range sc.Tabs {
			if tab.Box.Min.X < sc.Panes[i].Min.X || tab.Box.Max.X > sc.Panes[i].Max.X {
				bad("tab %d is not under its pane", i+1)
			}
		}
	}
	if s.Place != None {
		want += 1 + 3*s.Captures + 5 + 2 + 4*s.Captures
		if s.Caption {
			want++
		}
	}
	var leaves []part
	for _, p := range sc.parts() {
		switch {
		case strings.HasPrefix(p.name, "pane"), strings.HasPrefix(p.name, "divider"), p.name == "safe", p.name == "strip", p.name == "deck":
			continue
		case p.rect.Empty() && (s.Place == None || p.name == "caption" && !s.Caption):
			continue
		case p.rect.Empty():
			bad("%s is empty", p.name)
		}
		want--
		if !p.rect.In(sc.Strip) {
			bad("%s %v is outside the strip", p.name, p.rect)
		}
		// EBU R 95: text inside the graphics-safe area.
		if p.text && !p.rect.In(sc.Safe) {
			bad("%s %v is outside the safe area %v", p.name, p.rect, sc.Safe)
		}
		if p.text && p.rect.Dy() < sc.Type.Small {
			bad("%s %v is lower than its text", p.name, p.rect)
		}
		if !strings.HasPrefix(p.name, "tab") || strings.Contains(p.name, "line") || strings.Contains(p.name, "swatch") {
			leaves = append(leaves, p)
		}
	}
	if want > 0 {
		bad("%d parts are missing", want)
	}
	for i, a := range leaves {
		for _, b := range leaves[:i] {
			if a.rect.Overlaps(b.rect) {
				bad("%s %v overlaps %s %v", a.name, a.rect, b.name, b.rect)
			}
		}
	}
}

// EBU R 95 (also ITU-R BT.1848-1, SMPTE ST 2046-1): the graphics-safe area is
// the middle 90 % of the picture; rows of the published table.
func TestSafeAgainstEBUR95(t *testing.T) {
	f, err := os.Open("../testdata/published/04_safe_areas.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	checked := 0
	for _, row := range rows[1:] {
		if row[1] != "graphics/title" {
			continue
		}
		w, h, _ := strings.Cut(row[0], "x")
		num := func(s string) int {
			n, err := strconv.Atoi(s)
			if err != nil {
				t.Fatal(err)
			}
			return n
		}
		want := image.Rect(num(row[6]), num(row[8]), num(row[7])+1, num(row[9])+1)
		if got := Safe(image.Pt(num(w), num(h))); got != want {
			t.Errorf("safe area of %s is %v, want %v", row[0], got, want)
		}
		checked++
	}
	if checked < 3 {
		t.Errorf("only %d rows of the table were checked", checked)
	}
}

func TestPanes(t *testing.T) {
	for _, c := range []struct {
		spec Spec
		want string
	}{
		// Two panes of half the width: DESIGN 6.
		{Spec{Size: image.Pt(1280, 720), Captures: 2, Place: None}, "0,0 640x720; 640,0 640x720"},
		{Spec{Size: image.Pt(1920, 1080), Captures: 3, Place: None}, "0,0 640x1080; 640,0 640x1080; 1280,0 640x1080"},
		{Spec{Size: image.Pt(1920, 1080), Captures: 2, Place: Below, Tabs: true}, "0,0 960x760; 960,0 960x760"},
		{Spec{Size: image.Pt(3840, 2160), Captures: 2, Place: Below, Tabs: true}, "0,0 1920x1520; 1920,0 1920x1520"},
		{Spec{Size: image.Pt(1280, 720), Captures: 3, Place: Over, Tabs: true}, "0,0 426x720; 426,0 426x720; 852,0 428x720"},
	} {
		sc, err := Solve(c.spec)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, p := range sc.Panes {
			got = append(got, fmt.Sprintf("%d,%d %dx%d", p.Min.X, p.Min.Y, p.Dx(), p.Dy()))
		}
		if s := strings.Join(got, "; "); s != c.want {
			t.Errorf("%+v: panes %s, want %s", c.spec, s, c.want)
		}
	}
}

func TestErrors(t *testing.T) {
	good := Spec{Size: image.Pt(1920, 1080), Captures: 2}
	for want, change := range map[string]func(*Spec){
		"layout: size 1921x1080 is not even in both directions":                     func(s *Spec) { s.Size.X = 1921 },
		"layout: size 1920x1081 is not even in both directions":                     func(s *Spec) { s.Size.Y = 1081 },
		"layout: size 0x1080 is outside 96..16384 pixels a side":                    func(s *Spec) { s.Size.X = 0 },
		"layout: size -2x1080 is outside 96..16384 pixels a side":                   func(s *Spec) { s.Size.X = -2 },
		"layout: size 1920x20000 is outside 96..16384 pixels a side":                func(s *Spec) { s.Size.Y = 20000 },
		"layout: size 1920x100 is too long and narrow (4:1 to 2:5 can be laid out)": func(s *Spec) { s.Size.Y = 100 },
		"layout: size 100x1080 is too long and narrow (4:1 to 2:5 can be laid out)": func(s *Spec) { s.Size.X = 100 },
		"layout: 1 captures (2 or 3 can be shown)":                                  func(s *Spec) { s.Captures = 1 },
		"layout: 4 captures (2 or 3 can be shown)":                                  func(s *Spec) { s.Captures = 4 },
		"layout: unknown view View(7) (valid: columns)":                             func(s *Spec) { s.View = 7 },
		"layout: unknown place Place(3)":                                            func(s *Spec) { s.Place = 3 },
	} {
		s := good
		change(&s)
		if _, err := Solve(s); err == nil || err.Error() != want {
			t.Errorf("%+v: error %v, want %s", s, err, want)
		}
	}
}

func TestPixelRatio(t *testing.T) {
	for _, c := range []struct {
		a, b image.Point
		want string
	}{
		{image.Pt(1920, 1080), image.Pt(1408, 792), "+86 %"}, // DESIGN 5
		{image.Pt(1600, 900), image.Pt(1280, 720), "+56 %"},  // common practice
		{image.Pt(3840, 2160), image.Pt(1920, 1080), "+300 %"},
		{image.Pt(1408, 792), image.Pt(1920, 1080), "−46 %"},
		{image.Pt(1920, 1080), image.Pt(1920, 1080), "±0 %"},
		{image.Pt(1080, 1920), image.Pt(1920, 1080), "±0 %"},
		{image.Pt(1001, 1000), image.Pt(1000, 1000), "±0 %"},
		{image.Pt(1005, 1000), image.Pt(1000, 1000), "+1 %"}, // halves go away from zero
		{image.Pt(995, 1000), image.Pt(1000, 1000), "−1 %"},
		{image.Pt(0, 1080), image.Pt(1920, 1080), ""},
		{image.Pt(1920, 1080), image.Pt(1920, 0), ""},
		{image.Pt(-1, 1080), image.Pt(1920, 1080), ""},
		{image.Pt(1<<62, 1<<62), image.Pt(1, 1), ""},
	} {
		if got := PixelRatio(c.a, c.b); got != c.want {
			t.Errorf("%v against %v: %q, want %q", c.a, c.b, got, c.want)
		}
	}
}

// The text form, and with it every number of the commonest screen. A change
// here is a change of the look.
func TestString(t *testing.T) {
	sc, err := Solve(Spec{Size: image.Pt(1920, 1080), Captures: 2, Tabs: true})
	if err != nil {
		t.Fatal(err)
	}
	want := strings.TrimLeft(`
screen 1920x1080 columns below
pane 1 0,0 960x760
pane 2 960,0 960x760
divider 1 958,0 4x760
safe 96,54 1728x972
strip 0,760 1920x320
tab 1 0,760 960x54
tab 1 swatch 96,784 48x6
tab 1 line 1 158,769 778x36
tab 2 960,760 960x54
tab 2 swatch 984,784 48x6
tab 2 line 1 1046,769 778x36
deck 0,814 1920x266
clock 96,820 240x26
readout 1 swatch 96,852 6x82
readout 1 rate 124,852 212x50
readout 1 time 124,902 212x32
readout 2 swatch 96,944 6x82
readout 2 rate 124,944 212x50
readout 2 time 124,994 212x32
line title 428,820 814x26
line unit 368,820 50x26
line values 368,852 50x148
line area 428,852 814x146
line times 368,1000 874x26
treads title 1362,820 450x26
treads unit 1294,820 58x26
lane 1 swatch 1282,852 6x82
lane 1 values 1294,852 58x82
lane 1 area 1362,852 450x82
lane 1 pen 1812,852 12x82
lane 2 swatch 1282,944 6x82
lane 2 values 1294,944 58x82
lane 2 area 1362,944 450x82
lane 2 pen 1812,944 12x82
type 20 28 48 24
`, "\n")
	if got := sc.String(); got != want {
		t.Errorf("screen is\n%s\nwant\n%s", got, want)
	}
}

// Sub moves every part, so the text of a moved screen differs only by the move.
func TestSub(t *testing.T) {
	s := Spec{Size: image.Pt(1920, 1080), Captures: 3, Tabs: true, Caption: true}
	sc, err := Solve(s)
	if err != nil {
		t.Fatal(err)
	}
	by := image.Pt(10, 20)
	was, is := sc.parts(), sc.Sub(by).parts()
	for i := range was {
		if was[i].rect.Sub(by) != is[i].rect {
			t.Errorf("%s moved from %v to %v", was[i].name, was[i].rect, is[i].rect)
		}
	}
}

func FuzzSolve(f *testing.F) {
	for _, s := range specs(sizes[:2]) {
		f.Add(s.Size.X, s.Size.Y, s.Captures, int(s.View), int(s.Place), s.Tabs, s.Caption)
	}
	f.Add(-1, 1<<62, -1<<63, 1<<62, 9, true, true)
	f.Add(96, 240, 3, 0, 0, true, true)
	f.Fuzz(func(t *testing.T, w, h, n, view, place int, tabs, caption bool) {
		s := Spec{Size: image.Pt(w, h), Captures: n, View: View(view), Place: Place(place), Tabs: tabs, Caption: caption}
		sc, err := Solve(s)
		_ = sc.String()
		if err == nil {
			checkScreen(t, s, sc)
		}
	})
}
