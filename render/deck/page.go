package deck

import (
	"fmt"
	"image"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"fairframe/fonts"
	"fairframe/layout"
	"fairframe/render/pacing"
)

// PageSettings says what the closing page of a clip shows: the key figures of all
// captures.
type PageSettings struct {
	Size     image.Point   // of the output; both even
	Title    string        // what the scene is
	Length   time.Duration // of the scene
	Captures []PageCapture
	Remarks  []string   // what must be known of the figures or the pictures; above their definitions
	Fonts    *fonts.Set // nil: the embedded fonts
}

// PageCapture is one capture's column of the page.
type PageCapture struct {
	Name    string
	Raster  image.Point // zero: not stated
	Base    Base        // what Raster is compared with
	Style   int         // as in Capture
	Figures pacing.Figures
}

// Page is a still picture of the output's size. It serves one goroutine at a
// time.
type Page struct {
	img      *image.NRGBA
	warnings []string
}

// pageRow is one figure of all captures.
type pageRow struct {
	label  string
	long   string // where there is room; "": label
	values []string
	unit   string
	units  []string  // of each capture; nil: unit
	change []string  // of each capture against the first, where there is room; nil: none
	shares []float64 // 0 to 1, drawn as bars; nil: none
	large  bool
}

// NewPage draws the page. It reports unusable settings and text with glyphs that
// no font has.
func NewPage(s PageSettings) (*Page, error) {
	n := len(s.Captures)
	if n < layout.MinCaptures || n > layout.MaxCaptures {
		return nil, fmt.Errorf("deck: page of %d captures (%d or %d)",
			n, layout.MinCaptures, layout.MaxCaptures)
	}
	if err := checkPage(s.Size, &s.Fonts); err != nil {
		return nil, err
	}
	looks := make([]Capture, n)
	for i, c := range s.Captures {
		looks[i].Style = c.Style
		if err := s.Fonts.Missing(c.Name); err != nil {
			return nil, fmt.Errorf("deck: name of capture %d (%q): %w", i+1, c.Name, err)
		}
	}
	if err := s.Fonts.Missing(s.Title); err != nil {
		return nil, fmt.Errorf("deck: page title (%q): %w", s.Title, err)
	}
	for _, r := range s.Remarks {
		if err := s.Fonts.Missing(r); err != nil {
			return nil, fmt.Errorf("deck: page remark (%q): %w", r, err)
		}
	}
	if err := styles(looks); err != nil {
		return nil, err
	}
	s.Captures = slices.Clone(s.Captures)
	for i := range looks {
		s.Captures[i].Style = looks[i].Style
	}
	d, err := newPageDrawing(s)
	if err != nil {
		return nil, err
	}
	whole := d.out.img
	d.draw()
	return &Page{whole, d.warnings}, nil
}

// checkPage checks what all pages have in common, and fills in the fonts.
func checkPage(size image.Point, set **fonts.Set) (err error) {
	if size.X < layout.MinSide || size.Y < layout.MinSide || size.X > layout.MaxSide ||
		size.Y > layout.MaxSide || size.X%2 != 0 || size.Y%2 != 0 {
		return fmt.Errorf("deck: page of %dx%d pixels (%d to %d a side, even)",
			size.X, size.Y, layout.MinSide, layout.MaxSide)
	}
	if *set == nil {
		*set, err = fonts.New()
	}
	return err
}

// Image returns the page as it was drawn.
func (p *Page) Image() *image.NRGBA { return p.img }

// YUV returns the page as ffmpeg's yuv420p, BT.709 limited range: the Y, U and V
// planes without padding, 3/2 bytes a pixel.
func (p *Page) YUV() []byte {
	w, h := p.img.Rect.Dx(), p.img.Rect.Dy()
	c := canvas{p.img}
	pl := c.planes(p.img.Rect, false)
	out := make([]byte, 0, frameBytes(w, h, false))
	out = append(out, pl.y...)
	out = append(out, pl.u...)
	return append(out, pl.v...)
}

