package deck

import (
	"image"
	"image/color"
	"slices"
	"strings"

	"golang.org/x/image/math/fixed"

	"fairframe/fonts"
	"fairframe/layout"
)

// emphasis is how a tab stands to the others.
type emphasis int

const (
	plain emphasis = iota
	lit
	dim
)

// drawTabs draws the name tabs that stand in the strip.
func (d *Deck) drawTabs() {
	how := plain
	if d.OnScreen != nil {
		how = dim
	}
	for i, t := range d.Screen.Tabs {
		if t.Box.In(d.static.img.Rect) {
			d.drawTab(d.static, i, t, how)
		}
	}
	if d.OnScreen == nil {
		return
	}
	for i, t := range d.Screen.Tabs {
		c := d.static.clone()
		g := d.underTabs()
		if d.Screen.Place != layout.None {
			g = well
			g.A = d.static.img.NRGBAAt(t.Box.Min.X, t.Box.Min.Y).A
		}
		c.fill(t.Box, g)
		d.drawTab(c, i, t, lit)
		d.lit = append(d.lit, c.planes(t.Box, d.alpha))
	}
}

// light makes the tab of the capture on screen stand out.
func (d *Deck) light(p *planes, k int) {
	if d.OnScreen == nil || len(d.lit) == 0 {
		return
	}
	i := d.OnScreen(k)
	if i < 0 || i >= len(d.lit) {
		return
	}
	src, r := &d.lit[i], d.Screen.Tabs[i].Box
	plane := func(dst, from []byte, half int) {
		w := r.Dx() / half
		for y := range r.Dy() / half {
			copy(dst[(r.Min.Y/half+y)*(p.w/half)+r.Min.X/half:][:w], from[y*w:])
		}
	}
	plane(p.y, src.y, 1)
	plane(p.u, src.u, 2)
	plane(p.v, src.v, 2)
	if p.a != nil {
		plane(p.a, src.a, 1)
	}
}

// underTabs is what the strip has under its tabs.
func (d *Deck) underTabs() color.NRGBA {
	g := ground
	switch d.Screen.Place {
	case layout.None:
		g.A = 0
	case layout.Over:
		g.A = d.backing()
	}
	return g
}

// drawTab draws a name tab: a swatch of the capture's line, its name, and what is
// known of its picture. The tab of the capture on screen says so, has a lighter
// ground and the capture's line along its edge; those of others are dim.
func (d *Deck) drawTab(c *canvas, i int, t layout.Tab, how emphasis) {
	one := d.Captures[i]
	if _, note := d.noteDoubt(i); one.Name == "" && one.Detail == "" && note == "" &&
		one.Raster == (image.Point{}) {
		return
	}
	if one.Name == "" && how == dim {
		return // a note alone belongs to what is on screen
	}
	words, end := d.setTab(i, t)
	if d.Screen.Place == layout.None {
		// Without a strip a tab has its own background, from the pane's edge
		// to the end of its text.
		box := t.Box
		box.Max.X = min(box.Max.X, max(end, t.Swatch.Max.X)+int(d.em))
		g := ground
		if how == lit {
			g = well
		}
		g.A = d.backing()
		c.fill(box, g)
	}
	if one.Name != "" {
		c.swatch(t.Swatch, d.style(i), d.em)
	}
	if d.Screen.Place != layout.None && how != dim {
		// The capture's line also runs along the foot of its whole pane.
		thick := 0.2
		if how == lit {
			thick = 0.32
		}
		c.swatch(image.Rect(t.Box.Min.X, t.Box.Min.Y, t.Box.Max.X, t.Box.Min.Y+max(2, int(thick*d.em))),
			d.style(i), d.em)
	}
	for _, w := range words {
		col := w.colour
		if how == dim {
			if w.text == onScreen {
				continue
			}
			col = soft
		}
		c.within(t.Box).textAt(w.face, w.x, w.line, left, w.text, col)
	}
}

// onScreen is what the tab of the capture on screen says of it.
const onScreen = "on screen"

