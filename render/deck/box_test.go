package deck

import (
	"errors"
	"image"
	"math/rand/v2"
	"strings"
	"testing"
	"unicode"

	"golang.org/x/image/math/fixed"

	"fairframe/fonts"
	"fairframe/layout"
)

// hostile are texts of the kinds that break boxes.
func hostile() []string {
	return []string{
		"", "A", " ", strings.Repeat("W", 300), strings.Repeat("long words ", 27), strings.Repeat("ÅÇÊÑjgpqy|", 8), "Ǻ", "…", "………", "%s%d%!", "<b>&amp;</b>",
		"a\u00a0b", strings.Repeat("-", 120), strings.Repeat("i", 300), "x" + strings.Repeat(" ", 200) + "y",
		"漢字かな交じり文", "שלום", "مرحبا", "e\u0301\u0301\u0301\u0301", "🦅🏔️", "two\nlines", "tab\tbed", "bell\a", "\u202eback", "\u200b\u200d", "bad\xff", "\u2028", "\U000e0041",
	}
}

// any returns a made-up text of up to 300 runes, mostly of what the fonts have.
func anyText(r *rand.Rand) string {
	all := []rune("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789ÅÄÖåäöÇçÑñŠš.,;:!?()[]{}/|_-–+×%·…'\" ")
	var b strings.Builder
	for range r.IntN(300) {
		b.WriteRune(all[r.IntN(len(all))])
	}
	return b.String()
}

// outside reports a pixel that differs between two pictures outside of the boxes.
func outside(a, b *image.NRGBA, boxes []image.Rectangle) (image.Point, bool) {
	for y := a.Rect.Min.Y; y < a.Rect.Max.Y; y++ {
	next:
		for x := a.Rect.Min.X; x < a.Rect.Max.X; x++ {
			if a.NRGBAAt(x, y) == b.NRGBAAt(x, y) {
				continue
			}
			for _, r := range boxes {
				if image.Pt(x, y).In(r) {
					continue next
				}
			}
			return image.Pt(x, y), true
		}
	}
	return image.Point{}, false
}

var screens = []image.Point{{X: 480, Y: 270}, {X: 270, Y: 480}, {X: 256, Y: 256}, {X: 400, Y: 160}}

// TestTextStaysInItsBox sets hostile and random texts as names, details and
// captions on screens of all shapes. Either an error names the glyph that no font
// has, or not one pixel outside the tabs and the caption differs from a screen with
// other texts; and whatever was cut is warned of.
func TestTextStaysInItsBox(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 2))
	for i, size := range screens {
		for captures := 2; captures <= 3; captures++ {
			place := []layout.Place{layout.Below, layout.Over, layout.None}[(i+captures)%3]
			with := func(text string) (*Deck, error) {
				s := demoOf(t, layout.Spec{Size: size, Captures: captures, Place: place, Tabs: true, Caption: place != layout.None}, 60)
				for j := range s.Captures {
					s.Captures[j].Name, s.Captures[j].Detail = text, text
					if text == "" {
						s.Captures[j].Name = "A"
					}
				}
				s.Caption = text
				return New(s)
			}
			plain, err := with("A")
			if err != nil {
				t.Fatal(err)
			}
			want := plain.Image(30)
			boxes := []image.Rectangle{plain.Screen.Caption}
			for _, tab := range plain.Screen.Tabs {
				boxes = append(boxes, tab.Box)
			}
			texts := hostile()
			for range 2 {
				texts = append(texts, anyText(rng))
			}
			for _, text := range texts {
				d, err := with(text)
				if err != nil {
					unset(t, text, err)
					continue
				}
				if at, differs := outside(want, d.Image(30), boxes); differs {
					t.Errorf("%v, %d captures, %v: %.40q leaves its box at %v", size, captures, place, text, at)
				}
				if len([]rune(strings.TrimSpace(text))) >= 290 && len(d.Warnings()) == 0 {
					t.Errorf("%v, %d captures, %v: %.40q was cut in silence", size, captures, place, text)
				}
			}
		}
	}
}

// unset checks that an error is about a character that cannot be set.
func unset(t *testing.T, text string, err error) {
	t.Helper()
	var missing *fonts.MissingError
	if !errors.As(err, &missing) && !strings.Contains(err.Error(), "from right to left") &&
		!strings.Contains(err.Error(), "change places") {
		t.Errorf("%.40q: %v", text, err)
		return
	}
	if missing != nil && missing.Rune != unicode.ReplacementChar && !strings.ContainsRune(text, missing.Rune) {
		t.Errorf("%.40q: the error names %q", text, missing.Rune)
	}
}

