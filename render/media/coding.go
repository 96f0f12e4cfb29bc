package media

import (
	"fmt"
)

// Coding is how a clip's picture is coded while it is put together: what captures
// show is brought to it as each pane is cut, what is drawn before it is laid over
// them.
type Coding struct {
	Colour        // limited range; the transfer "bt709" stands for SDR
	matrix string // in the words of ffmpeg's tags; Colour has that of its filter scale

	Pixels    string // the pixel format, 4:2:0
	Alpha     string // the same with straight alpha
	Dense     string // the same in 4:4:4
	RGBPixels string // R'G'B' as deep
	Over      string // what the filter overlay calls pixels; "": it need not be told
	Bytes     int    // of a sample
}

// SDR is the coding of all deliveries but hdr: BT.709, 8 bits.
func SDR() Coding {
	return Coding{Colour: Colour{Matrix: "bt709", Primaries: "bt709", Transfer: "bt709"}, matrix: "bt709",
		Pixels: "yuv420p", Alpha: "yuva420p", Dense: "yuv444p", RGBPixels: "gbrp", Bytes: 1}
}

// Transfers of high dynamic range (ITU-R BT.2100), in ffmpeg's words.
const (
	PQ  = "smpte2084"
	HLG = "arib-std-b67"
)

// HDR is the coding of ITU-R BT.2100 in 10 bits, with PQ or HLG.
func HDR(transfer string) Coding {
	return Coding{Colour: Colour{Matrix: "bt2020", Primaries: "bt2020", Transfer: transfer}, matrix: "bt2020nc",
		Pixels: "yuv420p10le", Alpha: "yuva420p10le", Dense: "yuv444p10le", RGBPixels: "gbrp10le", Over: "yuv420p10", Bytes: 2}
}

// Tags marks an input as what it is. Every input needs it: ffmpeg from 7.1 on
// converts an untagged input that stands next to a tagged one.
func (c Coding) Tags() string {
	return fmt.Sprintf("range=tv:colorspace=%s:color_primaries=%s:color_trc=%s", c.matrix, c.Primaries, c.Transfer)
}

// Output are the same tags as output arguments.
func (c Coding) Output() []string {
	return []string{"-colorspace", c.matrix, "-color_primaries", c.Primaries, "-color_trc", c.Transfer, "-color_range", "tv"}
}

// Format is the pixel format of what is drawn.
func (c Coding) Format(alpha bool) string {
	if alpha {
		return c.Alpha
	}
	return c.Pixels
}

// Code is an 8-bit code in the coding's depth.
func (c Coding) Code(v int) int {
	if c.Bytes == 2 {
		return v << 2
	}
	return v
}
