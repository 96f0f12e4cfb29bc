package deck

import (
	"fmt"
	"image"
	"math"
	"strings"

	"fairframe/layout"
)

// pageDrawing is a page while it is drawn.
type pageDrawing struct {
	PageSettings
	out      picture
	em       float64
	safe     image.Rectangle
	rows     []pageRow
	warnings []string

	small, bold, name, title, value, large typeface
}

func newPageDrawing(s PageSettings) (*pageDrawing, error) {
	d := &pageDrawing{PageSettings: s, em: pageEm(s.Size, len(s.Captures)), safe: layout.Safe(s.Size),
		rows: pageRows(s.Captures)}
	px := func(ems float64) float64 { return math.Round(ems * d.em) }
	d.small = typeface{px: d.em}
	d.bold = typeface{bold: true, px: d.em}
	d.name = typeface{bold: true, px: px(1.3)}
	d.title = typeface{bold: true, px: px(1.5)}
	d.value = typeface{bold: true, px: px(1.15)}
	d.large = typeface{bold: true, px: px(1.8)}
	types, err := newTypecase(s.Fonts, d.small, d.bold, d.name, d.title, d.value, d.large)
	if err != nil {
		return nil, err
	}
	d.out = picture{newCanvas(s.Size), types}
	return d, nil
}

// pageEm is the size of a page's smallest text. Four columns leave a tall page no room
// for that of other stills, so there it is as small as the smallest text may be.
func pageEm(size image.Point, captures int) float64 {
	if captures > 3 && size.X < size.Y {
		return math.Ceil(float64(size.X) / 42)
	}
	return stillEm(size)
}

func (d *pageDrawing) warn(format string, args ...any) {
	d.warnings = append(d.warnings, fmt.Sprintf(format, args...))
}

// draw sets the page: the title, a column a capture, a row a figure, and what the
// figures mean at the foot. Rows take the height there is.
func (d *pageDrawing) draw() {
	em, safe, types := d.em, d.safe, d.out.types
	d.out.fill(d.out.img.Rect, ground)
	d.out.canvas = d.out.within(safe) // whatever the glyphs do
	left0, right0 := float64(safe.Min.X), float64(safe.Max.X)
	y := float64(safe.Min.Y)

	about := "key figures, whole scene (" + seconds(d.Length) + ")"
	room := right0 - left0
	aboutBelow := d.Title == "" || types.width(d.title, d.Title)+em+types.width(d.small, about) > room
	title, short := types.wrap(d.title, d.Title, room, headingLines(d.Size))
	if short {
		d.warn("page title shortened to %q", strings.Join(title, " "))
	}
	for _, line := range title {
		base := types.below(d.title, y+em)
		d.out.text(d.title, left0, base, left, line, bright)
		if !aboutBelow {
			d.out.text(d.small, right0, base, right, about, soft)
		}
		y += 2.1 * em
	}
	if aboutBelow {
		d.out.text(d.small, left0, types.below(d.small, y+0.7*em), left, about, soft)
		y += 1.6 * em
	}
	y += 0.5 * em

	remarks := d.notes(room, append(doubtRemarks(d.Captures), d.Remarks...))
	notes := d.notes(room, d.definitions())
	foot := float64(safe.Max.Y) - float64(len(remarks)+len(notes))*1.35*em
	for i, n := range append(remarks, notes...) {
		ink := soft
		if i < len(remarks) {
			ink = bright
		}
		d.out.text(d.small, left0, types.below(d.small, foot+(float64(i)+0.42)*1.35*em), left, n, ink)
	}
	foot -= 0.6 * em

	n := len(d.Captures)
	gap := 1.1 * em
	var x, column float64
	for _, long := range []bool{true, false} {
		labels := 0.0
		for i := range d.rows {
			r := &d.rows[i]
			text := r.label
			if long && r.long != "" {
				text = r.long
			}
			labels = max(labels, types.width(d.small, text))
		}
		x = left0 + labels + gap
		column = (right0 - x - float64(n-1)*gap) / float64(n)
		if long && column >= 11*em {
			for i := range d.rows {
				if r := &d.rows[i]; r.long != "" {
					r.label = r.long
				}
			}
			break
		}
	}
	head := d.heads(x, y, column, gap)
	// The rows share what is left; beyond three lines of text they would float
	// apart.
	weight := 0.0
	for _, r := range d.rows {
		weight += rowWeight(r)
	}
	unit := min((foot-head)/weight, 3.2*em)
	y = head + max(0, min((foot-head-unit*weight)/2, 1.5*em))
	hairline := max(1, int(em/20+0.5))
	for _, r := range d.rows {
		h := unit * rowWeight(r)
		d.out.fill(image.Rect(safe.Min.X, int(math.Round(y)), safe.Max.X, int(math.Round(y))+hairline), hair)
		d.row(r, x, y, h, column, gap, left0)
		y += h
	}
	d.out.fill(image.Rect(safe.Min.X, int(math.Round(y)), safe.Max.X, int(math.Round(y))+hairline), hair)
}