// word is a piece of text with its place.
type word struct {
	text   string
	face   *fonts.Face
	colour color.NRGBA
	x      fixed.Int26_6
	line   image.Rectangle
}

// tabText is what a tab says; empty parts are left out.
type tabText struct{ name, detail, raster, ratio, shortRatio, note, state, sound string }

// setTab fits the text of capture i's tab. Where room is short the parts give
// way in this order: the word "pixels" of the ratio, the detail, whose sound is heard, the pixel
// ratio, the raster, the end of the name. The note stays, because a hidden scale misleads.
func (d *Deck) setTab(i int, t layout.Tab) (words []word, end int) {
	c := d.Captures[i]
	if c.Name == "" {
		// A note alone has no swatch; its text begins where that would be.
		t.Lines = slices.Clone(t.Lines)
		for j := range t.Lines {
			t.Lines[j].Min.X = t.Swatch.Min.X
		}
	}
	long, short := d.noteDoubt(i)
	full := tabText{name: c.Name, detail: c.Detail, note: long, sound: c.Sound}
	if d.OnScreen != nil && c.Name != "" {
		full.state = onScreen
	}
	if c.Raster.X > 0 && c.Raster.Y > 0 {
		full.raster = raster(c.Raster)
		full.ratio, full.shortRatio = c.Base.ratio(c.Raster)
	}
	for _, full.note = range []string{long, short} {
		if words, end, ok := d.flow(t, full); ok {
			return words, end
		}
	}
	try := full
	lost := func(format string, args ...any) {
		d.warn("name tab of capture %d: "+format, append([]any{i + 1}, args...)...)
	}
	if try.detail != "" {
		if w, e, short, ok := d.shorten(t, try, &try.detail, 6); ok {
			lost("detail shortened to %q", short)
			return w, e
		}
		lost("detail %q left out", try.detail)
		try.detail = ""
		if words, end, ok := d.flow(t, try); ok {
			return words, end
		}
	}
	if w, e, short, ok := d.shorten(t, try, &try.name, 14); ok {
		lost("name shortened to %q", short)
		return w, e
	}
	for _, part := range []struct {
		text *string
		what string
	}{{&try.sound, "whose sound it is,"}, {&try.ratio, "pixel ratio"}, {&try.raster, "raster"}} {
		if *part.text == "" {
			continue
		}
		lost("%s %q left out", part.what, *part.text)
		*part.text = ""
		if words, end, ok := d.flow(t, try); ok {
			return words, end
		}
	}
	if w, e, short, ok := d.shorten(t, try, &try.name, 1); ok {
		lost("name shortened to %q", short)
		return w, e
	}
	// A note longer than a whole line is the last thing to give way.
	lost("name left out, note %q cut", try.note)
	line := t.Lines[len(t.Lines)-1]
	note, _ := d.faces.small.Fit(try.note, fixed.I(line.Dx()))
	w := word{note, d.faces.small, bright, fixed.I(line.Min.X), line}
	return []word{w}, line.Max.X
}

// shorten looks for the longest beginning of *part, of at least least runes,
// with which the text fits. part points into text.
func (d *Deck) shorten(t layout.Tab, text tabText, part *string,
	least int) (words []word, end int, short string, ok bool) {
	whole := []rune(*part)
	keep := *part
	defer func() { *part = keep }()
	isName := text.name == keep
	for n := len(whole) - 1; n >= least; n-- {
		if fonts.IsMark(whole[n]) {
			continue // which stays with its letter
		}
		short = strings.TrimRight(string(whole[:n]), " ") + "…"
		if isName {
			text.name = short
		} else {
			text.detail = short
		}
		if words, end, ok = d.flow(t, text); ok {
			return words, end, short, true
		}
	}
	return nil, 0, "", false
}

// flow sets the parts, with the shorter ratio if there is no room for the longer one.
func (d *Deck) flow(t layout.Tab, text tabText) (words []word, end int, ok bool) {
	if words, end, ok := d.flowExactly(t, text); ok || text.ratio == "" {
		return words, end, ok
	}
	text.ratio = text.shortRatio
	return d.flowExactly(t, text)
}

