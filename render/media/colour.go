package media

import (
	"fmt"
	"strings"
)

// linesOfHD is the height from which an untagged picture is taken as BT.709
// rather than BT.601 (common practice, and DESIGN's rule).
const linesOfHD = 720

// colourOf reads the tags of a stream and fills in what they leave out.
func colourOf(s *probedStream) (Colour, error) {
	c := Colour{Transfer: s.Transfer, Full: s.Range == "pc" || strings.HasPrefix(s.PixFmt, "yuvj")}
	switch s.Space {
	case "bt709":
		c.Matrix = "bt709"
	case "smpte170m", "bt470bg":
		c.Matrix = "bt601"
	case "bt2020nc", "bt2020ncl":
		c.Matrix = "bt2020"
	case "gbr", "rgb":
		c.Matrix, c.Full = "bt709", true
	case "", "unknown", "unspecified", "reserved":
		c.Assumed = true
		c.Matrix = "bt601"
		if s.Height >= linesOfHD {
			c.Matrix = "bt709"
		}
	default:
		return c, fmt.Errorf("colours coded as %q cannot be converted", s.Space)
	}
	switch s.Transfer {
	case "smpte2084", "arib-std-b67":
		return c, fmt.Errorf("HDR (%s) is not handled yet; make an SDR copy of the capture first", s.Transfer)
	}
	return c, nil
}

// toBT709 returns the options of ffmpeg's scale filter that bring the capture's
// colours to BT.709 limited range, and whether anything has to change.
func (c Capture) toBT709() (options string, needed bool) {
	in := "tv"
	if c.Colour.Full {
		in = "pc"
	}
	options = fmt.Sprintf("in_color_matrix=%s:in_range=%s:out_color_matrix=bt709:out_range=tv", c.Colour.Matrix, in)
	return options, c.Colour.Matrix != "bt709" || c.Colour.Full || c.PixFmt != "yuv420p"
}
