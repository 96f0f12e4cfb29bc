package deck

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"image"
	"image/color"
	"math"
	"strconv"
	"strings"
)

// drawing is a surface that becomes SVG 1.1 text. It names the fonts and embeds
// none, so text is as wide as the viewer's font is; what stands at a right end or
// in the middle is anchored there.
type drawing struct {
	size image.Point
	body bytes.Buffer
}

// document returns the finished text. The title and the description are for those
// who cannot see it.
func (d *drawing) document(title, description string) []byte {
	var out bytes.Buffer
	out.WriteString(`<?xml version="1.0" encoding="UTF-8"?>` + "\n")
	fmt.Fprintf(&out,
		`<svg xmlns="http://www.w3.org/2000/svg" width="%d" height="%d" viewBox="0 0 %[1]d %[2]d" `+
			`role="img" font-family="B612, sans-serif">`+"\n", d.size.X, d.size.Y)
	fmt.Fprintf(&out, "<title>%s</title>\n<desc>%s</desc>\n", escape(title), escape(description))
	out.Write(d.body.Bytes())
	out.WriteString("</svg>\n")
	return out.Bytes()
}

func (d *drawing) boxes(id string, list []box, c color.NRGBA) {
	if len(list) == 0 {
		return
	}
	fmt.Fprintf(&d.body, `<path%s fill="%s" d="`, named(id), svgColour(c))
	for _, b := range list {
		x, y := round(b.x0), round(b.y0)
		fmt.Fprintf(&d.body, "M%s %sh%sv%sh%sz", svgNumber(x), svgNumber(y), svgNumber(round(b.x1)-x),
			svgNumber(round(b.y1)-y), svgNumber(x-round(b.x1)))
	}
	d.body.WriteString("\"/>\n")
}

func (d *drawing) lines(id string, list [][]point, p pen) {
	if len(list) == 0 {
		return
	}
	fmt.Fprintf(&d.body, `<path%s fill="none" stroke="%s" stroke-width="%s" stroke-linejoin="round"`,
		named(id), svgColour(p.colour), svgNumber(p.width))
	if p.dash != nil {
		var parts []string
		for _, v := range p.dash {
			parts = append(parts, svgNumber(v))
		}
		fmt.Fprintf(&d.body, ` stroke-dasharray="%s"`, strings.Join(parts, " "))
	}
	d.body.WriteString(` d="`)
	for _, l := range list {
		for i, at := range l {
			command := byte('L')
			if i == 0 {
				command = 'M'
			}
			d.body.WriteByte(command)
			d.body.WriteString(svgNumber(at.x) + " " + svgNumber(at.y))
		}
	}
	d.body.WriteString("\"/>\n")
}

func (d *drawing) text(t typeface, x, y float64, a align, s string, c color.NRGBA) {
	anchor, weight := "", ""
	switch a {
	case right:
		anchor = ` text-anchor="end"`
	case centre:
		anchor = ` text-anchor="middle"`
	}
	if t.bold {
		weight = ` font-weight="bold"`
	}
	fmt.Fprintf(&d.body, `<text x="%s" y="%s" font-size="%s"%s%s fill="%s">%s</text>`+"\n", svgNumber(x),
		svgNumber(math.Round(y)), svgNumber(t.px), weight, anchor, svgColour(c), escape(s))
}

// escape makes text of XML; characters that XML has no way to hold become U+FFFD.
func escape(s string) string {
	var b strings.Builder
	if err := xml.EscapeText(&b, []byte(s)); err != nil {
		return "" // a strings.Builder takes everything
	}
	return b.String()
}

func named(id string) string {
	if id == "" {
		return ""
	}
	return ` id="` + escape(id) + `"`
}

func svgColour(c color.NRGBA) string { return fmt.Sprintf("#%02X%02X%02X", c.R, c.G, c.B) }

// round keeps two decimals: a hundredth of a pixel is more than anyone sees.
func round(v float64) float64 { return math.Round(v*100) / 100 }

func svgNumber(v float64) string {
	s := strconv.FormatFloat(round(v), 'f', -1, 64)
	if s == "-0" {
		return "0"
	}
	return s
}
