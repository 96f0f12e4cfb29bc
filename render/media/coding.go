package media

import (
	"fmt"
)

// coding is how a clip's picture is coded while it is put together: what captures
// show is brought to it as each pane is cut, what is drawn before it is laid over
// them.
type Coding struct {
	Colour        // limited range; the transfer "bt709" stands for SDR
	matrix string // in the words of ffmpeg's tags; Colour has that of its filter scale

	pixels string // the pixel format, 4:2:0
	alpha  string // the same with straight alpha
	dense  string // the same in 4:4:4
	rgb    string // R'G'B' as deep
	over   string // what the filter overlay calls pixels; "": it need not be told
	bytes  int    // of a sample
}

// sdr is the coding of all deliveries but hdr: BT.709, 8 bits.
func SDR() Coding {
	return Coding{Colour: Colour{Matrix: "bt709", Primaries: "bt709", Transfer: "bt709"}, matrix: "bt709",
		pixels: "yuv420p", alpha: "yuva420p", dense: "yuv444p", rgb: "gbrp", bytes: 1}
}

// Transfers of high dynamic range (ITU-R BT.2100), in ffmpeg's words.
const (
	pq  = "smpte2084"
	hlg = "arib-std-b67"
)

// hdr is the coding of ITU-R BT.2100 in 10 bits, with PQ or HLG.
func HDR(transfer string) Coding {
	return Coding{Colour: Colour{Matrix: "bt2020", Primaries: "bt2020", Transfer: transfer}, matrix: "bt2020nc",
		pixels: "yuv420p10le", alpha: "yuva420p10le", dense: "yuv444p10le", rgb: "gbrp10le", over: "yuv420p10", bytes: 2}
}

// coding is the clip's.
func (c *Clip) Coding() Coding {
	if !c.Delivery.HDR() {
		return SDR()
	}
	return HDR(c.transfer())
}

// transfer is the one ordered, or else the one that all HDR captures of the clip
// have. PQ is that of a clip whose captures differ, because HLG has no code for
// light beyond its display's, or that has none.
func (c *Clip) transfer() string {
	if t := c.Delivery.transfer; t != "" {
		return t
	}
	found := ""
	for _, l := range c.Inputs {
		switch t := l.Capture.Colour; {
		case !t.HDR():
		case found == "":
			found = t.Transfer
		case found != t.Transfer:
			return pq
		}
	}
	if found == "" {
		return pq
	}
	return found
}

// tags marks an input as what it is. Every input needs it: ffmpeg from 7.1 on
// converts an untagged input that stands next to a tagged one.
func (c Coding) tags() string {
	return fmt.Sprintf("range=tv:colorspace=%s:color_primaries=%s:color_trc=%s", c.matrix, c.Primaries, c.Transfer)
}

// output are the same tags as output arguments.
func (c Coding) output() []string {
	return []string{"-colorspace", c.matrix, "-color_primaries", c.Primaries, "-color_trc", c.Transfer, "-color_range", "tv"}
}

// format is the pixel format of what is drawn.
func (c Coding) format(alpha bool) string {
	if alpha {
		return c.alpha
	}
	return c.pixels
}

// code is an 8-bit code in the coding's depth.
func (c Coding) code(v int) int {
	if c.bytes == 2 {
		return v << 2
	}
	return v
}