// TestPagesStayInTheSafeArea sets the same texts on the pages: nothing is drawn
// outside of the safe area (EBU R 95).
func TestPagesStayInTheSafeArea(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 1))
	for _, size := range screens {
		safe := layout.Safe(size)
		texts := append(hostile(), anyText(rng), anyText(rng))
		for n, text := range texts {
			count := 2 + n%2
			title := TitleSettings{Size: size, Title: text, Caption: text}
			closing := PageSettings{Size: size, Title: text}
			for range count {
				title.Captures = append(title.Captures, Capture{Name: text, Detail: text, Raster: image.Pt(1920, 1080)})
				closing.Captures = append(closing.Captures, PageCapture{Name: text, Raster: image.Pt(1920, 1080)})
			}
			opened, errTitle := NewTitle(title)
			closed, errPage := NewPage(closing)
			for what, p := range map[string]*Page{"title": opened, "closing": closed} {
				if p == nil {
					if what == "title" {
						unset(t, text, errTitle)
					} else {
						unset(t, text, errPage)
					}
					continue
				}
				img := p.Image()
				blank := image.NewNRGBA(img.Rect)
				(&canvas{blank}).fill(blank.Rect, ground)
				if at, differs := outside(img, blank, []image.Rectangle{safe}); differs {
					t.Errorf("%v: the %s page of %.40q is drawn at %v, outside of %v", size, what, text, at, safe)
				}
				if len([]rune(strings.TrimSpace(text))) >= 290 && len(p.Warnings()) == 0 {
					t.Errorf("%v: %s page: %.40q was cut in silence", size, what, text)
				}
			}
		}
	}
}

// TestMarksStayInTheirPane draws marks of hostile notes at random places: they
// keep to their area, their pane, and clear of what they are to avoid.
func TestMarksStayInTheirPane(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 9))
	for _, size := range screens {
		pane := image.Rect(size.X/2&^1, 0, size.X, size.Y)
		strip := image.Rect(0, size.Y*3/4&^1, size.X, size.Y)
		for _, text := range append(hostile(), anyText(rng)) {
			s := MarkSettings{Size: size, Area: pane, Avoid: []image.Rectangle{strip}}
			spot := func() float64 { return rng.Float64()*float64(size.X)*1.4 - float64(size.X)*0.2 }
			for shape := Box; shape <= Note; shape++ {
				m := Mark{Shape: shape, X0: spot(), Y0: spot(), Note: text}
				m.X1, m.Y1 = m.X0, m.Y0
				if shape != Note {
					m.X1, m.Y1 = m.X0+1+rng.Float64()*90, m.Y0+1+rng.Float64()*90
				}
				s.Marks = append(s.Marks, m)
			}
			drawn, err := NewMarks(s)
			if err != nil {
				unset(t, text, err)
				continue
			}
			for i := range s.Marks {
				r := drawn.Bounds(i)
				if r.Empty() {
					continue
				}
				if !r.In(pane) {
					t.Fatalf("%v: %.40q stands at %v, its pane is %v", size, text, r, pane)
				}
				img := drawn.Image(i)
				for y := r.Min.Y; y < r.Max.Y; y++ {
					for x := r.Min.X; x < r.Max.X; x++ {
						if image.Pt(x, y).In(strip) && img.NRGBAAt(x-r.Min.X, y-r.Min.Y).A > 0 {
							t.Fatalf("%v: %.40q is drawn at %d,%d, within %v", size, text, x, y, strip)
						}
					}
				}
			}
		}
	}
}

// TestTextInIsCut: whatever glyphs do, the pixels around the box stay as they are.
func TestTextInIsCut(t *testing.T) {
	set, err := fonts.New()
	if err != nil {
		t.Fatal(err)
	}
	face, err := set.Face(fonts.Bold, 90)
	if err != nil {
		t.Fatal(err)
	}
	c := newCanvas(image.Pt(200, 120))
	box := image.Rect(60, 50, 120, 70) // much smaller than the letters
	c.textIn(face, box, centre, "Ǻgj", bright)
	blank := newCanvas(image.Pt(200, 120))
	if at, differs := outside(c.img, blank.img, []image.Rectangle{box}); differs {
		t.Errorf("a letter leaves the box at %v", at)
	}
	if _, differs := outside(c.img, blank.img, nil); !differs || face.Measure("Ǻgj") < fixed.I(box.Dx()) {
		t.Error("the letters are not larger than the box")
	}
}

