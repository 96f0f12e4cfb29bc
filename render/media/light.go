package media

import (
	"context"
	"fmt"
	"slices"
	"strings"
)

// How the light of a capture becomes that of the clip. Reference white is
// 203 cd/m² everywhere (ITU-R BT.2408, table 1), and HLG is taken as on a display of
// 1000 cd/m² with the system gamma of 1.2 that goes with it (BT.2100-2, table 5).
//
// High dynamic range becomes SDR in one way for every capture, whatever its own
// mastering data says, so that captures stay comparable:
//
//   - the primaries of BT.2020 become those of BT.709; what lies outside is clipped;
//   - light up to kneeOfWhite passes in proportion; a smooth (Möbius) curve brings
//     what is brighter, up to peakLight, below SDR's white; the rest is white;
//   - the result is coded for a display of gamma 2.4 (ITU-R BT.1886). Reference
//     white itself becomes 0.679 of white, which is code 202 of 8 bits.
//
// In a clip of high dynamic range
//
//   - captures with the clip's own transfer keep their codes;
//   - SDR is shown as on a display of gamma 2.4 whose white is reference white;
//   - HLG and PQ become each other by the light of the display (BT.2408, 6.1 and
//     6.2, by number from memory); PQ beyond 1000 cd/m² is clipped in HLG.
const (
	ReferenceWhite = 203  // cd/m²
	PeakLight      = 1000 // cd/m², common practice in mastering, and HLG's display
	KneeOfWhite    = 0.3  // of reference white: 61 cd/m²
)

// HDR reports whether the colours are of high dynamic range.
func (c Colour) HDR() bool { return c.Transfer == PQ || c.Transfer == HLG }

// Light names the kind of light, "SDR" for all but the transfers of HDR.
func (c Colour) Light() string {
	switch c.Transfer {
	case PQ:
		return "PQ"
	case HLG:
		return "HLG"
	}
	return "SDR"
}

// Differs reports whether more than matrix and range sets the colours apart from
// others: their gamut or their light.
func (c Colour) Differs(to Colour) bool {
	return c.Light() != to.Light() || c.Primaries != to.Primaries
}

// KeepsFullRange reports whether a picture keeps its matrix and full range until its light
// is converted: ffmpeg's scale filter, of some versions, takes 1020 for the white of
// full range in 10 bits, which is 3 codes off in a clip of as many.
func (c Colour) KeepsFullRange(to Coding) bool { return c.Full && to.Bytes == 2 }

// wider reports whether the gamut has colours to speak of that BT.709 lacks.
func (c Colour) wider() bool {
	return slices.Contains([]string{"bt2020", "smpte431", "smpte432"}, c.Primaries)
}

// Conversion says, after the name of what has these colours, how they are changed
// for a clip of other ones beyond how they are coded, or "" where nothing is lost
// or moved.
func (c Colour) Conversion(to Colour) string {
	from, into := c.Light(), to.Light()
	switch {
	case near[c.Strange] != "" && from == into:
		return fmt.Sprintf("is tagged with the primaries of %s, which are taken as those of BT.709, as is usual for games: if the tag were true, saturated colours would be up to 30 of 255 off", near[c.Strange])
	case c.Strange != "" && from == into:
		return fmt.Sprintf("has the primaries %s, which are not known here and taken as those of BT.709", c.Strange)
	case from == into && into == "SDR" && c.wider():
		return fmt.Sprintf("has the wide gamut of %s and is converted to BT.709: colours outside of it are clipped", primaries[c.Primaries])
	case from == into:
		return ""
	case into == "SDR":
		return fmt.Sprintf("is HDR (%s) and is tone-mapped to SDR: in proportion up to %.0f cd/m², compressed above, white from %d cd/m² on; reference white is %d cd/m²",
			from, KneeOfWhite*ReferenceWhite, PeakLight, ReferenceWhite)
	case from == "SDR":
		return fmt.Sprintf("is SDR and is placed in the HDR clip (%s) with its white at %d cd/m², as on a display of gamma 2.4", into, ReferenceWhite)
	case into == "PQ":
		return fmt.Sprintf("is HDR (HLG) and is converted to PQ, as on a display of %d cd/m²", PeakLight)
	}
	return fmt.Sprintf("is HDR (PQ) and is converted to HLG, as on a display of %d cd/m²; what is brighter is clipped", PeakLight)
}

