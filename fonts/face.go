package fonts

import (
	"image"
	"image/draw"
	"strings"

	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// Face is one style at one size. It is not safe for concurrent use.
type Face struct {
	set                  *Set
	style                Style
	faces                []font.Face // in order of preference
	buf                  sfnt.Buffer
	cap, ascent, descent fixed.Int26_6
}

// CapHeight returns the height of capitals and digits, in 26.6 pixels.
func (f *Face) CapHeight() fixed.Int26_6 { return f.cap }

// Ascent and Descent return the face's extent above and below the baseline.
func (f *Face) Ascent() fixed.Int26_6  { return f.ascent }
func (f *Face) Descent() fixed.Int26_6 { return f.descent }

// face returns the font face that draws r; runes that none has get the first,
// which draws its box for missing glyphs rather than nothing.
func (f *Face) face(r rune) font.Face { return f.faces[max(0, f.set.find(&f.buf, f.style, r))] }

// Measure returns the width of text in 26.6 pixels, the sum of its advances.
func (f *Face) Measure(text string) fixed.Int26_6 {
	var w fixed.Int26_6
	for _, r := range text {
		a, _ := f.face(r).GlyphAdvance(r)
		w += a
	}
	return w
}

// ellipsis stands for what Fit cut away.
const ellipsis = "…"

// Fit returns text if it is at most width wide, else its longest beginning that
// fits with an ellipsis, without a space before it. Combining marks stay with
// their letter. The result is "" when not even the ellipsis fits. shortened
// tells whether anything was cut.
func (f *Face) Fit(text string, width fixed.Int26_6) (fitted string, shortened bool) {
	if f.Measure(text) <= width {
		return text, false
	}
	room := width - f.Measure(ellipsis)
	if room < 0 {
		return "", true
	}
	end := 0
	var w fixed.Int26_6
	for i, r := range text {
		if w <= room && !IsMark(r) {
			end = i
		}
		a, _ := f.face(r).GlyphAdvance(r)
		w += a
	}
	return trimSpace(text[:end]) + ellipsis, true
}

// Wrap breaks text at its spaces into lines of at most that width, most of them
// at the most; a word that is too long for a line of its own is broken inside,
// never before a combining mark. What does not fit the last line is cut as by
// Fit. shortened tells whether anything was cut.
func (f *Face) Wrap(text string, width fixed.Int26_6, most int) (lines []string, shortened bool) {
	words := strings.FieldsFunc(text, isBreak)
	for len(words) > 0 {
		if len(lines)+1 >= most {
			last, short := f.Fit(strings.Join(words, " "), width)
			return append(lines, last), short
		}
		n, w := 0, fixed.Int26_6(0)
		for n < len(words) {
			more := f.Measure(words[n])
			if n > 0 {
				more += f.Measure(" ")
			}
			if w+more > width {
				break
			}
			w += more
			n++
		}
		if n == 0 {
			head := f.head(words[0], width)
			if head == 0 {
				return append(lines, ""), true // not even one letter fits
			}
			lines = append(lines, words[0][:head])
			words[0] = words[0][head:]
			continue
		}
		lines = append(lines, strings.Join(words[:n], " "))
		words = words[n:]
	}
	return lines, false
}

// head returns how many bytes of a word fit, whole letters with their marks.
func (f *Face) head(word string, width fixed.Int26_6) int {
	end := 0
	var w fixed.Int26_6
	for i, r := range word {
		if w <= width && !IsMark(r) {
			end = i
		}
		a, _ := f.face(r).GlyphAdvance(r)
		w += a
	}
	return end
}

// Paint adds the coverage of text to dst with the text's origin (left end of
// the baseline) at dot. Where glyphs overlap the greater coverage counts, so
// the result does not depend on their order. It returns the advance.
func (f *Face) Paint(dst *image.Alpha, dot fixed.Point26_6, text string) fixed.Int26_6 {
	start := dot.X
	for _, r := range text {
		dr, mask, at, advance, ok := f.face(r).Glyph(dot, r)
		if ok {
			lighten(dst, dr, mask, at)
		}
		dot.X += advance
	}
	return dot.X - start
}

// Mask returns the coverage of text set at dot, in a picture just large enough;
// its bounds are in the coordinates of dot. Text without ink gives an empty one.
func (f *Face) Mask(dot fixed.Point26_6, text string) *image.Alpha {
	bounds := image.Rectangle{}
	d := dot
	for _, r := range text {
		dr, _, _, advance, ok := f.face(r).Glyph(d, r)
		if ok {
			bounds = bounds.Union(dr)
		}
		d.X += advance
	}
	m := image.NewAlpha(bounds)
	f.Paint(m, dot, text)
	return m
}

func lighten(dst *image.Alpha, dr image.Rectangle, mask image.Image, at image.Point) {
	clipped := dr.Intersect(dst.Rect)
	if clipped.Empty() {
		return
	}
	at = at.Add(clipped.Min.Sub(dr.Min))
	src, ok := mask.(*image.Alpha)
	if !ok {
		src = image.NewAlpha(image.Rectangle{Max: clipped.Size()})
		draw.Draw(src, src.Rect, mask, at, draw.Src)
		at = image.Point{}
	}
	for y := range clipped.Dy() {
		d := dst.Pix[dst.PixOffset(clipped.Min.X, clipped.Min.Y+y):]
		s := src.Pix[src.PixOffset(at.X, at.Y+y):]
		for x := range clipped.Dx() {
			d[x] = max(d[x], s[x])
		}
	}
}
