package media

import (
	"context"
	"fmt"
	"strings"
)

// How high dynamic range becomes BT.709, the same for every capture, whatever
// its own mastering data says, so that captures stay comparable:
//
//   - light is taken in units of reference white, 203 cd/m² (ITU-R BT.2408, table 1);
//     HLG is taken as on a display of 1000 cd/m²;
//   - the primaries of BT.2020 become those of BT.709; what lies outside is clipped;
//   - light up to kneeOfWhite passes in proportion; a smooth (Möbius) curve brings
//     what is brighter, up to peakLight, below SDR's white; the rest is white;
//   - the result is coded for a display of gamma 2.4 (ITU-R BT.1886).
//
// Reference white itself becomes 0.679 of white, which is code 202 of 8 bits.
const (
	referenceWhite = 203  // cd/m²
	peakLight      = 1000 // cd/m², common practice in mastering
	kneeOfWhite    = 0.3  // of reference white: 61 cd/m²
)

// HDR reports whether the colours are of high dynamic range.
func (c Colour) HDR() bool { return c.Transfer == "smpte2084" || c.Transfer == "arib-std-b67" }

// wide reports whether more than matrix and range sets the colours apart from
// BT.709: their gamut or their dynamic range.
func (c Colour) wide() bool { return c.HDR() || c.Primaries == "bt2020" }

// Converted says, after the name of what has these colours, how they are changed
// for the clip beyond how they are coded, or "" where they are not.
func (c Colour) Converted() string {
	name := map[string]string{"smpte2084": "PQ", "arib-std-b67": "HLG"}[c.Transfer]
	switch {
	case c.HDR():
		return fmt.Sprintf("is HDR (%s) and is tone-mapped to SDR: in proportion up to %.0f cd/m², compressed above, white from %d cd/m² on; reference white is %d cd/m²",
			name, kneeOfWhite*referenceWhite, peakLight, referenceWhite)
	case c.wide():
		return "has the wide gamut of BT.2020 and is converted to BT.709: colours outside of it are clipped"
	}
	return ""
}

// Conversions returns a warning for each capture that is shown in other colours
// than it was recorded in, and one more where it stands beside one that is not.
func (c *Clip) Conversions() []string {
	if c.Delivery.Alone() {
		return nil
	}
	var warnings, mapped, kept []string
	for i, l := range c.Legs {
		if !c.decoded(i) {
			continue
		}
		if how := l.Capture.Colour.Converted(); how != "" {
			warnings = append(warnings, fmt.Sprintf("capture %s %s", l.Name, how))
		}
		if l.Capture.Colour.HDR() {
			mapped = append(mapped, l.Name)
		} else {
			kept = append(kept, l.Name)
		}
	}
	if len(mapped) > 0 && len(kept) > 0 {
		warnings = append(warnings, fmt.Sprintf("HDR and SDR captures stand in one scene: tone-mapped: %s; shown as recorded: %s; their brightness and colours cannot be compared",
			strings.Join(mapped, ", "), strings.Join(kept, ", ")))
	}
	return warnings
}

// toSDR returns the filters that bring a picture that toBT709 has prepared, of
// wide gamut or high dynamic range, to BT.709. It has none for others.
func (c Colour) toSDR() [][]string {
	if !c.wide() {
		return nil
	}
	matrix := map[string]string{"bt2020": "bt2020nc", "bt601": "smpte170m"}[c.Matrix]
	if matrix == "" {
		matrix = c.Matrix
	}
	transfer := "bt709" // the curve of BT.2020 too
	if c.HDR() {
		transfer = c.Transfer
	}
	list := [][]string{
		{"setparams", "range=tv", "colorspace=" + matrix, "color_primaries=" + c.Primaries, "color_trc=" + transfer},
		// Mastering data tells of the picture before; an encoder would write it.
		{"sidedata", "delete"},
	}
	if c.HDR() {
		list = append(list,
			[]string{"zscale", "t=linear", fmt.Sprintf("npl=%d", referenceWhite)},
			[]string{"format", "gbrpf32le"},
			[]string{"zscale", "p=bt709"},
			[]string{"tonemap", "mobius", fmt.Sprintf("param=%g", kneeOfWhite), "desat=0", fmt.Sprintf("peak=%.4f", float64(peakLight)/referenceWhite)})
	}
	// Whole numbers clip what lies outside of the gamut, before luma is formed.
	return append(list,
		[]string{"zscale", "p=bt709", "t=bt709", "r=pc"},
		[]string{"format", "gbrp16le"},
		[]string{"zscale", "m=bt709", "r=tv"},
		[]string{"format", "yuv420p"})
}

// converts makes sure that this ffmpeg has the filters that toSDR names.
func (t *Tools) converts(ctx context.Context, c Capture) error {
	if !c.Colour.wide() {
		return nil
	}
	var out strings.Builder
	if err := t.run(ctx, process{program: t.FFmpeg, args: []string{"-hide_banner", "-v", "error", "-filters"}, stdout: readAllInto(&out)}); err != nil {
		return err
	}
	has := map[string]bool{}
	for line := range strings.Lines(out.String()) {
		if f := strings.Fields(line); len(f) > 1 {
			has[f[1]] = true
		}
	}
	for _, list := range c.Colour.toSDR() {
		if !has[list[0]] {
			return &Error{Msg: fmt.Sprintf("media: %s %s, for which this ffmpeg lacks the filter %s", c.Path, c.Colour.Converted(), list[0]),
				Hint: "use an ffmpeg that was built with zimg (ffmpeg -filters lists zscale), or make an SDR copy of the capture first"}
		}
	}
	return nil
}
