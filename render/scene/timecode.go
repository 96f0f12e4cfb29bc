package scene

import (
	"fmt"
	"slices"
	"strings"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/pacing"
)

// Timecode is a count of labels by SMPTE ST 12-1: from frame 0 of a recording
// on, which need not bear 00:00:00:00.
type Timecode struct {
	rate  pacing.Rate
	Drop  bool  // drop-frame counting
	First int64 // how many labels lie before that of frame 0
}

// TimecodeOf is a capture's time code: its own, from its metadata, or else one
// that counts from 00:00:00:00 and keeps to the clock. warning says what of the
// metadata is of no use.
func TimecodeOf(c media.Capture) (t Timecode, warning string) {
	t = Timecode{rate: c.Rate, Drop: DropFrame(c.Rate)}
	if c.Timecode == "" {
		return t, ""
	}
	first, drop, err := comparison.TimecodeFrame(c.Timecode, c.Rate)
	if err != nil {
		return t, fmt.Sprintf("has the timecode %.20q, which does not exist at %s frames a second; "+
			"its frames are counted from 00:00:00:00", c.Timecode, c.Rate)
	}
	return Timecode{rate: c.Rate, Drop: drop, First: first}, ""
}

// DropFrame reports whether drop-frame counting belongs to a rate.
func DropFrame(r pacing.Rate) bool {
	return r == pacing.Rate{Num: 30000, Den: 1001} || r == pacing.Rate{Num: 60000, Den: 1001}
}

// Label is that of frame n of the recording.
func (t Timecode) Label(n int64) (string, error) {
	return comparison.Timecode(t.First+n, t.rate, t.Drop)
}

// at returns the time code in which a clip of the given rate counts on from
// frame n of the recording. Hours, minutes and seconds stay, and the frame is
// the one that far into the second. exact reports whether the labels of all
// later frames are those of the recording too, at whole seconds at least.
func (t Timecode) at(n int64, rate pacing.Rate) (from Timecode, exact bool, err error) {
	from = Timecode{rate: rate, Drop: t.Drop && DropFrame(rate)}
	if rate == t.rate {
		from.First = t.First + n
		return from, true, nil
	}
	label, err := t.Label(n)
	if err != nil {
		return from, false, err
	}
	cut := strings.LastIndexAny(label, ":;")
	var frame int64
	if _, err := fmt.Sscan(label[cut+1:], &frame); err != nil {
		return from, false, fmt.Errorf("scene: time code %s: %w", label, err)
	}
	own, other := nominal(t.rate), nominal(rate)
	separator := ":"
	if from.Drop {
		separator = ";"
	}
	from.First, _, err = comparison.TimecodeFrame(fmt.Sprintf("%s%s%02d",
		label[:cut], separator, frame*other/own), rate)
	if err != nil {
		return from, false, err
	}
	return from, t.rate.Den == rate.Den && t.Drop == from.Drop, nil
}

// nominal is the whole number of frames that time code counts to a second.
func nominal(r pacing.Rate) int64 { return (r.Num + r.Den - 1) / r.Den }

// timecodeText is the time code that the clip carries: that of the capture which the
// scene names; "": none.
func timecodeText(f *Footage, rate pacing.Rate, passing pacing.TimeMap, w *warnings) (string, error) {
	i := slices.IndexFunc(f.Takes, func(t Take) bool { return t.Key == f.Scene.Timecode })
	if i < 0 {
		return "", nil
	}
	if !f.Delivery.HasTags() {
		w.plain(fmt.Sprintf("delivery %s has no timecode", f.Delivery.Name))
		return "", nil
	}
	from, more, err := ClipTimecode(f.Takes[i], rate, passing, rate.FramesIn(f.Scene.Title))
	if err != nil {
		return "", &finding.Error{Msg: fmt.Sprintf("scene %s: timecode of capture %s: %v", f.Scene.ID,
			f.Scene.Timecode, err), Hint: "remove timecode:, or choose another rate for the output"}
	}
	w.plain(more...)
	return from.Label(0)
}

// before is the time code so many frames earlier; it may be yesterday's.
func (t Timecode) before(frames int64) Timecode {
	day := nominal(t.rate) * 24 * 60 * 60
	if t.Drop {
		// SMPTE ST 12-1: two labels of 30 are left out in nine minutes of ten.
		day -= nominal(t.rate) / 15 * 24 * 54
	}
	if t.First -= frames; t.First < 0 {
		t.First += day
	}
	return t
}

// ClipTimecode is the time code of a clip whose scene begins at a capture's start,
// after so many frames of a title page.
func ClipTimecode(c Take, rate pacing.Rate, passing pacing.TimeMap,
	lead int64) (from Timecode, warnings []string, err error) {
	own, warning := TimecodeOf(c.Probed)
	if c.Probed.Variable() {
		warnings = append(warnings, fmt.Sprintf("capture %s is of variable rate; its timecode counts its time "+
			"at %s frames a second, not its pictures", c.Key, c.Probed.Rate))
	}
	if warning != "" {
		warnings = append(warnings, fmt.Sprintf("capture %s %s", c.Key, warning))
	}
	from, exact, err := own.at(c.Probed.Rate.FrameAt(c.Start), rate)
	if err != nil {
		return from, warnings, err
	}
	const first = "the clip's timecode is that of capture %s at the first frame; after that it counts "
	switch {
	case !passing.Plain():
		warnings = append(warnings, fmt.Sprintf(first+"the clip's frames, not the scene's time", c.Key))
	case !exact:
		warnings = append(warnings,
			fmt.Sprintf(first+"%s frames a second, not %s", c.Key, rate, c.Probed.Rate))
	}
	return from.before(lead), warnings, nil
}
