package media

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Track is the first sound stream of a capture, the one that is heard.
type Track struct {
	Streams  int    // how many sound streams the capture has; 0: none
	Channels int    //
	Layout   string // what the channels are, in ffmpeg's words such as "5.1(side)"
	Rate     int    // samples a second
}

// add takes a sound stream of a capture into account.
func (t *Track) add(s *probedStream) {
	if t.Streams++; t.Streams > 1 {
		return
	}
	t.Channels, t.Layout = s.Channels, s.Layout
	t.Rate, _ = strconv.Atoi(s.SampleRate)
	if t.Layout == "" || t.Layout == "unknown" {
		t.Layout = usual[t.Channels]
	}
}

// usual are the layouts that ffmpeg takes so many channels for when the
// container does not say.
var usual = map[int]string{1: "mono", 2: "stereo", 3: "2.1", 4: "4.0", 5: "5.0", 6: "5.1", 7: "6.1", 8: "7.1"}

// layouts are the channels of the layouts in use, in their order in a stream.
var layouts = map[string]string{
	"mono": "FC", "stereo": "FL FR", "downmix": "FL FR",
	"2.1": "FL FR LFE", "3.0": "FL FR FC", "3.0(back)": "FL FR BC", "3.1": "FL FR FC LFE",
	"4.0": "FL FR FC BC", "4.1": "FL FR FC LFE BC", "quad": "FL FR BL BR", "quad(side)": "FL FR SL SR",
	"5.0": "FL FR FC BL BR", "5.0(side)": "FL FR FC SL SR", "5.1": "FL FR FC LFE BL BR", "5.1(side)": "FL FR FC LFE SL SR",
	"6.0": "FL FR FC BC SL SR", "hexagonal": "FL FR FC BL BR BC", "6.1": "FL FR FC LFE BC SL SR", "6.1(back)": "FL FR FC LFE BL BR BC",
	"7.0": "FL FR FC BL BR SL SR", "7.1": "FL FR FC LFE BL BR SL SR",
}

// minus3 is -3 dB.
const minus3 = 1 / math.Sqrt2

// stereo are the shares of a channel in left and right, in the downward mixing
// of Recommendation ITU-R BS.775 (3/2 to 2/0): centre and surrounds at -3 dB, no
// low-frequency channel. That a single surround feeds both sides at -6 dB, and
// that the back and the side channels of 7.1 both count as surrounds, is common
// practice. Nothing is lowered to make room: that would put a capture of 5.1
// below one of stereo beside it. Tools.level sees to the peaks.
var stereo = map[string][2]float64{
	"FL": {1, 0}, "FR": {0, 1}, "FC": {minus3, minus3}, "LFE": {0, 0},
	"BL": {minus3, 0}, "BR": {0, minus3}, "SL": {minus3, 0}, "SR": {0, minus3}, "BC": {0.5, 0.5},
}

// Folded reports whether the sound has more than two channels, of which the clip
// hears a downmix.
func (t Track) Folded() bool { return t.Channels > 2 }

// Known reports whether it is known what the channels are. Of sound of which it
// is not, the first two are used as left and right.
func (t Track) Known() bool {
	return len(strings.Fields(layouts[t.Layout])) == t.Channels && t.Channels > 0
}

// fold are the shares of each channel in left and right.
func (t Track) fold() [][2]float64 {
	if t.Channels == 1 {
		return [][2]float64{{1, 1}} // as a player does: both loudspeakers
	}
	shares := make([][2]float64, t.Channels)
	if !t.Known() {
		shares[0], shares[1] = stereo["FL"], stereo["FR"]
		return shares
	}
	for i, name := range strings.Fields(layouts[t.Layout]) {
		shares[i] = stereo[name]
	}
	return shares
}

// Pan returns ffmpeg's arguments for a mix to so many outputs, each a sum of
// shares of the inputs.
func Pan(layout string, outputs ...[]float64) []string {
	text := layout
	for o, shares := range outputs {
		var sum []string
		for i, share := range shares {
			switch share {
			case 0:
			case 1:
				sum = append(sum, fmt.Sprintf("c%d", i))
			default:
				sum = append(sum, fmt.Sprintf("%s*c%d", strconv.FormatFloat(share, 'f', 6, 64), i))
			}
		}
		if len(sum) == 0 {
			sum = []string{"0*c0"}
		}
		text += fmt.Sprintf("|c%d=%s", o, strings.Join(sum, "+"))
	}
	return []string{"pan", text}
}

// ToStereo are the filters that make two channels of the sound, none where it has
// two.
func (t Track) ToStereo() [][]string {
	if t.Layout == "stereo" && t.Channels == 2 {
		return nil
	}
	var left, right []float64
	for _, s := range t.fold() {
		left, right = append(left, s[0]), append(right, s[1])
	}
	return [][]string{Pan("stereo", left, right)}
}

// Format are the arguments of ffmpeg's aformat that keep the channels as they
// are.
func (t Track) Format(samples string) []string {
	f := []string{"aformat", "sample_fmts=" + samples}
	if t.Known() {
		f = append(f, "channel_layouts="+t.Layout)
	}
	return f
}

// Chain writes filters as ffmpeg reads them from a command line.
func Chain(filters ...[]string) string {
	var list []string
	for _, f := range filters {
		if len(f) == 1 {
			list = append(list, f[0])
			continue
		}
		list = append(list, f[0]+"="+strings.Join(f[1:], ":"))
	}
	return strings.Join(list, ",")
}
