package check

import (
	"fmt"
	"image"
	"math"
	"strings"
	"time"

	"fairframe/render/finding"
	"fairframe/render/pacing"
)

// Recording is what a capture's container says of it.
type Recording struct {
	Size        image.Point
	Rate        pacing.Rate
	Free        bool   // it keeps to no rate
	Matrix      string // as tagged, in ffmpeg's words; "" when not
	Primaries   string // the same
	Transfer    string // the same
	Range       string // the same
	TakenMatrix string // what is assumed, or tagged
	TakenFull   bool   // full range is assumed, or tagged
}

// Captures judges what a recording says of itself against the output.
func Captures(r Recording, output image.Point, rate pacing.Rate) []Finding {
	var list []Finding
	if r.Rate != rate && !r.Free {
		list = append(list, rateAgainst(r.Rate, rate))
	}
	if r.Size.X*output.Y != r.Size.Y*output.X {
		list = append(list, Finding{Severity: Note, What: "its aspect is not the output's",
			Evidence: fmt.Sprintf("capture %dx%d is %.3f, output %dx%d is %.3f",
				r.Size.X, r.Size.Y, aspect(r.Size), output.X, output.Y, aspect(output)),
			Remedy: "look at a preview of each scene; window: whole shows the entire capture with bars"})
	}
	if r.Range == "" || r.Matrix == "" {
		taken := "limited"
		if r.TakenFull {
			taken = "full"
		}
		missing := "range and matrix"
		switch {
		case r.Range != "":
			missing = "matrix"
		case r.Matrix != "":
			missing = "range"
		}
		list = append(list, Finding{Severity: Note, What: "its colours are not tagged",
			Evidence: fmt.Sprintf("no %s; taken as %s, %s range", missing, r.TakenMatrix, taken),
			Remedy: "compare a preview with what the machine shows; if it differs, tag the capture " +
				"when it is recorded or copied"})
	}
	return append(list, tags(r)...)
}

// wide tells the tags of BT.2020 and its transfers from those of BT.709 and
// earlier.
var wide = map[string]bool{"bt2020": true, "bt2020nc": true, "bt2020c": true, "smpte2084": true,
	"arib-std-b67": true, "ictcp": true}

// tags judges whether a recording's colour tags fit each other and its size.
func tags(r Recording) []Finding {
	var has, lacks []string
	for _, tag := range []struct{ what, value string }{{"matrix", r.Matrix}, {"primaries", r.Primaries},
		{"transfer", r.Transfer}} {
		switch {
		case tag.value == "":
		case wide[tag.value]:
			has = append(has, tag.what+" "+tag.value)
		default:
			lacks = append(lacks, tag.what+" "+tag.value)
		}
	}
	// BT.2020 pictures may have the transfer of BT.709, which is theirs to ten bits
	// (ITU-R BT.2020, from memory), but no BT.709 picture has matrix or primaries of
	// BT.2020.
	if len(has) > 0 && len(lacks) > 0 && !(len(lacks) == 1 && strings.HasPrefix(lacks[0], "transfer")) {
		return []Finding{{Severity: Misleads, What: "its colour tags contradict each other",
			Evidence: strings.Join(append(has, lacks...), ", "),
			Remedy:   "find out what the machine sends, and tag the capture so"}}
	}
	// Common practice: BT.709 from 720 lines on.
	if old := r.Matrix == "smpte170m" || r.Matrix == "bt470bg"; old && r.Size.Y >= 720 {
		return []Finding{{Severity: Note, What: "its matrix is unusual for its size",
			Evidence: fmt.Sprintf("%s at %dx%d", r.Matrix, r.Size.X, r.Size.Y),
			Remedy:   "compare a preview with what the machine shows: a wrong matrix turns greens and skin"}}
	}
	return nil
}

func aspect(p image.Point) float64 { return float64(p.X) / float64(p.Y) }

// rateAgainst tells what becomes of a capture whose rate is not the output's.
func rateAgainst(in, out pacing.Rate) Finding {
	f := Finding{Severity: Note, What: "its frame rate is not the output's",
		Evidence: fmt.Sprintf("capture %s, output %s frames a second", in, out)}
	ratio := in.Hz() / out.Hz()
	switch {
	case ratio > 1.001:
		f.Severity = Misleads
		f.Evidence += fmt.Sprintf("; %.0f %% of its frames are never shown", 100*(1-1/ratio))
		f.Remedy = fmt.Sprintf("set output: rate: %s, or say so where the clip is shown", in)
	case math.Abs(ratio-1) <= 0.001 || math.Abs(1/ratio-math.Round(1/ratio)) <= 0.002:
		slip := math.Abs(ratio*math.Round(1/ratio) - 1)
		if slip > 0 {
			f.Evidence += fmt.Sprintf("; one output frame slips every %.1f s", 1/(slip*out.Hz()))
		}
	default:
		f.Severity = Misleads
		f.Evidence += "; frames are repeated unevenly"
		f.Remedy = fmt.Sprintf("set output: rate: %s, or a whole multiple of it", in)
	}
	return f
}

