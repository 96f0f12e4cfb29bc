package deck

import (
	"fmt"
	"image"
	"math"
	"strings"

	"golang.org/x/image/math/fixed"

	"fairframe/fonts"
	"fairframe/layout"
)

// TitleSettings says what the page shows that opens a clip.
type TitleSettings struct {
	Size     image.Point // of the output; both even
	Title    string      // in large type
	Caption  string      // may be empty
	Captures []Capture   // name, detail, raster and style count
	Fonts    *fonts.Set  // nil: the embedded fonts
}

// NewTitle draws the page that opens a clip: the title, the caption, and a line
// for each capture. It reports unusable settings and text with glyphs that no
// font has.
func NewTitle(s TitleSettings) (*Page, error) {
	if n := len(s.Captures); n < layout.MinCaptures || n > layout.MaxCaptures {
		return nil, fmt.Errorf("deck: page of %d captures (%d or %d)",
			n, layout.MinCaptures, layout.MaxCaptures)
	}
	if err := checkPage(s.Size, &s.Fonts); err != nil {
		return nil, err
	}
	s.Captures = append([]Capture(nil), s.Captures...)
	if err := styles(s.Captures); err != nil {
		return nil, err
	}
	texts := []struct{ what, text string }{{"title", s.Title}, {"caption", s.Caption}}
	for i, c := range s.Captures {
		texts = append(texts, struct{ what, text string }{fmt.Sprintf("name of capture %d", i+1), c.Name},
			struct{ what, text string }{fmt.Sprintf("detail of capture %d", i+1), c.Detail})
	}
	for _, one := range texts {
		if err := s.Fonts.Missing(one.text); err != nil {
			return nil, fmt.Errorf("deck: %s on the title page (%q): %w", one.what, one.text, err)
		}
	}
	d := &titleDrawing{TitleSettings: s, em: stillEm(s.Size), safe: layout.Safe(s.Size)}
	if err := d.loadFaces(); err != nil {
		return nil, err
	}
	d.canvas = newCanvas(s.Size)
	d.draw()
	return &Page{d.canvas.img, d.warnings}, nil
}

// titleDrawing is a title page while it is drawn.
type titleDrawing struct {
	TitleSettings
	*canvas
	em       float64
	safe     image.Rectangle
	warnings []string

	titles               []*fonts.Face // the larger ones first
	caption, name, small *fonts.Face
}

func (d *titleDrawing) loadFaces() error {
	var err error
	face := func(style fonts.Style, ems float64) *fonts.Face {
		f, e := d.Fonts.Face(style, math.Round(ems*d.em))
		if err == nil {
			err = e
		}
		return f
	}
	for _, ems := range []float64{3.6, 3, 2.5, 2.1} {
		d.titles = append(d.titles, face(fonts.Bold, ems))
	}
	d.caption, d.name, d.small = face(fonts.Regular, 1.5), face(fonts.Bold, 1.7), face(fonts.Regular, 1.15)
	return err
}

// px returns a number of ems in whole pixels.
func (d *titleDrawing) px(ems float64) int { return int(math.Round(ems * d.em)) }

// titleRow is one line of text of the page, or one capture.
type titleRow struct {
	height  int
	text    string
	face    *fonts.Face
	capture int // its index + 1
	details []string
	beside  bool // the details stand beside the name
}

func (d *titleDrawing) draw() {
	d.fill(d.img.Rect, ground)
	area := d.safe
	area.Min.X += d.px(2)
	rows := d.heading(area.Dx())
	rule := len(rows)
	rows = append(rows, d.captureRows(area.Dx())...)

	total := d.px(2.6) // around the rule
	for _, r := range rows {
		total += r.height
	}
	y := area.Min.Y + max(0, (area.Dy()-total)/2)
	for i, r := range rows {
		if i == rule {
			y += d.px(1.1)
			d.fill(image.Rect(area.Min.X, y, area.Max.X, y+max(1, d.px(0.06))), hair)
			y += d.px(1.5)
		}
		box := image.Rect(area.Min.X, y, area.Max.X, min(y+r.height, d.safe.Max.Y))
		if r.capture > 0 {
			d.drawCapture(r, box)
		} else {
			col := bright
			if r.face == d.caption {
				col = soft
			}
			d.textIn(r.face, box, left, r.text, col)
		}
		y += r.height
	}
}