// TestWordsFitAtEverySize sets hostile texts on tabs, labels and as captions of the
// sizes that must compose well, in all views: every word ends within its line, every
// line within its box, notes stay, and what was cut is warned of.
func TestWordsFitAtEverySize(t *testing.T) {
	long := []string{"Alder", "Die allerletzte Ausführung des Bergfalken", strings.Repeat("W", 101), strings.Repeat("long words ", 10),
		"Последний перевал на северной гряде", "Η τελευταία διάβαση της βόρειας ράχης", strings.Repeat("i", 120)}
	set, err := fonts.New()
	if err != nil {
		t.Fatal(err)
	}
	for _, size := range []image.Point{{X: 1280, Y: 720}, {X: 1920, Y: 1080}, {X: 3840, Y: 2160}, {X: 1080, Y: 1920}, {X: 1080, Y: 1080}} {
		for n := 2; n <= 3; n++ {
			for _, spec := range []layout.Spec{{View: layout.Columns}, {View: layout.Rows}, {View: layout.Inset}, {View: layout.Inset, Over: true, Opposite: true},
				{View: layout.Alternate}, {View: layout.Difference}, {View: layout.Difference, Alone: true}} {
				spec.Size, spec.Captures, spec.Tabs = size, n, true
				s := demoOf(t, spec, 1)
				s.Fonts = set
				if spec.View == layout.Alternate {
					s.OnScreen = func(int) int { return 0 }
				}
				for range s.Screen.Labels {
					s.Labels = append(s.Labels, Label{Note: "whole"})
				}
				// Nothing is drawn: it would take as long as all other tests here.
				if err := check(&s); err != nil {
					t.Fatal(err)
				}
				s.Screen = shift(s.Screen)
				d := &Deck{Settings: s, em: float64(s.Screen.Type.Small)}
				if err := d.loadFaces(); err != nil {
					t.Fatal(err)
				}
				for _, text := range long {
					if err := d.Fonts.Missing(text); err != nil {
						unset(t, text, err)
						continue
					}
					d.warnings = nil
					for i, tab := range d.Screen.Tabs {
						d.Captures[i].Name, d.Captures[i].Detail, d.Captures[i].Raster, d.Captures[i].Note = text, text, image.Pt(3840, 2160), "1.33x by 1x smooth, tone-mapped"
						words, _ := d.setTab(i, tab)
						said := ""
						for _, w := range words {
							said += " " + w.text
							if end := (w.x + w.face.Measure(w.text)).Ceil(); w.x < fixed.I(tab.Box.Min.X) || end > w.line.Max.X || end > tab.Box.Max.X || w.line.Min.Y < tab.Box.Min.Y || w.line.Max.Y > tab.Box.Max.Y {
								t.Errorf("%v, %d captures, %v: %.30q ends at %d in %v of tab %v", size, n, spec.View, w.text, end, w.line, tab.Box)
							}
						}
						if said = strings.Join(strings.Fields(said), " "); !strings.Contains(said, "1.33x by 1x smooth, tone-mapped") {
							t.Errorf("%v, %d captures, %v: the tab says %q", size, n, spec.View, said)
						}
					}
					for i, l := range d.Screen.Labels {
						step := int(1.3*d.em + 0.5)
						room, most := fixed.I(l.Text.Dx()), max(1, l.Text.Dy()/step)
						note := "difference of luma x4, both 1.33x smooth"
						rows := d.setLabel(Label{Capture: i % n, Name: text, Note: note}, room, most)
						said := ""
						for _, r := range rows {
							if r.width > room {
								t.Errorf("%v, %d captures, %v: a row of the label is %v wide in %v", size, n, spec.View, r.width.Ceil(), l.Text)
							}
							for _, w := range r.words {
								said += " " + w.text
							}
						}
						if len(rows) > most || !strings.Contains(strings.Join(strings.Fields(said), " "), note) {
							t.Errorf("%v, %d captures, %v: the label in %v says %q in %d rows of %d", size, n, spec.View, l.Text, said, len(rows), most)
						}
					}
					if len(text) > 100 && len(d.warnings) == 0 {
						t.Errorf("%v, %d captures, %v: %.30q was cut in silence", size, n, spec.View, text)
					}
				}
			}
		}
	}
}
