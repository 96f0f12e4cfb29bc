package deck

import "image/color"

// ink is a colour as it is written: BT.709 limited range, 8 bit.
type ink struct{ y, u, v uint8 }

// The palette. Okabe and Ito, "Color Universal Design" (2002/2008), for the
// captures; neutrals around their dark ground. The tests hold every one of them
// to a contrast of 4.5:1 (WCAG 2.x) on all grounds it appears on, and the
// captures' colours to a pairwise CIEDE2000 of 15 under simulated
// colour-vision deficiencies, where the third colour is the exception that the
// dashes are for. No colour is left in that palette for a fourth capture: on this
// ground bluish green and sky blue come to 12 for tritanopes, yellow and orange to
// 12 for deuteranopes, vermillion and orange to 13. The fourth one was searched for
// by the same tests.
var (
	ground  = color.NRGBA{0x12, 0x16, 0x1D, 0xFF} // of the strip
	well    = color.NRGBA{0x1A, 0x20, 0x29, 0xFF} // of a graph, below the footage
	hair    = color.NRGBA{0x38, 0x41, 0x4E, 0xFF} // gridlines, separators: not text
	bright  = color.NRGBA{0xF2, 0xF5, 0xF8, 0xFF} // what is read first; playhead
	soft    = color.NRGBA{0xB4, 0xBD, 0xC9, 0xFF} // titles, units, axis labels
	capture = [...]color.NRGBA{
		{0xE6, 0x9F, 0x00, 0xFF}, // orange, solid
		{0x56, 0xB4, 0xE9, 0xFF}, // sky blue, dashed
		{0xCC, 0x79, 0xA7, 0xFF}, // reddish purple, dotted
		{0xB4, 0xF0, 0xA2, 0xFF}, // pale green, dash and dot
	}
)

// Styles is how many captures can be told apart by colour and dash.
const Styles = len(capture)

// dashes are the captures' line patterns in tenths of an em, on and off by
// turns. Their lengths differ so that where lines coincide, each still shows
// between the marks of the one above it.
var dashes = [...][]float64{nil, {10, 6}, {2.2, 4.2}, {8, 3.6, 2.2, 3.6}}

// backing returns the opacity of the strip's ground over footage, for the
// styles up to most. White footage behind it must leave the dimmest colour in use
// its contrast. And encoders spend much on what shimmers through under text that
// stands still: at 214, as sheer as two colours allow, a 1080p clip cost x264's
// veryfast 12 % more than one without a deck, at 224 9 %, at 234 6 %.
func backing(most int) uint8 {
	if most > 2 {
		return 234 // reddish purple is the dimmest
	}
	return 226
}

// mix returns the share a of colour over ground b.
func mix(top, under color.NRGBA, a float64) color.NRGBA {
	m := func(t, u uint8) uint8 { return uint8(float64(t)*a + float64(u)*(1-a) + 0.5) }
	return color.NRGBA{m(top.R, under.R), m(top.G, under.G), m(top.B, under.B), 0xFF}
}

// bodyShare is how much of its colour a tread's body has; its cap has all.
const bodyShare = 0.42
