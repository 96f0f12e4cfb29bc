package fonts

import (
	"errors"
	"image"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/image/math/fixed"
)

func newSet(t testing.TB) *Set {
	t.Helper()
	s, err := New()
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func newFace(t testing.TB, style Style, px float64) *Face {
	t.Helper()
	f, err := newSet(t).Face(style, px)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// B612's own metrics, read with another program from the embedded files
// (2000 units an em): digits advance by 1300 units in every face, capitals are
// 1500 high.
func TestMeasure(t *testing.T) {
	for style := range styles {
		f := newFace(t, style, 20)
		for _, d := range "0123456789" {
			if w := f.Measure(string(d)); w != fixed.I(13) {
				t.Errorf("style %d: %c is %v wide, want 13 px", style, d, w)
			}
		}
		if f.CapHeight() != fixed.I(15) {
			t.Errorf("style %d: capitals are %v high, want 15 px", style, f.CapHeight())
		}
	}
	f := newFace(t, Regular, 17.3)
	// Widths are not rounded to whole pixels, and they add up.
	if w := f.Measure("1"); w&63 == 0 {
		t.Errorf("a digit at 17.3 px is %v wide, which looks truncated", w)
	}
	sum := fixed.Int26_6(0)
	for _, r := range "AVAT To 60.0" {
		sum += f.Measure(string(r))
	}
	if w := f.Measure("AVAT To 60.0"); w != sum {
		t.Errorf("text is %v wide, its runes %v", w, sum)
	}
	if w := f.Measure("60.0"); w != f.Measure("11.7") {
		t.Errorf("60.0 and 11.7 differ in width")
	}
}

func TestFit(t *testing.T) {
	f := newFace(t, Regular, 20)
	for _, c := range []struct {
		text  string
		width fixed.Int26_6
		want  string
		short bool
	}{
		{"Alder", fixed.I(1000), "Alder", false},
		{"Alder", f.Measure("Alder"), "Alder", false},
		{"Alder", f.Measure("Alder") - 1, "Ald…", true},
		{"clear sky", f.Measure("clear sk"), "clear…", true}, // no space before the ellipsis
		{"Alder", f.Measure("…"), "…", true},
		{"Alder", f.Measure("…") - 1, "", true},
		{"Alder", -5, "", true},
		{"", 0, "", false},
		{"e\u0301e\u0301e\u0301", f.Measure("e\u0301…"), "e\u0301…", true},
	} {
		got, short := f.Fit(c.text, c.width)
		if got != c.want || short != c.short {
			t.Errorf("%q in %v: %q %v, want %q %v", c.text, c.width, got, short, c.want, c.short)
		}
		if got != "" && f.Measure(got) > c.width {
			t.Errorf("%q is wider than %v", got, c.width)
		}
	}
}

func TestWrap(t *testing.T) {
	f := newFace(t, Regular, 20)
	for _, c := range []struct {
		text  string
		width string // as wide as this
		most  int
		want  string
		short bool
	}{
		{"clear sky", "clear sky", 2, "clear sky", false},
		{"clear sky", "clear sk", 2, "clear|sky", false},
		{"  clear   sky ", "clear sk", 2, "clear|sky", false},
		{"clear sky", "clear sk", 1, "clear…", true},
		{"over the lake, clear sky", "over the", 2, "over the|lake, c…", true},
		{"over the lake, clear sky", "over the", 4, "over the|lake,|clear|sky", false},
		{"abcdefgh", "abc", 3, "abc|def|gh", false},
		{"abcdefgh", "abcde", 2, "abcde|fgh", false},
		{"abcdefgh", "abc", 2, "abc|d…", true},
		{"a abcdefgh", "abc", 4, "a|abc|def|gh", false},
		{"e\u0301e\u0301e\u0301", "e\u0301e\u0301", 2, "e\u0301e\u0301|e\u0301", false},
		{"clear\u00a0sky", "clear s", 2, "clear\u00a0s|ky", false},
		{"", "a", 2, "", false},
		{"   ", "a", 2, "", false},
		{"wide", "", 3, "", true},
	} {
		lines, short := f.Wrap(c.text, f.Measure(c.width), c.most)
		if got := strings.Join(lines, "|"); got != c.want || short != c.short {
			t.Errorf("%q in %q: %q %v, want %q %v", c.text, c.width, got, short, c.want, c.short)
		}
		for _, l := range lines {
			if f.Measure(l) > f.Measure(c.width) {
				t.Errorf("%q is wider than %q", l, c.width)
			}
		}
	}
}

func TestMissing(t *testing.T) {
	s := newSet(t)
	for _, good := range []string{
		"", "Kestrel Pass", "1408 × 792 · +86 % pixels", "−46 % ±0 % – … ¼ speed", "Ærø, façade, Über", "→",
	} {
		if err := s.Missing(good); err != nil {
			t.Errorf("%q: %v", good, err)
		}
	}
	for text, want := range map[string]string{
		"a\u2E9Eb":     "fonts: no glyph for \"\u2E9E\" (U+2E9E)",
		"two\nlines":   "fonts: no glyph for \"\\n\" (U+000A)",
		"tab\tbed":     "fonts: no glyph for \"\\t\" (U+0009)",
		"nul\x00":      "fonts: no glyph for \"\\x00\" (U+0000)",
		"del\x7f":      "fonts: no glyph for \"\\x7f\" (U+007F)",
		"esc\x1b[31m":  "fonts: no glyph for \"\\x1b\" (U+001B)",
		"e\u0301":      "fonts: no glyph for \"\u0301\" (U+0301)",
		"\U0001F985":   "fonts: no glyph for \"\U0001F985\" (U+1F985)",
		"bad\xffbytes": "fonts: text is not valid UTF-8",
		"\u202Eback":   "fonts: no glyph for \"\\u202e\" (U+202E)",
	} {
		err := s.Missing(text)
		var missing *MissingError
		if !errors.As(err, &missing) || err.Error() != want {
			t.Errorf("%q: %v, want %s", text, err, want)
		}
	}
}

// Whatever fonts there are, letters that would have to be joined or to change places are
// refused: never wrong letters in a clip.
func TestShapedScriptsAreRefused(t *testing.T) {
	s := newSet(t)
	for _, text := range []string{"\u0633\u0644\u0627\u0645", "\u0928\u092e\u0938\u094d\u0924\u0947", "\u0e2a\u0e27\u0e31\u0e2a\u0e14\u0e35",
		"\u0b95\u0bcb", "\u1780\u17d2\u1798", "\u1100\u1161", "Pass \u0915\u093f"} {
		if err := s.Missing(text); err == nil || !strings.Contains(err.Error(), "change places") {
			t.Errorf("%q: %v", text, err)
		}
	}
	for _, text := range []string{"\u05e9\u05dc\u05d5\u05dd"} { // Hebrew runs backwards, if a font has it
		if err := s.Missing(text); err == nil {
			t.Errorf("%q is not refused", text)
		}
	}
	for _, text := range []string{"\u0391\u03b8\u03ae\u03bd\u03b1", "Überholmanöver"} {
		if err := s.Missing(text); err != nil && strings.Contains(err.Error(), "change places") {
			t.Errorf("%q: %v", text, err)
		}
	}
}

func TestHostileTextDoesNotPanic(t *testing.T) {
	f := newFace(t, Bold, 24)
	for _, text := range []string{"\x00\n\r\t", "\xff\xfe\x80", strings.Repeat("\u0301", 500), "\u202E\u200D\uFEFF", strings.Repeat("W", 5000)} {
		f.Measure(text)
		f.Fit(text, fixed.I(50))
		f.Mask(fixed.P(0, 0), text[:min(len(text), 64)])
	}
}

func TestMask(t *testing.T) {
	f := newFace(t, Bold, 40)
	m := f.Mask(fixed.P(100, 200), "60.0")
	ink := 0
	for _, v := range m.Pix {
		if v == 255 {
			ink++
		}
	}
	if ink < 200 {
		t.Errorf("only %d pixels of ink", ink)
	}
	// Digits stand on the baseline, up to their height, right of the origin.
	if r := m.Rect; r.Min.X < 99 || r.Max.X > 100+f.Measure("60.0").Ceil()+1 || r.Min.Y < 200-f.CapHeight().Ceil()-2 || r.Max.Y > 202 {
		t.Errorf("bounds %v", r)
	}
	// Painting into a smaller picture clips.
	small := image.NewAlpha(image.Rect(110, 180, 120, 190))
	f.Paint(small, fixed.P(100, 200), "60.0")
	for y := 180; y < 190; y++ {
		for x := 110; x < 120; x++ {
			if small.AlphaAt(x, y) != m.AlphaAt(x, y) {
				t.Fatalf("pixel %d,%d is %v, want %v", x, y, small.AlphaAt(x, y), m.AlphaAt(x, y))
			}
		}
	}
	if !f.Mask(fixed.P(0, 0), " ").Rect.Empty() {
		t.Error("a space has ink")
	}
}

func TestOwnFont(t *testing.T) {
	s := newSet(t)
	dir := t.TempDir()
	own := filepath.Join(dir, "own.otf")
	if err := os.WriteFile(own, monoBoldOTF, 0o644); err != nil {
		t.Fatal(err)
	}
	with, err := s.WithFile(own)
	if err != nil {
		t.Fatal(err)
	}
	f, err := with.Face(Regular, 20)
	if err != nil {
		t.Fatal(err)
	}
	if w := f.Measure("i"); w != fixed.I(13) {
		t.Errorf("i is %v wide; the own monospaced font is not in use", w)
	}
	if g, _ := s.Face(Regular, 20); g.Measure("i") == fixed.I(13) {
		t.Error("the set it was made from has changed")
	}
	text := filepath.Join(dir, "text.otf")
	if err := os.WriteFile(text, []byte("no font at all"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := s.WithFile(text); err == nil || !strings.Contains(err.Error(), "is no OpenType or TrueType font") {
		t.Errorf("a text file: %v", err)
	}
	if _, err := s.WithFile(dir); err == nil || !strings.Contains(err.Error(), "is no font file") {
		t.Errorf("a folder: %v", err)
	}
	if _, err := s.WithFile(filepath.Join(dir, "none.otf")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a missing file: %v", err)
	}
	for n := 0; n < len(boldOTF); n += len(boldOTF)/37 + 1 {
		// A truncated font is an error here or at the first glyph, no panic.
		if cut, err := s.With("cut.otf", boldOTF[:n]); err == nil {
			if f, err := cut.Face(Bold, 20); err == nil {
				f.Mask(fixed.P(0, 0), "Alder 60.0")
			}
		}
	}
}

func TestFaceErrors(t *testing.T) {
	s := newSet(t)
	for _, px := range []float64{0, -1, 1e9} {
		if _, err := s.Face(Regular, px); err == nil {
			t.Errorf("a face of %v px", px)
		}
	}
	if _, err := s.Face(styles, 20); err == nil {
		t.Error("an unknown style")
	}
}

func TestLicence(t *testing.T) {
	for _, want := range []string{"SIL OPEN FONT LICENSE Version 1.1", "Copyright 2012 AIRBUS"} {
		if !strings.Contains(Licence, want) {
			t.Errorf("the licence lacks %q", want)
		}
	}
}