// Stamps judges the time stamps of a capture over a stretch: frames that the
// recorder dropped, which no clip may show as if the game had stood still; stamps
// that stand still; packets without one. The stamps are
// in order and reach beyond the stretch where the capture does.
func Stamps(stamps []time.Duration, missing int, r pacing.Rate, from, to time.Duration) []Finding {
	var list []Finding
	if missing > 0 {
		list = append(list, Finding{Severity: Misleads, What: "frames without a time stamp",
			Evidence: fmt.Sprintf("%d packets near the stretch have none", missing),
			Remedy:   "remux the capture, for example into mkv, and check again"}.AtTime(from))
	}
	frame := r.TimeOf(1)
	number := func(t time.Duration) int64 { return r.FrameAt(t + frame/2) } // as rendering rounds
	low, high := r.FrameAt(from), r.FrameAt(to-frame/2)
	var dropped int64
	var places, same int
	var first, firstSame, longest time.Duration
	for i := 1; i < len(stamps); i++ {
		a, b := stamps[i-1], stamps[i]
		if b <= from || a >= to {
			continue
		}
		if number(b) == number(a) {
			if same == 0 {
				firstSame = b
			}
			same++
		}
		// Those between a and b that are shown.
		if n := min(number(b)-1, high) - max(number(a)+1, low) + 1; n > 0 {
			if places == 0 {
				first = a
			}
			dropped += n
			places++
			longest = max(longest, b-a)
		}
	}
	if dropped > 0 {
		list = append(list, Finding{Severity: Fails, What: "the recorder dropped frames",
			Evidence: fmt.Sprintf("%d missing in %d %s, the longest step is %.1f ms at %s frames a second",
				dropped, places, plural(places, "place"), ms(longest), r),
			Remedy: "choose another stretch, or record again: a dropped frame looks like a hitch of " +
				"the game; tolerate: gaps shows the scene all the same, and says so"}.AtTime(first))
	}
	if same > 0 {
		list = append(list, Finding{Severity: Misleads,
			What: "frames closer together than the frame rate allows",
			Evidence: fmt.Sprintf("%d of them; at %s frames a second they lie %.1f ms apart",
				same, r, ms(frame)),
			Remedy: "convert the capture to a constant frame rate, or record it with one"}.AtTime(firstSame))
	}
	return list
}

// Stamped is what the stamps of a capture of variable rate are like.
type Stamped struct {
	Grid              bool // they keep to Rate, but pictures are missing
	Rate              pacing.Rate
	Pictures          int64
	Missing, Doubled  int64
	Mean              float64 // pictures a second
	Shortest, Longest time.Duration
}

// Variable says what is known, and what is not, of a capture that is read by its
// stamps.
func Variable(s Stamped) (list []Finding) {
	add := func(severity finding.Severity, what, evidence, remedy string) {
		list = append(list, Finding{Severity: severity, What: what, Evidence: evidence, Remedy: remedy})
	}
	switch {
	case s.Grid && s.Missing > 0:
		add(Note, "its frame rate is variable",
			fmt.Sprintf("%d pictures on a grid of %s Hz with %d places empty, up to %.1f ms from one "+
				"to the next; it is read by its stamps", s.Pictures, s.Rate, s.Missing, ms(s.Longest)),
			"nothing to do where the recorder leaves out repeated pictures; where it drops pictures, "+
				"the scenes concerned say so")
	case !s.Grid:
		add(Misleads, "its frame rate is variable, and keeps to no refresh",
			fmt.Sprintf("%.2f pictures a second on average, %.1f to %.1f ms apart; it is read by its stamps",
				s.Mean, ms(s.Shortest), ms(s.Longest)),
			"frame times are as good as the recorder's stamps, and no multiples of a refresh; record "+
				"at a constant rate to know better")
	}
	if s.Doubled > 0 {
		add(Misleads, "pictures share their time stamp",
			fmt.Sprintf("%d of %d have the stamp of the one before; only the last of them is ever shown",
				s.Doubled, s.Pictures),
			"what was on screen for how long there is not known; record again, at a constant rate")
	}
	return list
}

// Reach judges whether a capture's stamps reach to the end of what a scene shows
// of it, without decoding anything: last is the last captured frame shown.
func Reach(stamps []time.Duration, last int64, r pacing.Rate, from time.Duration) []Finding {
	var have int64
	if len(stamps) > 0 {
		have = r.FrameAt(stamps[len(stamps)-1] + r.TimeOf(1)/2)
	}
	// As in Coverage.
	if len(stamps) > 0 && have >= last-1 {
		return nil
	}
	f := Finding{Severity: Fails, What: "the capture ends within the scene",
		Remedy: "start the scene earlier, shorten it, or record more",
		Evidence: fmt.Sprintf("nothing is recorded from %.2f s on, the scene shows it to %.2f s",
			from.Seconds(), r.TimeOf(last+1).Seconds())}
	if len(stamps) == 0 || stamps[len(stamps)-1] < from {
		return []Finding{f.AtTime(from)}
	}
	end := r.TimeOf(have + 1)
	f.Evidence = fmt.Sprintf("its last frame ends at %.2f s, the scene shows it to %.2f s",
		end.Seconds(), r.TimeOf(last+1).Seconds())
	return []Finding{f.AtTime(end)}
}

// Coverage judges how many captured frames of a stretch could be decoded.
func Coverage(got, want int64, r pacing.Rate, from time.Duration) []Finding {
	// A last frame may be cut by the rounding of the container's length.
	if got >= want-1 {
		return nil
	}
	return []Finding{Finding{Severity: Fails, What: "the capture ends within the scene",
		Evidence: fmt.Sprintf("%d of %d frames can be decoded", got, want),
		Remedy:   "start the scene earlier, shorten it, or record more"}.AtTime(from + r.TimeOf(got))}
}

func ms(d time.Duration) float64 { return float64(d) / float64(time.Millisecond) }

func plural(n int, word string) string {
	if n == 1 {
		return word
	}
	return word + "s"
}
