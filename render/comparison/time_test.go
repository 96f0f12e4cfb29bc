package comparison

import (
	"math/big"
	"strconv"
	"strings"
	"testing"
	"time"

	"fairframe/render/pacing"
	"fairframe/testdata/published"
)

// rates of the tests that need several.
var (
	ntsc30 = pacing.Rate{Num: 30000, Den: 1001}
	ntsc60 = pacing.Rate{Num: 60000, Den: 1001}
	fps60  = pacing.Rate{Num: 60, Den: 1}
)

func rateOf(t *testing.T, s string) pacing.Rate {
	t.Helper()
	r, err := pacing.ParseRate(s)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// SMPTE ST 12-1:2014 drop-frame labels, as tabled in
// testdata/published/02_dropframe_conversions.csv (its last columns say where
// each row was seen or how it was computed).
func TestTimecodePublishedConversions(t *testing.T) {
	for _, row := range published.Rows(t, "02_dropframe_conversions.csv") {
		rate := rateOf(t, row["rate"])
		n, _ := strconv.ParseInt(row["frame"], 10, 64)
		seconds, _ := new(big.Rat).SetString(row["seconds"])
		for _, c := range []struct {
			label string
			drop  bool
			wraps int64 // frames in 24 h
		}{
			{row["drop_frame_tc"], true, 2589408 * rate.Num / 30000},
			{row["non_drop_tc"], false, 2592000 * rate.Num / 30000},
		} {
			if got, err := Timecode(n, rate, c.drop); err != nil || got != c.label {
				t.Errorf("Timecode(%d, %v, %v) = %q, %v; want %q", n, rate, c.drop, got, err, c.label)
			}
			v, err := ParseTime(c.label)
			if err != nil {
				t.Errorf("ParseTime(%q): %v", c.label, err)
				continue
			}
			at, err := v.At(rate)
			if want := rate.TimeOf(n % c.wraps); err != nil || at != want {
				t.Errorf("%q at %v: %v, %v; want %v", c.label, rate, at, err, want)
			}
			// The table's seconds have six decimals.
			if off := new(big.Rat).Sub(seconds, big.NewRat(int64(at), int64(time.Second))); n < c.wraps && off.Abs(off).Cmp(big.NewRat(1, 1_000_000)) > 0 {
				t.Errorf("%q at %v: %v, the table says %s s", c.label, rate, at, row["seconds"])
			}
		}
	}
}

// SMPTE ST 12-1:2014 counts of frames, as tabled in
// testdata/published/02_dropframe_counts.csv.
func TestTimecodePublishedCounts(t *testing.T) {
	for _, row := range published.Rows(t, "02_dropframe_counts.csv") {
		name, kind, _ := strings.Cut(row["rate"], " ")
		rate, drop := rateOf(t, name), kind == "DF"
		sep := ":"
		if drop {
			sep = ";"
		}
		first := int64(0) // the first label of minute 1, 00:01:00:00 unless it is dropped
		if drop {
			first, _ = strconv.ParseInt(row["drop_per_minute"], 10, 64)
		}
		count := func(column string) int64 {
			n, err := strconv.ParseInt(row[column], 10, 64)
			if err != nil {
				t.Fatalf("%s: %v", column, err)
			}
			return n
		}
		two := func(n int64) string { return string([]byte{'0' + byte(n/10), '0' + byte(n%10)}) }
		// The frames of minute 0 (a tenth minute), of minute 1, of ten minutes and
		// of an hour, from the labels that begin and follow them.
		for _, c := range []struct {
			from, to string
			want     int64
		}{
			{"00:00:00" + sep + "00", "00:01:00" + sep + two(first), count("frames_1min_tenth")},
			{"00:01:00" + sep + two(first), "00:02:00" + sep + two(first), count("frames_1min_ordinary")},
			{"00:00:00" + sep + "00", "00:10:00" + sep + "00", count("frames_10min")},
			{"00:00:00" + sep + "00", "01:00:00" + sep + "00", count("frames_1h")},
		} {
			from, err1 := timeOf(t, c.from).At(rate)
			to, err2 := timeOf(t, c.to).At(rate)
			if got := rate.FrameAt(to) - rate.FrameAt(from); err1 != nil || err2 != nil || got != c.want {
				t.Errorf("%s: from %s to %s there are %d frames, want %d (%v, %v)", row["rate"], c.from, c.to, got, c.want, err1, err2)
			}
		}
		day := count("frames_24h")
		if got, err := Timecode(day, rate, drop); err != nil || got != "00:00:00"+sep+"00" {
			t.Errorf("%s: frame %d is %q, %v; want the first label again", row["rate"], day, got, err)
		}
		if got, err := Timecode(day-1, rate, drop); err != nil || !strings.HasPrefix(got, "23:59:59") {
			t.Errorf("%s: frame %d is %q, %v; want the last second", row["rate"], day-1, got, err)
		}
	}
}

// Labels that do not exist, as tabled in
// testdata/published/02_timecode_invalid.csv.
func TestTimecodePublishedInvalid(t *testing.T) {
	for _, row := range published.Rows(t, "02_timecode_invalid.csv") {
		rate := rateOf(t, row["rate"])
		if strings.HasPrefix(row["input"], "frame ") {
			if got, err := Timecode(30, rate, true); err == nil {
				t.Errorf("%s: %q, want an error", row["input"], got)
			}
			continue
		}
		at, err := timeOf(t, row["input"]).At(rate)
		switch {
		case strings.HasPrefix(row["expected"], "valid, frame 17982"):
			if err != nil || rate.FrameAt(at) != 17982 {
				t.Errorf("%s at %v: %v, %v; want frame 17982", row["input"], rate, at, err)
			}
		case err == nil:
			t.Errorf("%s at %v: %v; want an error: %s", row["input"], rate, at, row["expected"])
		}
	}
}

// A sample of a day's labels at both drop-frame rates: they only grow, each
// leads back to its frame, and none of the dropped ones is among them.
func TestTimecodeWholeDay(t *testing.T) {
	for _, c := range []struct {
		rate    pacing.Rate
		dropped string
		step    int64
	}{{ntsc30, "00 01", 97}, {ntsc60, "00 01 02 03", 193}} {
		last := ""
		for n := int64(0); n < 24*6*17982*c.rate.Num/30000; n += c.step {
			label, err := Timecode(n, c.rate, true)
			if err != nil || label <= last {
				t.Fatalf("frame %d: %q after %q, %v", n, label, last, err)
			}
			last = label
			if label[4] != '0' && label[6:8] == "00" && strings.Contains(c.dropped, label[9:]) {
				t.Fatalf("frame %d: %q does not exist", n, label)
			}
			v, perr := parseTime(label)
			if perr != nil {
				t.Fatal(perr)
			}
			if back, ferr := v.code.frame(label, c.rate); ferr != nil || back != n {
				t.Fatalf("frame %d: %q is frame %d, %v", n, label, back, ferr)
			}
		}
	}
}

func TestTimeAt(t *testing.T) {
	const ms = time.Millisecond
	for _, c := range []struct {
		written string
		rate    pacing.Rate
		want    time.Duration
	}{
		{"0s", fps60, 0},
		{"8s", fps60, 8 * time.Second},
		{"250ms", fps60, 250 * ms},
		{"1m30s", fps60, 90 * time.Second},
		{"1.5s", fps60, 1500 * ms},
		{"1h", fps60, time.Hour},
		{"24h", fps60, 24 * time.Hour},
		{"1m0.5s", fps60, 60500 * ms},
		{"1s500ms", fps60, 1500 * ms},
		{"3us", fps60, 3 * time.Microsecond},
		{"3µs", fps60, 3 * time.Microsecond},
		{"7ns", fps60, 7},
		{"0.0166666666666667s", fps60, 16_666_667}, // rounded to the nearest
		{"0.4ns", fps60, 0},
		{"0.5ns", fps60, 1},
		{"00:00:03.250", fps60, 3250 * ms},
		{"00:01:30.500", fps60, 90500 * ms},
		{"00:01:30", fps60, 90 * time.Second},
		{"01:00:00", ntsc60, time.Hour},     // a clock, not a timecode
		{"00:01:30:15", fps60, 90250 * ms},  // 15/60 s
		{"00:00:01:00", ntsc60, 1001 * ms},  // 60 frames of 1001/60000 s
		{"00:01:00;02", ntsc30, 60060 * ms}, // frame 1800, ST 12-1
		{"00:00:01:119", pacing.Rate{Num: 120, Den: 1}, 1991666667},
		{"f0", fps60, 0},
		{"f60", ntsc60, 1001 * ms},
		{"f1234", fps60, 20566666667},
	} {
		v := timeOf(t, c.written)
		got, err := v.At(c.rate)
		if err != nil || got != c.want {
			t.Errorf("%s at %v: %v, %v; want %v", c.written, c.rate, got, err, c.want)
		}
		if v.String() != c.written {
			t.Errorf("%s prints as %s", c.written, v)
		}
		// A frame number or timecode must come back from its time.
		if v.form != duration && c.rate.TimeOf(c.rate.FrameAt(got)) != got {
			t.Errorf("%s at %v: %v is not when a frame begins", c.written, c.rate, got)
		}
	}
}

func TestTimeErrors(t *testing.T) {
	const notTime = " is not a time"
	for _, c := range []struct{ written, msg, hint string }{
		{"", `""` + notTime, timeForms},
		{"8", `a time needs a unit, found "8"`, "write 8s for seconds or 8ms for milliseconds, or f8 for a frame number"},
		{"1.5", `a time needs a unit, found "1.5"`, "write 1.5s for seconds or 1.5ms for milliseconds"},
		{"-1", `"-1"` + notTime, timeForms},
		{"-3s", `"-3s" is before the beginning`, "times count from the first frame of a capture and are never negative"},
		{"-00:00:01", `"-00:00:01" is before the beginning`, "times count from the first frame of a capture and are never negative"},
		{"+3s", `"+3s"` + notTime, timeForms},
		{"8 s", `"8 s"` + notTime, timeForms},
		{" 8s", `" 8s"` + notTime, timeForms},
		{"8s\t", `"8s\t"` + notTime, timeForms},
		{"8\u00a0s", `"8\u00a0s"` + notTime, timeForms},
		{"8s\n", `"8s\n"` + notTime, timeForms},
		{"8S", `"8S"` + notTime, timeForms},
		{"8sec", `"8sec"` + notTime, timeForms},
		{"1e3s", `"1e3s"` + notTime, timeForms},
		{"1_000s", `"1_000s"` + notTime, timeForms},
		{"0x10s", `"0x10s"` + notTime, timeForms},
		{"NaN", `"NaN"` + notTime, timeForms},
		{"NaNs", `"NaNs"` + notTime, timeForms},
		{".inf", `".inf"` + notTime, timeForms},
		{".5s", `".5s"` + notTime, timeForms},
		{"٣s", `"٣s"` + notTime, timeForms},
		{"30s1m", `"30s1m" is not a time: units go from large to small, each once`, timeForms},
		{"1s1s", `"1s1s" is not a time: units go from large to small, each once`, timeForms},
		{"24h1ns", `"24h1ns" is more than 24 h`, ""},
		{"99999999999999999999h", `"99999999999999999999h" is more than 24 h`, ""},
		{"24:00:00.001", `"24:00:00.001" is more than 24 h`, ""},
		{"1:30", `"1:30"` + notTime, timeForms},
		{"01:30", `"01:30"` + notTime, timeForms},
		{"0:01:30", `"0:01:30"` + notTime, timeForms},
		{"00:60:00", `"00:60:00" has more than 59 minutes or seconds`, ""},
		{"00:00:60.0", `"00:00:60.0" has more than 59 minutes or seconds`, ""},
		{"00:01:30,500", `"00:01:30,500"` + notTime, timeForms},
		{"00:01:30.", `"00:01:30."` + notTime, timeForms},
		{"24:00:00:00", `"24:00:00:00" is not a timecode: it has at most 23 hours, 59 minutes and 59 seconds`, ""},
		{"00:00:61:00", `"00:00:61:00" is not a timecode: it has at most 23 hours, 59 minutes and 59 seconds`, ""},
		{"00;01;30;15", `"00;01;30;15"` + notTime, timeForms},
		{"f", `"f"` + notTime, timeForms},
		{"f-1", `"f-1"` + notTime, timeForms},
		{"f1.5", `"f1.5"` + notTime, timeForms},
		{"F12", `"F12"` + notTime, timeForms},
		{"f99999999999999999999", `"f99999999999999999999" is more than 24 h at any frame rate`, ""},
		{strings.Repeat("1", 61) + "s", `"` + strings.Repeat("1", 60) + `…"` + notTime, timeForms},
	} {
		v, err := parseTime(c.written)
		if err == nil {
			t.Errorf("%q: %v, want an error", c.written, v)
		} else if err.Msg != c.msg || err.Hint != c.hint {
			t.Errorf("%q:\n got %s\nhint %s\nwant %s\nhint %s", c.written, err.Msg, err.Hint, c.msg, c.hint)
		}
	}
	if _, err := ParseTime("8"); err == nil || err.Error() != `comparison: a time needs a unit, found "8"` {
		t.Errorf("ParseTime: %v", err)
	}
}

func TestTimeAtErrors(t *testing.T) {
	for _, c := range []struct {
		written string
		rate    pacing.Rate
		want    string
	}{
		{"f1", pacing.Rate{}, `comparison: "f1" counts frames, of which the rate is not known`},
		{"f5184001", fps60, `comparison: "f5184001" at 60 frames a second is more than 24 h`},
		{"f86399999999", fps60, `comparison: "f86399999999" at 60 frames a second is more than 24 h`},
		{"00:00:01:60", fps60, `comparison: "00:00:01:60" does not exist: the frames of a second are 00 to 59 at 60 frames a second`},
		{"00:01:00;00", ntsc30, `comparison: "00:01:00;00" does not exist: drop-frame leaves out ;00 to ;01 in minutes that are not a multiple of ten`},
		{"00:11:00;03", ntsc60, `comparison: "00:11:00;03" does not exist: drop-frame leaves out ;00 to ;03 in minutes that are not a multiple of ten`},
		{"00:01:30;15", fps60, `comparison: "00:01:30;15": drop-frame timecode is not defined at 60 frames a second`},
		{"00:01:30;15", pacing.Rate{Num: 24000, Den: 1001}, `comparison: "00:01:30;15": drop-frame timecode is not defined at 24000/1001 frames a second`},
		{"00:01:30:15", pacing.Rate{Num: 25, Den: 2}, `comparison: "00:01:30:15": timecode is not defined at 25/2 frames a second`},
	} {
		got, err := timeOf(t, c.written).At(c.rate)
		if err == nil || err.Error() != c.want {
			t.Errorf("%s at %v: %v, %v\nwant %s", c.written, c.rate, got, err, c.want)
		}
	}
	for _, c := range []struct {
		n    int64
		rate pacing.Rate
		drop bool
		want string
	}{
		{30, pacing.Rate{Num: 24000, Den: 1001}, true, "comparison: drop-frame timecode is not defined at 24000/1001 frames a second"},
		{30, pacing.Rate{Num: 25, Den: 2}, false, "comparison: timecode is not defined at 25/2 frames a second"},
	} {
		if got, err := Timecode(c.n, c.rate, c.drop); err == nil || err.Error() != c.want {
			t.Errorf("Timecode(%d, %v, %v) = %q, %v; want %s", c.n, c.rate, c.drop, got, err, c.want)
		}
	}
}

func TestRatio(t *testing.T) {
	for _, c := range []struct {
		written string
		want    Ratio
		float   float64
	}{
		{"3", Ratio{Num: 3, Den: 1}, 3}, {"1.5", Ratio{Num: 3, Den: 2}, 1.5}, {"3/2", Ratio{Num: 3, Den: 2}, 1.5}, {"6/4", Ratio{Num: 3, Den: 2}, 1.5},
		{"0", Ratio{Num: 0, Den: 1}, 0}, {"0.25", Ratio{Num: 1, Den: 4}, 0.25}, {".5", Ratio{Num: 1, Den: 2}, 0.5}, {"2.", Ratio{Num: 2, Den: 1}, 2},
		{"0.333333333", Ratio{Num: 333333333, Den: 1000000000}, 0.333333333}, {"1.10000000000", Ratio{Num: 11, Den: 10}, 1.1},
	} {
		got, err := parseRatio(c.written)
		if err != nil || got != c.want || got.Float() != c.float {
			t.Errorf("%s: %v (%v), %v; want %v", c.written, got, got.Float(), err, c.want)
		}
		if again, err := parseRatio(got.String()); err != nil || again != got {
			t.Errorf("%s: printed as %s, which is %v, %v", c.written, got, again, err)
		}
	}
	const neither = " is neither a decimal such as 1.5 nor a fraction such as 3/2"
	for _, c := range []struct{ written, want string }{
		{"", `""` + neither}, {".", `"."` + neither}, {"-1", `"-1"` + neither}, {"+1", `"+1"` + neither}, {"1e3", `"1e3"` + neither},
		{"1.5/2", `"1.5/2"` + neither}, {"1/1.5", `"1/1.5"` + neither}, {"1/", `"1/"` + neither}, {"/2", `"/2"` + neither}, {"x", `"x"` + neither},
		{".nan", `".nan"` + neither}, {"1 ", `"1 "` + neither}, {"1,5", `"1,5"` + neither}, {"3/-2", `"3/-2"` + neither}, {"1.2.3", `"1.2.3"` + neither},
		{"1/0", `"1/0" divides by zero`}, {"0.1234567891", `"0.1234567891" has more than nine decimals`},
		{"99999999999999999999", `"99999999999999999999" has too many digits`}, {"1000000001", `"1000000001" has too many digits`},
	} {
		if got, err := parseRatio(c.written); err == nil || err.Error() != c.want {
			t.Errorf("%q: %v, %v; want %s", c.written, got, err, c.want)
		}
	}
}