// Filters returns the filters that bring a picture that Capture.codeOptions has prepared to
// the colours of a clip, in the pixel format named. It has none where nothing
// changes.
//
// zscale approximates HLG's system gamma channel by channel unless agamma is off,
// which leaves greys right and shifts colours by dozens of codes.
func (c Colour) Filters(to Coding, pixels string) [][]string {
	var list [][]string
	if c.HDR() {
		// Mastering data tells of one capture, or of the picture before; an encoder
		// would write it.
		list = append(list, []string{"sidedata", "delete"})
	}
	if !c.Differs(to.Colour) && !c.KeepsFullRange(to) {
		return list
	}
	matrix := map[string]string{"bt2020": "bt2020nc", "bt601": "smpte170m"}[c.Matrix]
	if matrix == "" {
		matrix = c.Matrix
	}
	transfer := "bt709" // the curve of BT.2020 too
	if c.HDR() {
		transfer = c.Transfer
	}
	step := func(options ...string) {
		if c.Transfer == HLG || to.Transfer == HLG {
			options = append(options, "agamma=0")
		}
		list = append(list, append([]string{"zscale"}, options...))
	}
	format := func(f string) { list = append(list, []string{"format", f}) }
	white := fmt.Sprintf("npl=%d", ReferenceWhite)
	span := "tv"
	if c.KeepsFullRange(to) {
		span = "pc"
	}
	if c.RGB && span == "pc" {
		matrix = "gbr"
	}
	list = append(list, []string{"setparams", "range=" + span, "colorspace=" + matrix, "color_primaries=" + c.Primaries, "color_trc=" + transfer})
	if c.HDR() && !to.HDR() {
		if c.Transfer == PQ {
			// PQ ends at its codes (BT.2100-2, table 4). Whole numbers clip what lies beyond
			// them, for which versions of zimg draw the curve on in different ways.
			step("m=gbr", "r=pc")
			format("gbrp16le")
		}
		step("t=linear", "p="+to.Primaries, white)
		format("gbrpf32le")
		list = append(list, []string{"tonemap", "mobius", fmt.Sprintf("param=%g", KneeOfWhite), "desat=0", fmt.Sprintf("peak=%.4f", float64(PeakLight)/ReferenceWhite)})
	}
	if !c.Differs(to.Colour) {
		step("m="+to.matrix, "r=tv")
		format(pixels)
		return list
	}
	// Whole numbers clip what lies outside of the gamut, and of HLG's light, before
	// luma is formed.
	step("p="+to.Primaries, "t="+to.Transfer, "r=pc", white)
	format("gbrp16le")
	step("m="+to.matrix, "r=tv")
	format(pixels)
	return list
}

// CheckConvertible makes sure that this ffmpeg has the filters that bring a capture to a
// coding.
func (t *Tools) CheckConvertible(ctx context.Context, c Capture, to Coding) error {
	filters := c.Colour.Filters(to, to.Pixels)
	if len(filters) == 0 {
		return nil
	}
	var out strings.Builder
	if err := t.Run(ctx, Process{Args: []string{"-hide_banner", "-v", "error", "-filters"}, Stdout: ReadInto(&out)}); err != nil {
		return err
	}
	has := map[string]bool{}
	for line := range strings.Lines(out.String()) {
		if f := strings.Fields(line); len(f) > 1 {
			has[f[1]] = true
		}
	}
	for _, list := range filters {
		if !has[list[0]] {
			how := c.Colour.Conversion(to.Colour)
			if how == "" {
				how = fmt.Sprintf("is converted from %s to %s", primaries[c.Colour.Primaries], primaries[to.Primaries])
			}
			return &Error{Msg: fmt.Sprintf("media: %s %s, for which this ffmpeg lacks the filter %s", c.Path, how, list[0]),
				Hint: "use an ffmpeg that was built with zimg (ffmpeg -filters lists zscale), or make a copy of the capture in the clip's colours first"}
		}
	}
	return nil
}
