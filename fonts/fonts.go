// Package fonts holds the typefaces of the overlay and measures, fits and
// rasterises text in them.
//
// B612 and B612 Mono (SIL Open Font License 1.1, see OFL.txt) are embedded; a
// user's own font may stand in front of them. Text is set without kerning and
// without shaping: every rune takes its own advance, so widths add up, digits
// are tabular and equal numbers always look equal.
package fonts

import (
	_ "embed"
	"fmt"
	"os"
	"slices"
	"unicode"
	"unicode/utf8"

	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/text/unicode/bidi"
)

var (
	//go:embed B612-Regular.otf
	regularOTF []byte
	//go:embed B612-Bold.otf
	boldOTF []byte
	//go:embed B612Mono-Regular.otf
	monoOTF []byte
	//go:embed B612Mono-Bold.otf
	monoBoldOTF []byte
)

// Licence is the text of the embedded fonts' licence.
//
//go:embed OFL.txt
var Licence string

// Style names one of a set's faces.
type Style int

const (
	Regular Style = iota
	Bold
	Mono
	MonoBold
	styles
)

// Set is a choice of fonts for each style. It is immutable and safe for
// concurrent use; the faces made from it are not.
type Set struct {
	fonts [styles][]choice // in order of preference
}

// choice is one font of a style.
type choice struct {
	*sfnt.Font
	foreign bool // a file of the user's, whose glyphs may be of any size
}

// New returns the set of embedded fonts.
func New() (*Set, error) {
	s := new(Set)
	for i, data := range [styles][]byte{regularOTF, boldOTF, monoOTF, monoBoldOTF} {
		f, err := opentype.Parse(data)
		if err != nil {
			return nil, fmt.Errorf("fonts: embedded font %d: %w", i, err)
		}
		s.fonts[i] = []choice{{Font: f}}
	}
	return s, nil
}

// With returns a set that prefers the given font (OpenType or TrueType, single
// or the first of a collection) for the given styles, or for regular and bold
// text if none is given, and falls back to the receiver for glyphs it lacks. In
// the other styles it only fills in for glyphs they lack. name is used in messages only.
func (s *Set) With(name string, data []byte, only ...Style) (*Set, error) {
	f, err := opentype.Parse(data)
	if err != nil {
		c, cerr := opentype.ParseCollection(data)
		if cerr != nil || c.NumFonts() == 0 {
			return nil, fmt.Errorf("fonts: %s is no OpenType or TrueType font: %w", name, err)
		}
		if f, err = c.Font(0); err != nil {
			return nil, fmt.Errorf("fonts: %s: first font of the collection: %w", name, err)
		}
	}
	if err := sane(f); err != nil {
		return nil, fmt.Errorf("fonts: %s: %w", name, err)
	}
	if len(only) == 0 {
		only = []Style{Regular, Bold}
	}
	own := choice{Font: f, foreign: true}
	out := new(Set)
	for style := range styles {
		if slices.Contains(only, style) {
			out.fonts[style] = append([]choice{own}, s.fonts[style]...)
		} else {
			out.fonts[style] = append(slices.Clone(s.fonts[style]), own)
		}
	}
	return out, nil
}

// A font can ask for any room. mostEms is what a glyph may take, several times that of
// the widest ligatures; mostHigh what lines of text may.
const (
	mostEms  = 16
	mostHigh = 4
)

// em is the size at which fonts are looked at.
const em fixed.Int26_6 = 100 << 6

// sane refuses a font whose text would take more room than any text does.
func sane(f *sfnt.Font) error {
	if u := f.UnitsPerEm(); u < 16 || u > 16384 {
		return fmt.Errorf("%d units to the em (OpenType has 16 to 16384)", u)
	}
	m, err := f.Metrics(nil, em, font.HintingNone)
	if err != nil {
		return err
	}
	for _, v := range []fixed.Int26_6{m.Ascent, m.Descent, m.CapHeight} {
		if v > mostHigh*em || v < -mostHigh*em {
			return fmt.Errorf("its lines are %.0f em high", float64(v)/float64(em))
		}
	}
	return nil
}

// modest reports whether a glyph can be drawn, in the room that a glyph takes.
func modest(f *sfnt.Font, buf *sfnt.Buffer, g sfnt.GlyphIndex) bool {
	b, advance, err := f.GlyphBounds(buf, g, em, font.HintingNone)
	if err != nil {
		return false
	}
	for _, v := range []fixed.Int26_6{b.Min.X, b.Min.Y, b.Max.X, b.Max.Y, advance} {
		if v > mostEms*em || v < -mostEms*em {
			return false
		}
	}
	return true
}

// WithFile is With for a font file. A file of more than 64 MiB is refused.
func (s *Set) WithFile(path string, only ...Style) (*Set, error) {
	const limit = 64 << 20
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("fonts: %w", err)
	}
	if !info.Mode().IsRegular() || info.Size() > limit {
		return nil, fmt.Errorf("fonts: %s is no font file (%d bytes)", path, info.Size())
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("fonts: %w", err)
	}
	return s.With(path, data, only...)
}