// heading breaks title and caption into lines. The title is as large as lets it
// have no more than two.
func (d *titleDrawing) heading(width int) (rows []titleRow) {
	const mostTitle, mostCaption = 3, 3
	face := d.titles[len(d.titles)-1]
	lines, short := face.Wrap(d.Title, fixed.I(width), mostTitle)
	for _, f := range d.titles {
		if l, s := f.Wrap(d.Title, fixed.I(width), 2); !s && !broken(d.Title, l) {
			face, lines, short = f, l, s
			break
		}
	}
	if short {
		d.warn("title shortened to %q on the title page", strings.Join(lines, " "))
	}
	for _, l := range lines {
		rows = append(rows, titleRow{text: l, face: face, height: (face.Ascent() + face.Descent()).Ceil()})
	}
	lines, short = d.caption.Wrap(d.Caption, fixed.I(width), mostCaption)
	if short {
		d.warn("caption shortened to %q on the title page", strings.Join(lines, " "))
	}
	for _, l := range lines {
		rows = append(rows, titleRow{text: l, face: d.caption, height: d.px(2.1)})
	}
	return rows
}

// broken reports whether a line ends within a word.
func broken(text string, lines []string) bool {
	return len(strings.Fields(text)) != len(strings.Fields(strings.Join(lines, " ")))
}

func (d *titleDrawing) warn(format string, args ...any) {
	d.warnings = append(d.warnings, fmt.Sprintf(format, args...))
}

// indent is the room of a capture's swatch.
func (d *titleDrawing) indent() int { return d.px(5) }

// captureRows sets what is known of each capture beside its name, or below it
// where one of them has no room for that.
func (d *titleDrawing) captureRows(width int) (rows []titleRow) {
	width -= d.indent()
	beside, any := true, false
	for i, c := range d.Captures {
		r := titleRow{capture: i + 1}
		var name bool
		if r.text, name = d.name.Fit(c.Name, fixed.I(width)); name {
			d.warn("name of capture %d shortened to %q on the title page", i+1, r.text)
		}
		if c.Detail != "" {
			r.details = append(r.details, c.Detail)
		}
		if c.Raster.X > 0 && c.Raster.Y > 0 {
			r.details = append(r.details, raster(c.Raster))
			if ratio, _ := c.Base.ratio(c.Raster); ratio != "" {
				r.details = append(r.details, ratio)
			}
		}
		any = any || len(r.details) > 0
		beside = beside && d.name.Measure(r.text)+fixed.I(d.px(1.2))+
			d.small.Measure(strings.Join(r.details, " · ")) <= fixed.I(width)
		rows = append(rows, r)
	}
	for i := range rows {
		r := &rows[i]
		r.beside = beside
		if r.height = d.px(2.9); any && !beside {
			d.fitDetails(r, width)
			r.height = d.px(2.6 + 1.5*float64(len(r.details)))
		}
	}
	return rows
}

// fitDetails makes lines of what is known of a capture: one, or else its own
// words and what is measured one below the other.
func (d *titleDrawing) fitDetails(r *titleRow, width int) {
	const dot = " · "
	if all := strings.Join(r.details, dot); d.small.Measure(all) <= fixed.I(width) {
		r.details = []string{all}[:min(1, len(r.details))]
		return
	}
	if d.Captures[r.capture-1].Detail != "" && len(r.details) > 1 {
		r.details = []string{r.details[0], strings.Join(r.details[1:], dot)}
	} else {
		r.details = []string{strings.Join(r.details, dot)}
	}
	for i, text := range r.details {
		var short bool
		if r.details[i], short = d.small.Fit(text, fixed.I(width)); short {
			d.warn("detail of capture %d shortened to %q on the title page", r.capture, r.details[i])
		}
	}
}

func (d *titleDrawing) drawCapture(r titleRow, box image.Rectangle) {
	name := box
	name.Max.Y = min(box.Max.Y, box.Min.Y+d.px(2.4))
	swatch := image.Rect(box.Min.X, 0, box.Min.X+d.indent()-d.px(1.2), max(2, d.px(0.34)))
	d.swatch(swatch.Add(image.Pt(0, (name.Min.Y+name.Max.Y-swatch.Dy())/2)),
		d.Captures[r.capture-1].Style-1, d.em)
	name.Min.X += d.indent()
	end := d.textIn(d.name, name, left, r.text, bright)
	if r.beside {
		rest := name
		rest.Min.X = end.Ceil() + d.px(1.2)
		// Small text shares the name's baseline.
		d.textIn(d.small, rest.Add(image.Pt(0, ((d.name.CapHeight()-d.small.CapHeight())/2).Round())), left,
			strings.Join(r.details, " · "), soft)
		return
	}
	line := image.Rect(name.Min.X, name.Max.Y-d.px(0.2), box.Max.X, name.Max.Y+d.px(1.4))
	for _, text := range r.details {
		d.textIn(d.small, line.Intersect(box), left, text, soft)
		line = line.Add(image.Pt(0, d.px(1.5)))
	}
}