// rowWeight is a row's height in parts.
func rowWeight(r pageRow) float64 {
	if r.large {
		return 1.45
	}
	return 1
}

// heads draws swatch, name and raster over each column and returns where they
// end.
func (d *pageDrawing) heads(x, y, column, gap float64) float64 {
	em, types := d.em, d.out.types
	lines := make([][]string, len(d.Captures)) // what is known of the picture
	most := 0
	fits := func(s string) bool { return types.width(d.small, s) <= column }
	for i, c := range d.Captures {
		if c.Raster.X <= 0 || c.Raster.Y <= 0 {
			continue
		}
		text := raster(c.Raster)
		if !fits(text) {
			text = strings.ReplaceAll(text, " × ", "×")
		}
		lines[i] = []string{text}
		long, short := c.Base.ratio(c.Raster)
		switch {
		case long == "":
		case fits(text + " · " + long):
			lines[i] = []string{text + " · " + long}
		case fits(long):
			lines[i] = append(lines[i], long)
		case fits(short):
			lines[i] = append(lines[i], short)
		default:
			lines[i] = append(lines[i], layout.PixelRatio(c.Raster, c.Base.Raster), "on "+c.Base.Name)
		}
		most = max(most, len(lines[i]))
	}
	for i, c := range d.Captures {
		x0 := x + float64(i)*(column+gap)
		thick := max(2, int(0.3*em+0.5))
		top := int(y + 0.2*em)
		d.out.swatch(image.Rect(int(x0), top, int(x0+column), top+thick), c.Style-1, em)
		name, short := types.fit(d.name, c.Name, column)
		if short {
			d.warn("name of capture %d shortened to %q on the closing page", i+1, name)
		}
		d.out.text(d.name, x0, types.below(d.name, y+1.5*em), left, name, bright)
		for j, text := range lines[i] {
			if text, short = types.fit(d.small, text, column); short {
				d.warn("raster of capture %d shortened to %q on the closing page", i+1, text)
			}
			d.out.text(d.small, x0, types.below(d.small, y+(2.95+1.35*float64(j))*em), left, text, soft)
		}
	}
	return y + (2.6+1.35*float64(most))*em
}

// row draws one figure of all captures: numbers right-aligned, so that digits
// stand below digits, and shares with a bar.
func (d *pageDrawing) row(r pageRow, x, y, h, column, gap, left0 float64) {
	em, types := d.em, d.out.types
	face := d.value
	if r.large {
		face = d.large
	}
	mid := y + h/2
	base := types.below(face, mid)
	d.out.text(d.small, left0, base, left, r.label, soft)
	// Numbers end where the widest number and unit of the page do, in the middle
	// of wide columns; bars fill what is left of them.
	number := types.width(d.large, "000.0")
	unit := 0.4*em + types.width(d.small, "fps")
	end := min(column-unit, number)
	for i, v := range r.values {
		x0 := x + float64(i)*(column+gap)
		d.out.text(face, x0+end, base, right, v, bright)
		words := r.unit
		if r.units != nil {
			words = r.units[i]
		}
		if v == unknown || words == "" {
			continue
		}
		if r.change != nil && r.change[i] != "" {
			if long := words + "  " + r.change[i]; end+0.4*em+types.width(d.small, long) <= column {
				words = long
			}
		}
		d.out.text(d.small, x0+end+0.4*em, base, left, words, soft)
		if r.shares == nil {
			continue
		}
		b0, b1 := x0+end+unit+0.6*em, x0+column
		if b1-b0 < 4*em {
			continue
		}
		style := d.Captures[i].Style - 1
		thick := math.Round(0.6 * em)
		top := math.Round(mid - thick/2)
		d.out.boxes("", []box{{b0, top, b1, top + thick}}, well)
		d.out.boxes("", []box{{b0, top, b0 + (b1-b0)*min(r.shares[i], 1), top + thick}}, capture[style])
	}
}

// notes returns sentences in lines of at most that width. One that does not fit
// on what is left of a line begins the next.
func (d *pageDrawing) notes(width float64, sentences []string) []string {
	fits := func(s string) bool { return d.out.types.width(d.small, s) <= width }
	var lines []string
	line := ""
	put := func(text, space string) {
		switch {
		case line == "":
			line = text
		case fits(line + space + text):
			line += space + text
		default:
			lines = append(lines, line)
			line = text
		}
	}
	for _, note := range sentences {
		if fits(note) {
			put(note, "  ")
			continue
		}
		if line != "" {
			lines, line = append(lines, line), ""
		}
		for _, word := range strings.Fields(note) {
			put(word, " ")
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}
