package media

import (
	"fmt"
	"regexp"
	"strings"
)

// linesOfHD is the height from which an untagged picture is taken as BT.709
// rather than BT.601 (common practice).
const linesOfHD = 720

// rgbPixels are the names of pixel formats that hold R'G'B' itself.
var rgbPixels = regexp.MustCompile(`^(gbr|[ax0]?[rb]g[br]|x2[rb]g[br]|pal8)`)

// primaries are the sets of primaries that are told apart, in the words of ffmpeg's
// tags, and what people call them. The conversions are zimg's; their tests compare
// them with the published chromaticities.
var primaries = map[string]string{
	"bt709":    "BT.709",
	"smpte431": "P3 (SMPTE RP 431-2, white of film projection)",
	"smpte432": "P3 (SMPTE EG 432-1, white D65)",
	"bt2020":   "BT.2020",
}

// near are sets of primaries a little beside those of BT.709, and taken as them. A
// recorder tags them because of the matrix, while games draw for displays of BT.709
// or sRGB; to convert the matrix alone is common practice between BT.601 and BT.709.
var near = map[string]string{
	"smpte170m": "BT.601 (525 lines)",
	"smpte240m": "SMPTE 240M",
	"bt470bg":   "BT.601 (625 lines)",
}

// colourOf reads the tags of a stream and fills in what they leave out.
func colourOf(s *probedStream) (Colour, error) {
	c := Colour{Transfer: s.Transfer, Primaries: "bt709", Full: s.Range == "pc" || strings.HasPrefix(s.PixFmt, "yuvj")}
	switch {
	case primaries[s.Primaries] != "":
		c.Primaries = s.Primaries
	case untagged(s.Primaries) && (c.HDR() || strings.HasPrefix(s.Space, "bt2020")):
		// PQ and HLG come with the primaries of BT.2020 (ITU-R BT.2100-2); where those
		// are not tagged, the matrix tells.
		c.Primaries = "bt2020"
	case !untagged(s.Primaries):
		c.Strange = s.Primaries
	}
	switch {
	case s.Space == "bt709":
		c.Matrix = "bt709"
	case s.Space == "smpte170m" || s.Space == "bt470bg":
		c.Matrix = "bt601"
	case s.Space == "bt2020nc" || s.Space == "bt2020ncl":
		c.Matrix = "bt2020"
	case s.Space == "gbr" || s.Space == "rgb" || rgbPixels.MatchString(s.PixFmt) && untagged(s.Space):
		c.Matrix, c.Full, c.RGB = "bt709", true, true
	case untagged(s.Space):
		c.Assumed = true
		switch {
		case c.Primaries == "bt2020":
			c.Matrix = "bt2020"
		case s.Height >= linesOfHD:
			c.Matrix = "bt709"
		default:
			c.Matrix = "bt601"
		}
	default:
		return c, fmt.Errorf("colours coded as %q cannot be converted", s.Space)
	}
	return c, nil
}

// planar is the pixel format in which ffmpeg's filters can take the capture's codes
// as they are.
func (c Capture) planar() string {
	if !c.Colour.RGB || strings.HasPrefix(c.PixFmt, "gbrp") {
		return c.PixFmt
	}
	for _, depth := range []string{"16", "12", "10"} {
		if strings.Contains(c.PixFmt, depth) || depth == "16" && (strings.Contains(c.PixFmt, "48") || strings.Contains(c.PixFmt, "64")) {
			return "gbrp" + depth + "le"
		}
	}
	return "gbrp"
}

// untagged reports whether a tag says nothing.
func untagged(tag string) bool {
	switch tag {
	case "", "unknown", "unspecified", "reserved":
		return true
	}
	return false
}

// CodeOptions returns the options of ffmpeg's scale filter that bring the capture's
// codes to limited range and the pixel format that goes with them, and whether
// anything has to change. The matrix becomes that of the clip, unless light or gamut
// have to be converted afterwards (see Colour.filters).
func (c Capture) CodeOptions(to Coding) (options, format string, needed bool) {
	in := "tv"
	if c.Colour.Full {
		in = "pc"
	}
	out, format := to.Matrix, to.Pixels
	switch {
	case c.Colour.KeepsFullRange(to):
		// As it is, but for how its samples lie in memory.
		same := fmt.Sprintf("in_color_matrix=%[1]s:in_range=pc:out_color_matrix=%[1]s:out_range=pc", c.Colour.Matrix)
		format = c.planar()
		return same, format, c.PixFmt != format
	case c.Colour.Differs(to.Colour):
		// In full, so that nothing is lost before the conversion proper.
		out, format = c.Colour.Matrix, "yuv444p12le"
	}
	options = fmt.Sprintf("in_color_matrix=%s:in_range=%s:out_color_matrix=%s:out_range=tv", c.Colour.Matrix, in, out)
	return options, format, c.Colour.Matrix != to.Matrix || c.Colour.Full || c.PixFmt != format
}

// Tags are what a capture's container says of its colours, without anything
// assumed, in ffmpeg's words; "" where it says nothing.
type Tags struct{ Range, Matrix, Primaries, Transfer string }

// tags returns what is said of a stream.
func (s *probedStream) tags() Tags {
	return Tags{said(s.Range), said(s.Space), said(s.Primaries), said(s.Transfer)}
}

// said returns a tag, "" for the words that stand for none.
func said(tag string) string {
	switch tag {
	case "unknown", "unspecified", "reserved":
		return ""
	}
	return tag
}

// ToRGB are the filters that turn a picture in SDR into full-range RGB.
func ToRGB() [][]string {
	return [][]string{
		{"scale", "in_color_matrix=bt709", "in_range=tv", "out_range=pc", "flags=bicubic+accurate_rnd+full_chroma_int+full_chroma_inp"},
		{"format", "rgb24"},
	}
}
