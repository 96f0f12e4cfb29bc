package deck

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"slices"
	"strings"
	"testing"
	"time"

	"fairframe/layout"
	"fairframe/render/pacing"
)

func pageSettings(t testing.TB, size image.Point, captures int) PageSettings {
	t.Helper()
	s := demoOf(t, layout.Spec{Size: size, Captures: captures, Tabs: true}, 720)
	p := PageSettings{Size: size, Title: s.Caption, Length: 12 * time.Second}
	for _, c := range s.Captures {
		p.Captures = append(p.Captures, PageCapture{Name: c.Name, Raster: c.Raster, Base: c.Base, Figures: c.Trace.Figures(c.Start, c.Start+p.Length, sixty)})
	}
	return p
}

func newPage(t testing.TB, s PageSettings) *Page {
	t.Helper()
	p, err := NewPage(s)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// The rows say what the figures are. Alder shows 60 frames a second for 8 of 12
// seconds and 30 for 4: 600 frames.
func TestPageRows(t *testing.T) {
	rows := pageRows(pageSettings(t, hd(), 3).Captures)
	want := map[string]string{"Mean rate": "50.0", "Slowest 1 %": "30.0", "Median": "16.7", "99th percentile": "33.3", "Longest": "33.3",
		"At 60 fps": "66.7", "At 30 fps": "33.3", "At 10 fps": "0.0", "Other rates": "0.0", "Hitches": "0", "Torn frames": "0"}
	if len(rows) != len(want) {
		t.Errorf("%d rows, want %d", len(rows), len(want))
	}
	for _, r := range rows {
		if r.values[0] != want[r.label] {
			t.Errorf("%s: %q, want %q", r.label, r.values[0], want[r.label])
		}
	}
	// A capture that was still throughout has nothing to tell.
	tr := trace(t, []pacing.Frame{{Begin: 0, Time: 5 * time.Second, Kind: pacing.Still}})
	captures := pageSettings(t, hd(), 2).Captures
	captures[1].Figures = tr.Figures(0, 5*time.Second, sixty)
	rows = pageRows(captures)
	for _, r := range rows {
		if wanted := unknown; r.label == "Still" && r.values[1] != "5.0" || r.label != "Still" && r.values[1] != wanted {
			t.Errorf("still throughout, %s: %q", r.label, r.values[1])
		}
	}
	if last := rows[len(rows)-1]; last.label != "Still" || last.values[0] != "0.0" {
		t.Errorf("the last row is %+v", last)
	}
}

// More multiples than rows: those that take the most time keep theirs, and the
// parts of all rows add up.
func TestPageShares(t *testing.T) {
	var c PageCapture
	var frames []pacing.Frame
	at := time.Duration(0)
	for k, n := range map[int]int{1: 2, 2: 30, 3: 20, 4: 10, 5: 9, 6: 1} {
		for range n {
			frames = append(frames, pacing.Frame{Time: sixty.TimeOf(int64(k))})
		}
	}
	slices.SortFunc(frames, func(a, b pacing.Frame) int { return int(a.Time - b.Time) })
	for i := range frames {
		frames[i].Begin = at
		at += frames[i].Time
	}
	c.Figures = trace(t, frames).Figures(0, at, sixty)
	rows := shareRows([]PageCapture{c, c})
	var labels []string
	sum := 0.0
	for _, r := range rows {
		labels = append(labels, r.label)
		sum += r.shares[1]
	}
	if fmt.Sprint(labels) != "[At 30 fps At 20 fps At 15 fps At 12 fps Other rates]" || sum < 1-1e-9 || sum > 1+1e-9 {
		t.Errorf("%v, sum %v", labels, sum)
	}
}

func TestPercent(t *testing.T) {
	for v, want := range map[float64]string{0: "0.0", 1: "100.0", 0.0001: "< 0.1", 0.9999: "> 99.9", 0.5: "50.0", 0.333: "33.3", 0.99949: "99.9"} {
		if got := percent(v); got != want {
			t.Errorf("%v: %q, want %q", v, got, want)
		}
	}
}

// Everything that is drawn lies in the graphics-safe area of EBU R 95, at every
// size, for long names too; and swatches have their capture's colour.
func TestPageIsSafe(t *testing.T) {
	for _, size := range append([]image.Point{{640, 360}, {320, 180}}, goldenSizes...) {
		if size.X > 2000 && testing.Short() {
			continue
		}
		for n := layout.MinCaptures; n <= layout.MaxCaptures; n++ {
			s := pageSettings(t, size, n)
			for _, long := range []bool{false, true} {
				if long {
					s.Title = strings.Repeat("Over the lake and ", 20)
					s.Captures[n-1].Name = strings.Repeat("Wide Birch ", 30)
					s.Captures[0].Figures.Longest = 90 * time.Second
					s.Captures[0].Figures.Torn = 123456
				}
				p := newPage(t, s)
				if got := len(p.Warnings()); long != (got == 2) {
					t.Errorf("%v, %d captures: warnings %q", size, n, p.Warnings())
				}
				img := p.Image()
				safe := layout.Safe(size)
				seen := map[color.NRGBA]bool{}
				for y := range size.Y {
					for x := range size.X {
						c := img.NRGBAAt(x, y)
						seen[c] = true
						if c != ground && !image.Pt(x, y).In(safe) {
							t.Fatalf("%v, %d captures, long %v: (%d,%d) outside %v is %v", size, n, long, x, y, safe, c)
						}
					}
				}
				for i := range n {
					if !seen[capture[i]] {
						t.Errorf("%v: capture %d has no swatch", size, i+1)
					}
				}
			}
		}
	}
}

// YUV holds the picture as BT.709 limited range, planes packed.
func TestPageYUV(t *testing.T) {
	size := image.Pt(640, 360)
	p := newPage(t, pageSettings(t, size, 2))
	buf := p.YUV()
	if len(buf) != size.X*size.Y*3/2 {
		t.Fatalf("%d bytes", len(buf))
	}
	pl := planesOf(buf, size.X, size.Y, false)
	img := p.Image()
	for y := range size.Y {
		for x := range size.X {
			want := encode(img.NRGBAAt(x, y))
			if pl.y[y*size.X+x] != want.y {
				t.Fatalf("luma at (%d,%d) is %d, want %d", x, y, pl.y[y*size.X+x], want.y)
			}
		}
	}
	flat := encode(ground)
	if pl.u[0] != flat.u || pl.v[len(pl.v)-1] != flat.v {
		t.Error("the ground's chroma is off")
	}
	if !bytes.Equal(buf, newPage(t, pageSettings(t, size, 2)).YUV()) {
		t.Error("the page differs from run to run")
	}
}

func TestPageErrors(t *testing.T) {
	for name, spoil := range map[string]func(*PageSettings){
		"no captures":    func(s *PageSettings) { s.Captures = nil },
		"odd size":       func(s *PageSettings) { s.Size.X++ },
		"tiny":           func(s *PageSettings) { s.Size = image.Pt(10, 10) },
		"glyph of name":  func(s *PageSettings) { s.Captures[0].Name = "שלום" },
		"glyph of title": func(s *PageSettings) { s.Title = "\U0001F680" },
		"style":          func(s *PageSettings) { s.Captures[0].Style = 2 },
	} {
		s := pageSettings(t, image.Pt(640, 360), 2)
		spoil(&s)
		if _, err := NewPage(s); err == nil || !strings.HasPrefix(err.Error(), "deck: ") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// withRemarks is a page of captures of which much is to be said.
func withRemarks(t testing.TB, size image.Point, captures int) PageSettings {
	s := pageSettings(t, size, captures)
	for i := range s.Captures {
		s.Captures[i].Figures.Doubt = pacing.Doubt{Time: time.Duration(i) * time.Second, Seen: 12 * time.Second}
	}
	s.Captures[0].Figures.Ceiling = 3 * time.Second
	return s
}

// A page says whose pacing is uncertain, and which rates are only the least.
func TestPageDoubt(t *testing.T) {
	s := withRemarks(t, hd(), 3)
	want := []string{"Pacing uncertain: 8.3 % of Birch and 17 % of Cedar rests on doubtful frames.",
		"≥ is at least: every captured picture of Alder was new for a time, so the game may have been faster."}
	if got := doubtRemarks(s.Captures); !slices.Equal(got, want) {
		t.Errorf("remarks %q", got)
	}
	for i := range s.Captures[1:] {
		s.Captures[i+1].Figures.Ceiling = time.Second
	}
	if got := strings.Join(doubtRemarks(s.Captures), " "); !strings.Contains(got, "every captured picture of Alder, Birch and Cedar was new") {
		t.Errorf("of three, the page says %q", got)
	}
	s = withRemarks(t, hd(), 3)
	cells := map[string]string{"Mean rate": "≥50.0", "Slowest 1 %": "30.0", "Doubtful": "0.0 8.3 16.7"}
	for _, r := range pageRows(s.Captures) {
		if want, ok := cells[r.label]; ok && !strings.HasPrefix(strings.Join(r.values, " "), want) {
			t.Errorf("%s: %q, want %q", r.label, r.values, want)
		}
		delete(cells, r.label)
	}
	if len(cells) > 0 {
		t.Errorf("no rows %v", cells)
	}
	if got := doubtRemarks(pageSettings(t, hd(), 3).Captures); len(got) > 0 {
		t.Errorf("remarks on captures without doubt: %q", got)
	}
}

func TestPageGoldens(t *testing.T) {
	goldenPicture(t, "page-doubtful", newPage(t, withRemarks(t, image.Pt(640, 360), 3)).Image())
	for _, size := range []image.Point{{640, 360}, {360, 640}, {480, 480}} {
		for n := layout.MinCaptures; n <= layout.MaxCaptures; n++ {
			goldenPicture(t, fmt.Sprintf("page-%dx%d-%d", size.X, size.Y, n), newPage(t, pageSettings(t, size, n)).Image())
		}
	}
}
