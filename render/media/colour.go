package media

import (
	"fmt"
	"regexp"
	"strings"
)

// linesOfHD is the height from which an untagged picture is taken as BT.709
// rather than BT.601 (common practice, and DESIGN's rule).
const linesOfHD = 720

// rgbPixels are the names of pixel formats that hold R'G'B' itself.
var rgbPixels = regexp.MustCompile(`^(gbr|[ax0]?[rb]g[br]|x2[rb]g[br]|pal8)`)

// colourOf reads the tags of a stream and fills in what they leave out.
func colourOf(s *probedStream) (Colour, error) {
	c := Colour{Transfer: s.Transfer, Primaries: "bt709", Full: s.Range == "pc" || strings.HasPrefix(s.PixFmt, "yuvj")}
	// PQ and HLG come with the primaries of BT.2020 (ITU-R BT.2100-2); where those
	// are not tagged, the matrix tells.
	if s.Primaries == "bt2020" || untagged(s.Primaries) && (c.HDR() || strings.HasPrefix(s.Space, "bt2020")) {
		c.Primaries = "bt2020"
	}
	switch {
	case s.Space == "bt709":
		c.Matrix = "bt709"
	case s.Space == "smpte170m" || s.Space == "bt470bg":
		c.Matrix = "bt601"
	case s.Space == "bt2020nc" || s.Space == "bt2020ncl":
		c.Matrix = "bt2020"
	case s.Space == "gbr" || s.Space == "rgb" || rgbPixels.MatchString(s.PixFmt) && untagged(s.Space):
		c.Matrix, c.Full = "bt709", true
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

// untagged reports whether a tag says nothing.
func untagged(tag string) bool {
	switch tag {
	case "", "unknown", "unspecified", "reserved":
		return true
	}
	return false
}

// toBT709 returns the options of ffmpeg's scale filter that bring the capture's
// codes to limited range and the pixel format that goes with them, and whether
// anything has to change. The matrix becomes that of BT.709, unless the gamut
// has to be converted afterwards (see toSDR).
func (c Capture) toBT709() (options, format string, needed bool) {
	in := "tv"
	if c.Colour.Full {
		in = "pc"
	}
	out, format := "bt709", "yuv420p"
	if c.Colour.wide() {
		// In full, so that nothing is lost before the conversion proper.
		out, format = c.Colour.Matrix, "yuv444p12le"
	}
	options = fmt.Sprintf("in_color_matrix=%s:in_range=%s:out_color_matrix=%s:out_range=tv", c.Colour.Matrix, in, out)
	return options, format, c.Colour.Matrix != "bt709" || c.Colour.Full || c.PixFmt != format
}
