package scene

import (
	"testing"

	"fairframe/render/media"
	"fairframe/render/pacing"
)

var (
	hz60   = pacing.Rate{Num: 60, Den: 1}
	hz30   = pacing.Rate{Num: 30, Den: 1}
	hz5994 = pacing.Rate{Num: 60000, Den: 1001}
	hz2997 = pacing.Rate{Num: 30000, Den: 1001}
)

// TestTimecodeOf: labels of captures with and without a time code of their own,
// in clips of their own and of other rates. The labels at drop-frame's seams are
// those of testdata/published/02_dropframe_conversions.csv (SMPTE ST 12-1).
func TestTimecodeOf(t *testing.T) {
	for _, tt := range []struct {
		name  string
		rate  pacing.Rate
		own   string
		frame int64
		out   pacing.Rate
		want  string
		exact bool
		warns bool
	}{
		{"from the beginning", hz60, "", 0, hz60, "00:00:00:00", true, false},
		{"a second and a half", hz60, "", 90, hz60, "00:00:01:30", true, false},
		{"own", hz60, "10:00:00:30", 90, hz60, "10:00:02:00", true, false},
		{"over midnight", hz60, "23:59:59:59", 1, hz60, "00:00:00:00", true, false},
		{"drop-frame before a minute", hz5994, "", 3599, hz5994, "00:00:59;59", true, false},
		{"drop-frame after it", hz5994, "", 3600, hz5994, "00:01:00;04", true, false},
		{"drop-frame after ten", hz5994, "", 35964, hz5994, "00:10:00;00", true, false},
		{"drop-frame at 29.97", hz2997, "", 1800, hz2997, "00:01:00;02", true, false},
		{"own drop-frame", hz5994, "01:00:59;58", 2, hz5994, "01:01:00;04", true, false},
		{"own without drop", hz5994, "01:00:59:58", 2, hz5994, "01:01:00:00", true, false},
		{"half the rate", hz60, "", 91, hz30, "00:00:01:15", true, false},
		{"twice the rate", hz30, "", 45, hz60, "00:00:01:30", true, false},
		{"half the rate, drop-frame", hz5994, "", 3600, hz2997, "00:01:00;02", true, false},
		{"another clock", hz5994, "", 3600, hz60, "00:01:00:04", false, false},
		{"no time code", hz60, "tomorrow", 60, hz60, "00:00:01:00", true, true},
		{"a clock", hz60, "01:00:00.50", 60, hz60, "00:00:01:00", true, true},
		{"a label that drop-frame leaves out", hz5994, "00:01:00;01", 0, hz5994, "00:00:00;00", true, true},
		{"drop-frame where there is none", hz60, "00:01:00;10", 0, hz60, "00:00:00:00", true, true},
	} {
		own, warning := TimecodeOf(media.Capture{Rate: tt.rate, Timecode: tt.own})
		from, exact, err := own.at(tt.frame, tt.out)
		if err != nil {
			t.Errorf("%s: %v", tt.name, err)
			continue
		}
		got, err := from.Label(0)
		if err != nil || got != tt.want || exact != tt.exact || (warning != "") != tt.warns {
			t.Errorf("%s: %s, exact %v, warning %q, %v; want %s, %v", tt.name, got, exact, warning, err, tt.want, tt.exact)
		}
	}
	if _, _, err := (Timecode{rate: hz60}).at(0, pacing.Rate{Num: 25, Den: 2}); err == nil {
		t.Error("time code at 12.5 frames a second")
	}
}

// TestTimecodeBefore: a title page counts back, over midnight too. The numbers of
// frames in 24 h are those of testdata/published/02_dropframe_counts.csv.
func TestTimecodeBefore(t *testing.T) {
	for _, tt := range []struct {
		rate   pacing.Rate
		drop   bool
		first  int64
		frames int64
		want   string
		day    int64
	}{
		{hz60, false, 90, 60, "00:00:00:30", 5184000},
		{hz60, false, 0, 60, "23:59:59:00", 5184000},
		{hz5994, true, 0, 1, "23:59:59;59", 5178816},
		{hz2997, true, 0, 1, "23:59:59;29", 2589408},
		{hz2997, false, 0, 1, "23:59:59:29", 2592000},
		{hz2997, true, 1800, 2, "00:00:59;28", 2589408},
	} {
		got := Timecode{tt.rate, tt.drop, tt.first}.before(tt.frames)
		label, err := got.Label(0)
		if err != nil || label != tt.want || tt.first == 0 && got.First != tt.day-tt.frames {
			t.Errorf("%s %v %d - %d: %s (%d), %v; want %s", tt.rate, tt.drop, tt.first, tt.frames, label, got.First, err, tt.want)
		}
	}
	// Time code of a day that is longer than one by the clock.
	own, warning := TimecodeOf(media.Capture{Rate: hz5994, Timecode: "23:59:30:00"})
	if label, err := own.Label(60); err != nil || label != "23:59:31:00" || warning != "" {
		t.Errorf("%s, %q, %v", label, warning, err)
	}
}