// flowExactly sets the parts one after the other, each on the first line from
// the present one that has room for it; what is known of the picture begins a
// line of its own where there are several.
func (d *Deck) flowExactly(t layout.Tab, text tabText) (words []word, end int, ok bool) {
	line := 0
	x := fixed.I(t.Lines[0].Min.X)
	first := true
	put := func(s string, f *fonts.Face, col color.NRGBA, j joint) bool {
		if s == "" {
			return true
		}
		gap := fixed.Int26_6(0)
		if !first {
			gap = fixed.Int26_6(d.em * 0.7 * 64)
			if j != apart {
				gap = d.faces.small.Measure(string(j))
			}
		}
		w := f.Measure(s)
		if x+gap+w > fixed.I(t.Lines[line].Max.X) {
			if line++; line == len(t.Lines) {
				return false
			}
			x, gap, first = fixed.I(t.Lines[line].Min.X), 0, true
			if w > fixed.I(t.Lines[line].Dx()) {
				return false
			}
		}
		if j == dotted && !first {
			words = append(words, word{string(j), d.faces.small, soft, x, d.small(t, line)})
		}
		x += gap
		words = append(words, word{s, f, col, x, t.Lines[line]})
		x += w
		end = max(end, x.Ceil())
		first = false
		return true
	}
	if !put(text.name, d.faces.name, bright, apart) {
		return nil, 0, false
	}
	named := line
	newline := func() {
		if len(t.Lines) > 1 && line == 0 {
			line, x, first = 1, fixed.I(t.Lines[1].Min.X), true
		}
	}
	ok = put(text.detail, d.faces.small, soft, apart) && put(text.state, d.faces.smallBold, bright, apart) &&
		put(text.sound, d.faces.small, bright, apart)
	newline()
	about := apart
	if text.detail != "" {
		about = dotted
	}
	ok = ok && put(text.raster, d.faces.small, soft, about) &&
		put(text.ratio, d.faces.small, soft, dotted) &&
		d.putNote(t, text, put)
	if !ok {
		return nil, 0, false
	}
	// On the name's line small text shares the name's baseline.
	for i := range words {
		w := &words[i]
		if w.line == t.Lines[named] && w.face != d.faces.name {
			w.line = d.small(t, named)
		}
	}
	return words, end, true
}

// putNote puts the note: phrase by phrase if no line has room for all of it, and a
// phrase word by word if none has room for that.
func (d *Deck) putNote(t layout.Tab, text tabText,
	put func(string, *fonts.Face, color.NRGBA, joint) bool) bool {
	j := apart
	if text.detail+text.raster+text.ratio != "" {
		j = dotted
	}
	room := fixed.I(t.Lines[len(t.Lines)-1].Dx())
	if len(t.Lines) == 1 || d.faces.small.Measure(text.note) <= room {
		return put(text.note, d.faces.small, bright, j)
	}
	for n, part := range strings.Split(text.note, string(dotted)) {
		if n > 0 {
			j = dotted
		}
		for _, phrase := range strings.SplitAfter(part, ", ") {
			pieces := []string{strings.TrimRight(phrase, " ")}
			if d.faces.small.Measure(pieces[0]) > room {
				pieces = strings.Fields(phrase)
			}
			for _, piece := range pieces {
				if !put(piece, d.faces.small, bright, j) {
					return false
				}
				j = spaced
			}
		}
	}
	return true
}

// joint is what stands between two parts of a tab on one line.
type joint string

const (
	apart  joint = "" // a wider gap
	dotted joint = " · "
	spaced joint = " "
)

// small is the box in which small text has the baseline that the name has on
// the first line.
func (d *Deck) small(t layout.Tab, line int) image.Rectangle {
	r := t.Lines[line]
	if line == 0 {
		r = r.Add(image.Pt(0, ((d.faces.name.CapHeight() - d.faces.small.CapHeight()) / 2).Round()))
	}
	return r
}
