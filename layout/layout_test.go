package layout

import (
	"fmt"
	"image"
	"strconv"
	"strings"
	"testing"

	"fairframe/testdata/published"
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
	views := []Spec{{View: Columns}, {View: Rows}, {View: Single, Main: 1}, {View: Inset}, {View: Inset, Main: 1, Shape: image.Pt(640, 480)},
		{View: Inset, Over: true}, {View: Inset, Over: true, Opposite: true}, {View: Wipe}, {View: Wipe, Lying: true}, {View: Alternate}, {View: Difference}, {View: Difference, Alone: true}}
	var out []Spec
	for _, size := range sizes {
		for n := MinCaptures; n <= MaxCaptures; n++ {
			for _, p := range []Place{Below, Over, None} {
				for flags := range 4 {
					for _, s := range views {
						if !s.View.Takes(n) || s.Main >= n {
							continue
						}
						s.Size, s.Captures, s.Place, s.Tabs, s.Caption = size, n, p, flags&1 == 0, flags&2 == 0
						out = append(out, s)
					}
				}
			}
		}
	}
	return out
}

func TestProperties(t *testing.T) {
	for _, s := range specs(append(append([]image.Point(nil), sizes...), others...)) {
		sc, err := Solve(s)
		if err != nil && s.Captures == 4 && s.View == Inset && s.Size.X*s.Size.Y < 160*160 && strings.Contains(err.Error(), "has no room") {
			continue // five pictures on a stamp
		}
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

	if sc.Place != s.Place && !(s.Place == Over && sc.Place == Below) {
		bad("place %v", sc.Place)
	}
	picture := whole
	if sc.Place == Below {
		picture.Max.Y = sc.Strip.Min.Y
	}
	checkPanes(s, sc, picture, bad)

	// Whatever the video pipeline cuts along is even.
	cut := append([]image.Rectangle{sc.Strip}, sc.Dividers...)
	for _, p := range sc.Panes {
		cut = append(cut, p.Area)
	}
	for _, t := range sc.Tabs {
		cut = append(cut, t.Box)
	}
	for _, l := range sc.Labels {
		cut = append(cut, l.Box)
	}
	for _, r := range cut {
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
	// As the manual promises (help deck), the smallest text is at least 1/60 of the height.
	for _, px := range []int{sc.Type.Small, sc.Type.Name, sc.Type.Rate, sc.Type.Time} {
		if px*60 < s.Size.Y || px < sc.Type.Small {
			bad("type of %d px", px)
		}
	}
	checkParts(t, s, sc, bad)
}

// checkPanes checks what the views promise: who is shown where, that panes that
// should tile the picture do, and that nothing reaches out of it.
func checkPanes(s Spec, sc Screen, picture image.Rectangle, bad func(string, ...any)) {
	n := s.Captures
	pairs := 2*n - 3 // 1 of 2 captures, 3 of 3
	want, filled, bars := n, 0, 0
	switch s.View {
	case Single:
		want = 1
	case Inset:
		want = n + 1
	case Difference:
		want = n + pairs
		if s.Alone {
			want = pairs
		}
	}
	if len(sc.Panes) != want {
		bad("%d panes", len(sc.Panes))
		return
	}
	shown := map[int]int{}
	for i, p := range sc.Panes {
		if p.Area.Empty() || !p.Area.In(picture) || p.Capture < 0 || p.Capture >= n || p.Other < 0 || p.Other >= n {
			bad("pane %+v reaches out of %v, or shows what there is not", p, picture)
		}
		if p.Role == AsMinus && p.Capture == p.Other || p.Role != AsMinus && p.Other != 0 {
			bad("pane %+v compares a capture with itself", p)
		}
		if p.Role == AsWindow {
			shown[p.Capture]++
		}
		filled += p.Area.Dx() * p.Area.Dy()
		for _, q := range sc.Panes[:i] {
			lies := s.View == Wipe || s.View == Alternate || s.View == Inset && s.Over && q.Role == AsWhole
			if p.Area.Overlaps(q.Area) && !lies {
				bad("pane %v overlaps %v", p.Area, q.Area)
			}
		}
	}
	for i := range n {
		once := s.View != Single && !(s.View == Difference && s.Alone) || s.View == Single && i == s.Main
		if once && shown[i] != 1 || !once && shown[i] != 0 {
			bad("capture %d has %d panes", i+1, shown[i])
		}
	}
	for i, t := range sc.Tabs {
		if (s.View == Rows || s.View == Difference && len(sc.Panes) == 3 && sc.Panes[1].Area.Min.Y > 0) && s.Place == Below && i < len(sc.Panes)-1 && i < len(sc.Tabs)-1 {
			if t.Box.Min.Y != sc.Panes[i].Area.Max.Y || t.Box.Dx() != s.Size.X {
				bad("tab %v is not below its row", t.Box)
			}
		}
		if pane := sc.Panes[min(i, len(sc.Panes)-1)].Area; s.View == Columns && s.Place == Below && t.Box.Min.Y != pane.Max.Y {
			bad("tab %v is not below its pane %v", t.Box, pane)
		}
		if t.Box.Min.Y >= picture.Min.Y && t.Box.Max.Y <= picture.Max.Y && sc.Place == Below {
			bars += t.Box.Dx() * t.Box.Dy()
		}
	}
	switch {
	case s.View == Wipe || s.View == Alternate:
		for _, p := range sc.Panes {
			if p.Area != picture {
				bad("pane %v is not the whole picture", p.Area)
			}
		}
	case s.View == Inset && s.Over:
		if sc.Panes[0].Area != picture {
			bad("the whole capture has %v", sc.Panes[0].Area)
		}
		for _, p := range sc.Panes[1:] {
			if !p.Area.In(sc.Safe) || p.Area.Overlaps(sc.Strip) && s.Place != None {
				bad("window %v is not well seen", p.Area)
			}
		}
	case filled+bars != picture.Dx()*picture.Dy():
		bad("panes fill %d of %d pixels", filled+bars, picture.Dx()*picture.Dy())
	}
	for _, d := range sc.Dividers {
		if d.Empty() || !d.In(whole(s)) || s.Place != None && d.Max.Y > sc.Strip.Min.Y {
			bad("divider %v", d)
		}
	}
	if s.View == Columns {
		least, most := picture.Dx(), 0
		for i, p := range sc.Panes {
			least, most = min(least, p.Area.Dx()), max(most, p.Area.Dx())
			if n < 4 && i < len(sc.Dividers) && sc.Dividers[i].Min.X+sc.Dividers[i].Max.X != 2*p.Area.Max.X {
				bad("divider %v is not on the boundary", sc.Dividers[i])
			}
			if q := sc.Panes[i&^2].Area; n == 4 && (p.Area.Min.X != q.Min.X || p.Area.Dx() != q.Dx() || i > 1 && p.Area.Min.Y < q.Max.Y) {
				bad("pane %v does not stand under %v", p.Area, q)
			}
		}
		if most-least > 2 {
			bad("panes are %d to %d wide", least, most)
		}
	}
}

func whole(s Spec) image.Rectangle { return image.Rectangle{Max: s.Size} }

func checkParts(t *testing.T, s Spec, sc Screen, bad func(string, ...any)) {
	t.Helper()
	want := 0 // parts that must be there, besides panes, dividers and containers
	if s.Tabs {
		want += s.Captures * 3 // swatch and at least a line, and the box
		if len(sc.Tabs) != s.Captures {
			bad("%d tabs", len(sc.Tabs))
		}
		for i, tab := range sc.Tabs {
			if s.View == Columns && (tab.Box.Min.X != sc.Panes[i].Area.Min.X || tab.Box.Max.X != sc.Panes[i].Area.Max.X) {
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
		tab, label := strings.HasPrefix(p.name, "tab"), strings.HasPrefix(p.name, "label")
		if !tab && !label && !p.rect.In(sc.Strip) {
			bad("%s %v is outside the strip", p.name, p.rect)
		}
		if !p.rect.In(whole(s)) {
			bad("%s %v is outside the output", p.name, p.rect)
		}
		// EBU R 95: text inside the graphics-safe area.
		if p.text && !p.rect.In(sc.Safe) {
			bad("%s %v is outside the safe area %v", p.name, p.rect, sc.Safe)
		}
		if p.text && p.rect.Dy() < sc.Type.Small {
			bad("%s %v is lower than its text", p.name, p.rect)
		}
		if !tab && !label || strings.Contains(p.name, "line") || strings.Contains(p.name, "swatch") || strings.Contains(p.name, "text") {
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
// the middle 90 % of the picture; the rows of
// testdata/published/04_safe_areas.csv, whose percentages are published and whose
// pixels are mostly computed from them.
func TestSafeAgainstEBUR95(t *testing.T) {
	checked := 0
	for _, row := range published.Records(t, "04_safe_areas.csv") {
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
		// Two panes of half the width.
		{Spec{Size: image.Pt(1280, 720), Captures: 2, Place: None}, "0,0 640x720; 640,0 640x720"},
		{Spec{Size: image.Pt(1920, 1080), Captures: 3, Place: None}, "0,0 640x1080; 640,0 640x1080; 1280,0 640x1080"},
		{Spec{Size: image.Pt(1920, 1080), Captures: 2, Place: Below, Tabs: true}, "0,0 960x740; 960,0 960x740"},
		{Spec{Size: image.Pt(3840, 2160), Captures: 2, Place: Below, Tabs: true}, "0,0 1920x1480; 1920,0 1920x1480"},
		{Spec{Size: image.Pt(1280, 720), Captures: 3, Place: Over, Tabs: true}, "0,0 426x720; 426,0 426x720; 852,0 428x720"},
		{Spec{Size: image.Pt(1920, 1080), Captures: 1, Place: None}, "0,0 1920x1080"},
		{Spec{Size: image.Pt(1920, 1080), Captures: 4, Place: None}, "0,0 960x540; 960,0 960x540; 0,540 960x540; 960,540 960x540"},
		{Spec{Size: image.Pt(1080, 1920), Captures: 4, Place: None}, "0,0 540x960; 540,0 540x960; 0,960 540x960; 540,960 540x960"},
	} {
		sc, err := Solve(c.spec)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, p := range sc.Panes {
			got = append(got, fmt.Sprintf("%d,%d %dx%d", p.Area.Min.X, p.Area.Min.Y, p.Area.Dx(), p.Area.Dy()))
		}
		if s := strings.Join(got, "; "); s != c.want {
			t.Errorf("%+v: panes %s, want %s", c.spec, s, c.want)
		}
	}
}

func TestErrors(t *testing.T) {
	good := Spec{Size: image.Pt(1920, 1080), Captures: 2}
	for want, change := range map[string]func(*Spec){
		"layout: size 1921x1080 is not even in both directions":                                           func(s *Spec) { s.Size.X = 1921 },
		"layout: size 1920x1081 is not even in both directions":                                           func(s *Spec) { s.Size.Y = 1081 },
		"layout: size 0x1080 is outside 96..16384 pixels a side":                                          func(s *Spec) { s.Size.X = 0 },
		"layout: size -2x1080 is outside 96..16384 pixels a side":                                         func(s *Spec) { s.Size.X = -2 },
		"layout: size 1920x20000 is outside 96..16384 pixels a side":                                      func(s *Spec) { s.Size.Y = 20000 },
		"layout: size 1920x100 is too long and narrow (4:1 to 2:5 can be laid out)":                       func(s *Spec) { s.Size.Y = 100 },
		"layout: size 100x1080 is too long and narrow (4:1 to 2:5 can be laid out)":                       func(s *Spec) { s.Size.X = 100 },
		"layout: 0 captures (1 to 4 can be shown)":                                                        func(s *Spec) { s.Captures = 0 },
		"layout: 5 captures (1 to 4 can be shown)":                                                        func(s *Spec) { s.Captures = 5 },
		"layout: view wipe of 1 captures (it takes 2 to 4)":                                               func(s *Spec) { s.Captures, s.View = 1, Wipe },
		"layout: view alternate of 1 captures (it takes 2 to 4)":                                          func(s *Spec) { s.Captures, s.View = 1, Alternate },
		"layout: view difference of 1 captures (it takes 2 to 3)":                                         func(s *Spec) { s.Captures, s.View = 1, Difference },
		"layout: view difference of 4 captures (it takes 2 to 3)":                                         func(s *Spec) { s.Captures, s.View = 4, Difference },
		"layout: unknown view View(7) (valid: columns, rows, single, inset, wipe, alternate, difference)": func(s *Spec) { s.View = 7 },
		"layout: capture 3 of 2 cannot be shown":                                                          func(s *Spec) { s.Main = 2 },
		"layout: unknown place Place(3)":                                                                  func(s *Spec) { s.Place = 3 },
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
		{image.Pt(1920, 1080), image.Pt(1408, 792), "+86 %"}, // the manual's example
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
pane 1 0,0 960x740
pane 2 960,0 960x740
divider 1 958,0 4x740
safe 96,54 1728x972
strip 0,740 1920x340
tab 1 0,740 960x54
tab 1 swatch 96,764 48x6
tab 1 line 1 158,749 778x36
tab 2 960,740 960x54
tab 2 swatch 984,764 48x6
tab 2 line 1 1046,749 778x36
deck 0,794 1920x286
clock 96,800 240x26
readout 1 swatch 96,832 6x91
readout 1 rate 124,832 212x56
readout 1 time 124,888 212x35
readout 2 swatch 96,933 6x91
readout 2 rate 124,933 212x56
readout 2 time 124,989 212x35
line title 428,800 814x26
line unit 368,800 50x26
line values 368,832 50x166
line area 428,832 814x164
line times 368,998 874x26
treads title 1362,800 450x26
treads unit 1294,800 58x26
lane 1 swatch 1282,832 6x91
lane 1 values 1294,832 58x91
lane 1 area 1362,832 450x91
lane 1 pen 1812,832 12x91
lane 2 swatch 1282,933 6x91
lane 2 values 1294,933 58x91
lane 2 area 1362,933 450x91
lane 2 pen 1812,933 12x91
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

// What an audience reads has room: the lanes at 1080 lines, and the strip a third of the
// height at most with two captures.
func TestLanesHaveRoom(t *testing.T) {
	for captures, least := range map[int]int{2: 90, 3: 72} {
		for _, caption := range []bool{false, true} {
			sc, err := Solve(Spec{Size: image.Pt(1920, 1080), Captures: captures, Tabs: true, Caption: caption})
			if err != nil {
				t.Fatal(err)
			}
			for i, l := range sc.Treads.Lanes {
				if l.Area.Dy() < least {
					t.Errorf("%d captures: lane %d has %d pixels", captures, i+1, l.Area.Dy())
				}
			}
			if captures == 2 && sc.Strip.Dy()*100 > 33*1080 {
				t.Errorf("the strip has %d pixels", sc.Strip.Dy())
			}
			if caption && (sc.Caption.Min.X != sc.Line.Title.Min.X || sc.Caption.Overlaps(sc.Line.Title) || sc.Caption.Overlaps(sc.Treads.Title)) {
				t.Errorf("the caption %v is not above the line's title %v", sc.Caption, sc.Line.Title)
			}
		}
	}
}