// MissingError tells which rune no font of a set can draw.
type MissingError struct{ Rune rune }

// Error names the glyph, or the code alone where it has no visible form.
func (e *MissingError) Error() string {
	if e.Rune == utf8.RuneError {
		return "fonts: text is not valid UTF-8"
	}
	return fmt.Sprintf("fonts: no glyph for %q (U+%04X)", string(e.Rune), e.Rune)
}

// Missing returns a *MissingError for the first rune of text that some style of
// the set cannot draw, and nil when there is none. Control characters such as
// line breaks and tabs have no glyph. Letters that run from right to left, and
// what turns the direction, are an error whatever the fonts have: text is set from
// left to right, and backwards it would say something else. So are letters of scripts
// that join, stack or change places: they are set one after the other.
func (s *Set) Missing(text string) error {
	var buf sfnt.Buffer
	for _, r := range text {
		if unicode.In(r, shaped...) {
			return fmt.Errorf("fonts: %q (U+%04X) is of a script whose letters join, stack or change places, "+
				"and text is set one letter after the other", string(r), r)
		}
		for style := range styles {
			if s.find(&buf, style, r) < 0 {
				return &MissingError{r}
			}
		}
		if p, _ := bidi.LookupRune(r); backwards(p.Class()) {
			return fmt.Errorf("fonts: %q (U+%04X) runs from right to left, and text is set from left "+
				"to right only", string(r), r)
		}
	}
	return nil
}

// shaped are the scripts whose letters cannot be set one after the other (The Unicode
// Standard, chapters 9 and 12 to 16, from memory): the letters take another form beside
// others, stand above or below them, or are written in another order than they are read.
var shaped = []*unicode.RangeTable{
	unicode.Arabic, unicode.Syriac, unicode.Mandaic, unicode.Mongolian, unicode.Nko, unicode.Phags_Pa, unicode.Adlam,
	unicode.Devanagari, unicode.Bengali, unicode.Gurmukhi, unicode.Gujarati, unicode.Oriya, unicode.Tamil,
	unicode.Telugu, unicode.Kannada, unicode.Malayalam, unicode.Sinhala, unicode.Thai, unicode.Lao, unicode.Tibetan,
	unicode.Myanmar, unicode.Khmer, unicode.Balinese, unicode.Javanese, unicode.Tai_Tham, unicode.Cham,
	unicode.New_Tai_Lue, unicode.Limbu, unicode.Lepcha, unicode.Meetei_Mayek, unicode.Sundanese, unicode.Buginese,
	jamo,
}

// jamo are the parts of Korean syllables that are put together.
var jamo = &unicode.RangeTable{R16: []unicode.Range16{{Lo: 0x1100, Hi: 0x11ff, Stride: 1}, {Lo: 0xa960, Hi: 0xa97f, Stride: 1},
	{Lo: 0xd7b0, Hi: 0xd7ff, Stride: 1}}}

// backwards reports whether a class of characters runs from right to left or turns
// the direction (Unicode Standard Annex 9, table 4).
func backwards(c bidi.Class) bool {
	switch c {
	case bidi.R, bidi.AL, bidi.AN, bidi.LRO, bidi.RLO, bidi.LRE, bidi.RLE, bidi.PDF, bidi.LRI, bidi.RLI,
		bidi.FSI, bidi.PDI:
		return true
	}
	return false
}

// find returns the index of the first font of a style that has a glyph for r,
// or -1.
func (s *Set) find(buf *sfnt.Buffer, style Style, r rune) int {
	if r == utf8.RuneError || r < ' ' || r == 0x7f {
		return -1
	}
	for i, f := range s.fonts[style] {
		if g, err := f.GlyphIndex(buf, r); err == nil && g != 0 && (!f.foreign || modest(f.Font, buf, g)) {
			return i
		}
	}
	return -1
}

// Face returns the style at a size in pixels (the em, not a point size).
func (s *Set) Face(style Style, px float64) (*Face, error) {
	if style < 0 || style >= styles {
		return nil, fmt.Errorf("fonts: unknown style %d", int(style))
	}
	if !(px > 0 && px <= 4096) {
		return nil, fmt.Errorf("fonts: size %v px is outside 0..4096", px)
	}
	f := &Face{set: s, style: style}
	for _, sf := range s.fonts[style] {
		face, err := opentype.NewFace(sf.Font,
			&opentype.FaceOptions{Size: px, DPI: 72, Hinting: font.HintingNone})
		if err != nil {
			return nil, fmt.Errorf("fonts: face of %v px: %w", px, err)
		}
		f.faces = append(f.faces, face)
	}
	m := f.faces[0].Metrics()
	f.cap, f.ascent, f.descent = m.CapHeight, m.Ascent, m.Descent
	if f.cap <= 0 {
		f.cap = fixed.Int26_6(px * 64 * 0.7)
	}
	return f, nil
}