// Warnings tells what had to be shortened to fit.
func (p *Page) Warnings() []string { return slices.Clone(p.warnings) }

// pageRows returns the figures in the order in which they are read.
func pageRows(captures []PageCapture) []pageRow {
	row := func(label, unit string, large bool, value func(f *pacing.Figures) (float64, bool)) pageRow {
		r := pageRow{label: label, unit: unit, large: large}
		for i := range captures {
			text := unknown
			if v, ok := value(&captures[i].Figures); ok {
				text = oneDecimal(v)
				if large && captures[i].Figures.AtLeast(label != meanLabel) {
					text = stateWords[leastRate][1] + text
				}
			}
			r.values, r.change = append(r.values, text), append(r.change, "")
			if first, ok := value(&captures[0].Figures); ok && i > 0 && text == r.plain(text) && r.values[0] == r.plain(r.values[0]) {
				v, _ := value(&captures[i].Figures)
				r.change[i] = signedDecimal(v - first)
			}
		}
		return r
	}
	ofRate := func(get func(*pacing.Figures) float64) func(*pacing.Figures) (float64, bool) {
		return func(f *pacing.Figures) (float64, bool) { return get(f), f.Seen > 0 && f.Count > 0 }
	}
	ofTime := func(get func(*pacing.Figures) time.Duration) func(*pacing.Figures) (float64, bool) {
		return func(f *pacing.Figures) (float64, bool) { return ms(get(f)), f.Count > 0 }
	}
	rows := []pageRow{
		row(meanLabel, "fps", true,
			func(f *pacing.Figures) (float64, bool) { return f.MeanRate, f.Seen > 0 }),
		row("Slowest 1 %", "fps", true, ofRate(func(f *pacing.Figures) float64 { return f.SlowRate })),
		row("Median", "ms", false, ofTime(func(f *pacing.Figures) time.Duration { return f.Median })),
		row("99th percentile", "ms", false, ofTime(func(f *pacing.Figures) time.Duration { return f.P99 })),
		row("Longest", "ms", false, ofTime(func(f *pacing.Figures) time.Duration { return f.Longest })),
	}
	rows[2].long, rows[4].long = "Median frame time", "Longest frame time"
	rows = append(rows, shareRows(captures)...)
	// A count says nothing without its whole.
	count := func(label string, get func(*pacing.Figures) int) pageRow {
		r := pageRow{label: label}
		for i := range captures {
			text, whole := unknown, ""
			if n := captures[i].Figures.Count; n > 0 {
				text, whole = strconv.Itoa(get(&captures[i].Figures)), fmt.Sprintf("of %d", n)
			}
			r.values, r.units = append(r.values, text), append(r.units, whole)
		}
		return r
	}
	rows = append(rows,
		count("Hitches", func(f *pacing.Figures) int { return len(f.Hitches) }),
		count("Torn frames", func(f *pacing.Figures) int { return f.Torn }))
	// What is nothing in all captures has no row.
	some := func(r pageRow, value func(*pacing.Figures) (string, bool)) {
		any := false
		for i := range captures {
			text, there := value(&captures[i].Figures)
			r.values = append(r.values, text)
			any = any || there
		}
		if any {
			rows = append(rows, r)
		}
	}
	some(pageRow{label: "Doubtful", long: "Doubtful frames", unit: "%"},
		func(f *pacing.Figures) (string, bool) {
			return percent(f.Doubt.Part()), f.Doubt.Time > 0
		})
	some(pageRow{label: "Still", unit: "s"}, func(f *pacing.Figures) (string, bool) {
		return oneDecimal(f.Still.Seconds()), f.Still > 0
	})
	return rows
}

// meanLabel names the row of the mean frame rates.
const meanLabel = "Mean rate"

// mostShares is how many rates have a row of their own; the rest share one.
const mostShares = 4

