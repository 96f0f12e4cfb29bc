package render

import (
	"fmt"
	"strings"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/pacing"
)

// timecode is a count of labels by SMPTE ST 12-1: from frame 0 of a recording
// on, which need not bear 00:00:00:00.
type timecode struct {
	rate  pacing.Rate
	drop  bool  // drop-frame counting
	first int64 // how many labels lie before that of frame 0
}

// timecodeOf is a capture's time code: its own, from its metadata, or else one
// that counts from 00:00:00:00 and keeps to the clock. warning says what of the
// metadata is of no use.
func timecodeOf(c media.Capture) (t timecode, warning string) {
	t = timecode{rate: c.Rate, drop: dropFrame(c.Rate)}
	if c.Timecode == "" {
		return t, ""
	}
	first, drop, err := comparison.TimecodeFrame(c.Timecode, c.Rate)
	if err != nil {
		return t, fmt.Sprintf("has the timecode %.20q, which does not exist at %s frames a second; "+
			"its frames are counted from 00:00:00:00", c.Timecode, c.Rate)
	}
	return timecode{rate: c.Rate, drop: drop, first: first}, ""
}

// dropFrame reports whether drop-frame counting belongs to a rate.
func dropFrame(r pacing.Rate) bool {
	return r == pacing.Rate{Num: 30000, Den: 1001} || r == pacing.Rate{Num: 60000, Den: 1001}
}

// label is that of frame n of the recording.
func (t timecode) label(n int64) (string, error) {
	return comparison.Timecode(t.first+n, t.rate, t.drop)
}

// at returns the time code in which a clip of the given rate counts on from
// frame n of the recording. Hours, minutes and seconds stay, and the frame is
// the one that far into the second. exact reports whether the labels of all
// later frames are those of the recording too, at whole seconds at least.
func (t timecode) at(n int64, rate pacing.Rate) (from timecode, exact bool, err error) {
	from = timecode{rate: rate, drop: t.drop && dropFrame(rate)}
	if rate == t.rate {
		from.first = t.first + n
		return from, true, nil
	}
	label, err := t.label(n)
	if err != nil {
		return from, false, err
	}
	cut := strings.LastIndexAny(label, ":;")
	var frame int64
	if _, err := fmt.Sscan(label[cut+1:], &frame); err != nil {
		return from, false, fmt.Errorf("render: time code %s: %w", label, err)
	}
	own, other := nominal(t.rate), nominal(rate)
	separator := ":"
	if from.drop {
		separator = ";"
	}
	from.first, _, err = comparison.TimecodeFrame(fmt.Sprintf("%s%s%02d",
		label[:cut], separator, frame*other/own), rate)
	if err != nil {
		return from, false, err
	}
	return from, t.rate.Den == rate.Den && t.drop == from.drop, nil
}

// nominal is the whole number of frames that time code counts to a second.
func nominal(r pacing.Rate) int64 { return (r.Num + r.Den - 1) / r.Den }

// addTimecode gives the clip the time code of the capture that the scene names.
func (p *Plan) addTimecode(captures []sceneCapture) error {
	for _, c := range captures {
		if c.Key != p.Scene.Timecode {
			continue
		}
		if !p.Clip.Delivery.HasTags() {
			p.warn(fmt.Sprintf("delivery %s has no timecode", p.Clip.Delivery.Name))
			return nil
		}
		from, warnings, err := clipTimecode(c, p.Clip.Rate, p.Clip.Rate.FramesIn(p.Scene.Title))
		if err != nil {
			return &finding.Error{Msg: fmt.Sprintf("scene %s: timecode of capture %s: %v", p.Scene.ID, c.Key, err),
				Hint: "remove timecode:, or choose another rate for the output"}
		}
		p.warn(warnings...)
		if !p.Clip.Time.Plain() {
			p.warn(fmt.Sprintf("the clip's timecode is that of capture %s at the first frame; after "+
				"that it counts the clip's frames, not the scene's time", c.Key))
		}
		p.Clip.Timecode, err = from.label(0)
		return err
	}
	return nil
}

// before is the time code that so many frames earlier began, yesterday if need be.
func (t timecode) before(frames int64) timecode {
	day := nominal(t.rate) * 24 * 60 * 60
	if t.drop {
		// SMPTE ST 12-1: two labels of 30 are left out in nine minutes of ten.
		day -= nominal(t.rate) / 15 * 24 * 54
	}
	if t.first -= frames; t.first < 0 {
		t.first += day
	}
	return t
}

// clipTimecode is the time code of a clip whose scene begins at a capture's start,
// after so many frames of a title page.
func clipTimecode(c sceneCapture, rate pacing.Rate,
	lead int64) (from timecode, warnings []string, err error) {
	own, warning := timecodeOf(c.probed)
	if c.probed.Variable() {
		warnings = append(warnings, fmt.Sprintf("capture %s is of variable rate; its timecode counts its time "+
			"at %s frames a second, not its pictures", c.Key, c.probed.Rate))
	}
	if warning != "" {
		warnings = append(warnings, fmt.Sprintf("capture %s %s", c.Key, warning))
	}
	from, exact, err := own.at(c.probed.Rate.FrameAt(c.start), rate)
	if err != nil {
		return from, warnings, err
	}
	if !exact {
		warnings = append(warnings,
			fmt.Sprintf("the clip's timecode is that of capture %s at the first frame; after that it "+
				"counts %s frames a second, not %s", c.Key, rate, c.probed.Rate))
	}
	return from.before(lead), warnings, nil
}