// shareRows returns the parts of the time at the captures' refresh multiples, the
// highest rate first.
func shareRows(captures []PageCapture) []pageRow {
	name := func(v float64) string { return strconv.FormatFloat(math.Round(v*100)/100, 'f', -1, 64) }
	total := map[string]float64{} // of all captures, by the rate's name
	rates := map[string]float64{}
	for _, c := range captures {
		if !c.Figures.KeepsRefresh() {
			continue // it meets multiples by chance
		}
		for _, s := range c.Figures.Shares {
			total[name(s.Rate)] += s.Part
			rates[name(s.Rate)] = s.Rate
		}
	}
	var names []string
	for n := range total {
		names = append(names, n)
	}
	// The four that take the most time, then in order of rate.
	slices.SortFunc(names, func(a, b string) int {
		switch {
		case total[a] != total[b] && total[a] > total[b]:
			return -1
		case total[a] != total[b]:
			return 1
		case rates[a] > rates[b]:
			return -1
		}
		return 1
	})
	names = names[:min(len(names), mostShares)]
	slices.SortFunc(names, func(a, b string) int {
		if rates[a] > rates[b] {
			return -1
		}
		return 1
	})
	var rows []pageRow
	other := pageRow{label: "Other rates", unit: "%"}
	for _, n := range names {
		r := pageRow{label: "At " + n + " fps", unit: "%"}
		for _, c := range captures {
			part := 0.0
			for _, s := range c.Figures.Shares {
				if name(s.Rate) == n {
					part += s.Part
				}
			}
			r.add(part, c.Figures.KeepsRefresh())
		}
		rows = append(rows, r)
	}
	any := false
	for _, c := range captures {
		part := c.Figures.OffGrid.Part
		if !c.Figures.KeepsRefresh() && c.Figures.Seen > 0 {
			part = 1
		}
		for _, s := range c.Figures.Shares {
			if !slices.Contains(names, name(s.Rate)) && c.Figures.KeepsRefresh() {
				part += s.Part
			}
		}
		any = any || part > 0
		other.add(part, c.Figures.Seen > 0)
	}
	if any {
		rows = append(rows, other)
	}
	return rows
}

// plain is a value that stands for itself: one that is unknown or a bound has no difference.
func (r *pageRow) plain(text string) string {
	if text == unknown || strings.HasPrefix(text, stateWords[leastRate][1]) {
		return ""
	}
	return text
}

// signedDecimal writes a difference with its sign and one decimal.
func signedDecimal(v float64) string {
	switch text := oneDecimal(math.Abs(v)); {
	case text == "0.0":
		return "±0.0"
	case v < 0:
		return "−" + text
	default:
		return "+" + text
	}
}

func (r *pageRow) add(part float64, known bool) {
	text := unknown
	if known {
		text = percent(part)
	}
	r.values = append(r.values, text)
	r.shares = append(r.shares, part)
}

// percent writes a part of 1 with one decimal. What is neither nothing nor all
// never reads as such.
func percent(part float64) string {
	switch {
	case part > 0 && part < 0.0005:
		return "< 0.1"
	case part < 1 && part >= 0.9995:
		return "> 99.9"
	}
	return strconv.FormatFloat(100*part, 'f', 1, 64)
}

// definitions are in short what needs one; figures --help has all.
func (d *pageDrawing) definitions() []string {
	list := []string{
		"Slowest 1 %: mean rate over the longest 1 % of the frames.",
		"Median, 99th percentile, longest: of the frame times.",
		"At … fps: share of the time in frames of that length, a multiple of the refresh.",
	}
	if len(d.Captures) > 1 {
		list = append(list, fmt.Sprintf("With a sign: the difference to %s.", d.Captures[0].Name))
	}
	for _, c := range d.Captures {
		if longest := c.Figures.HitchTime; longest > 0 {
			return append(list, fmt.Sprintf("Hitch: a frame of more than %s ms, twice the slowest median.", oneDecimal(ms(longest))))
		}
	}
	return list
}
