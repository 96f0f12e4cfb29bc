package pacing

import (
	"errors"
	"fmt"
	"io"
	"math/big"
	"slices"
	"strings"
	"testing"
	"testing/iotest"
	"time"
)

// scan returns all records of a log in short words, such as "2: 0s+16.7ms".
func scan(t *testing.T, log string, f Format) (records []string, err error) {
	t.Helper()
	// One byte at a time, so that no line comes whole by luck.
	s := NewScanner(iotest.OneByteReader(strings.NewReader(log)), "log", f, at60)
	for s.Scan() {
		rec := s.Record()
		if rec.Err != nil {
			var row *RowError
			if !errors.As(rec.Err, &row) || row.Line != rec.Line || row.File != "log" || row.Problem == 0 {
				t.Errorf("a bad row is told as %#v", rec.Err)
			}
			records = append(records, rec.Err.Error())
			continue
		}
		w := fmt.Sprintf("%d: %v+%v", rec.Line, rec.Frame.Begin, rec.Frame.Time)
		if rec.Frame.Tear > 0 {
			w += fmt.Sprintf(" tear %d", rec.Frame.Tear)
		}
		if rec.Frame.Kind == Still {
			w += " still"
		}
		if rec.Frame.Doubtful {
			w += " doubtful"
		}
		records = append(records, w)
	}
	if s.Scan() {
		t.Error("the scan goes on after its end")
	}
	return records, s.Err()
}

func TestScanner(t *testing.T) {
	times := Format{Column: "ms", Means: FrameTime}
	stamps := Format{Column: "t", Means: TimeStamp}
	flags := Format{Column: "new", Means: NewFrame}
	for name, c := range map[string]struct {
		log    string
		format Format
		want   []string
	}{
		"own":               {"# made up\ntime_s,frame_time_ms,tear\n0.000000000,16.666667,0\n# between\n\n0.016666667,16.666666,540\n", Format{}, []string{"3: 0s+16.666667ms", "6: 16.666667ms+16.666666ms tear 540"}},
		"own, fewer":        {"time_s,frame_time_ms\n1,20\n", Format{}, []string{"2: 1s+20ms"}},
		"own, notes":        {"time_s,frame_time_ms,tear,note\n0,20,,\n0.02,20,3,doubtful\n0.04,9000,0,still\n9.04,20,0,a remark\n10,2000,0,still doubtful\n12,20\n", Format{}, []string{"2: 0s+20ms", "3: 20ms+20ms tear 3 doubtful", "4: 40ms+9s still", "5: 9.04s+20ms", "6: 10s+2s still doubtful", "7: 12s+20ms"}},
		"own, other order":  {"note,tear,frame_time_ms,more,time_s\nstill,0,20,x,1\n", Format{}, []string{"2: 1s+20ms still"}},
		"own, starts":       {"time_s,frame_time_ms\n-1,20\n", Format{Starts: 3 * time.Second}, []string{"2: 2s+20ms"}},
		"own, semicolons":   {"time_s;frame_time_ms;tear\n0,5;16,7;1\n", Format{}, []string{"2: 500ms+16.7ms tear 1"}},
		"commas":            {"n,ms\n1,16.7\n2,33.3\n", times, []string{"2: 0s+16.7ms", "3: 16.7ms+33.3ms"}},
		"tabs":              {"n of it\tms\n1\t16.7\n", times, []string{"2: 0s+16.7ms"}},
		"spaces":            {"  n   ms \n  1   16.7\n 10\t33.3\n", times, []string{"2: 0s+16.7ms", "3: 16.7ms+33.3ms"}},
		"bars":              {"n|ms\n1|16.7\n", times, []string{"2: 0s+16.7ms"}},
		"one column":        {"ms\n16.7\n 33.3 \n", times, []string{"2: 0s+16.7ms", "3: 16.7ms+33.3ms"}},
		"one, comma":        {"ms\n16,7\n", times, []string{"2: 0s+16.7ms"}},
		"decimal comma":     {"n;ms\n1;16,7\n", times, []string{"2: 0s+16.7ms"}},
		"quoted":            {"\"n, or so\",\"ms\"\n\"a \"\"b\"\", c\",\"16,7\"\n1,33.3\n", times, []string{"2: 0s+16.7ms", "3: 16.7ms+33.3ms"}},
		"quoted, spaces":    {"\"a b\" ms\n\"x y\"   16.7\n", times, []string{"2: 0s+16.7ms"}},
		"quoted, one":       {"\"ms\"\n\"16.7\"\n", times, []string{"2: 0s+16.7ms"}},
		"a comma in a name": {"\"time, ms\";n\n16,7;1\n", Format{Column: "time, ms", Means: FrameTime}, []string{"2: 0s+16.7ms"}},
		"BOM, CRLF":         {"\ufeffms,n\r\n16.7,1\r\n\r\n33.3,2", times, []string{"2: 0s+16.7ms", "4: 16.7ms+33.3ms"}},
		"BOM, comment":      {"\ufeff# made up\r\nms\r\n16.7\r\n", times, []string{"3: 0s+16.7ms"}},
		"capitals":          {"MS,n\n16.7,1\n", times, []string{"2: 0s+16.7ms"}},
		"capitals matter":   {"MS,ms\n1,16.7\n", times, []string{"2: 0s+16.7ms"}},
		"exponents":         {"ms\n1.67e1\n+2E+1\n3000000e-5\n", times, []string{"2: 0s+16.7ms", "3: 16.7ms+20ms", "4: 36.7ms+30ms"}},
		"starts":            {"ms\n20\n", Format{Column: "ms", Means: FrameTime, Starts: -time.Second}, []string{"2: -1s+20ms"}},
		"s":                 {"ms\n0.0167\n", Format{Column: "ms", Means: FrameTime, Unit: Seconds}, []string{"2: 0s+16.7ms"}},
		"us":                {"ms\n16700\n", Format{Column: "ms", Means: FrameTime, Unit: Microseconds}, []string{"2: 0s+16.7ms"}},
		"ns":                {"ms\n16700001\n", Format{Column: "ms", Means: FrameTime, Unit: Nanoseconds}, []string{"2: 0s+16.700001ms"}},
		"bad times": {"a,ms\n1,16.7\n1,abc\n1,NaN\n1,Inf\n1,0\n1,-5\n1\n1,1.2.3\n1,\n1,1e99\n1,0.001\n1,700000\n\"1,2\n1,1 2\n1,20\n", times, []string{
			"2: 0s+16.7ms",
			`log:3: ms "abc" is not a number`,
			`log:4: ms "NaN" is not a number`,
			`log:5: ms "Inf" is not a number`,
			`log:6: frame time 0s is not above 0`,
			`log:7: frame time -5ms is not above 0`,
			`log:8: has 1 fields, column "ms" is number 2`,
			`log:9: ms "1.2.3" is not a number`,
			`log:10: ms "" is not a number`,
			`log:11: ms "1e99" is out of range`,
			`log:12: frame time 1µs is not between 20µs and 10m0s`,
			`log:13: frame time 11m40s is not between 20µs and 10m0s`,
			`log:14: has quotes that do not pair up: "\"1,2"`,
			`log:15: ms "1 2" is not a number`,
			"16: 16.7ms+20ms"}},
		"bad own": {"time_s,frame_time_ms,tear\nx,1,0\n1,y,0\n1,20,-1\n1,20,1e3\n1,20,99999\n1e10,20,0\n1\n1,20,7\n", Format{}, []string{
			`log:2: time_s "x" is not a number`,
			`log:3: frame_time_ms "y" is not a number`,
			`log:4: tear "-1" is not a row`,
			`log:5: tear "1e3" is not a row`,
			`log:6: tear "99999" is not a row`,
			`log:7: time_s "1e10" is out of range`,
			`log:8: has 1 fields, column "frame_time_ms" is number 2`,
			"9: 1s+20ms tear 7"}},
		"stamps":         {"t\n0.5\n0.52\n0.56\n", stamps, []string{"2: 500ms+20ms", "3: 520ms+40ms"}},
		"stamps, starts": {"t\n1000\n1020\n1060\n", Format{Column: "t", Means: TimeStamp, Unit: Milliseconds, Starts: -time.Second}, []string{"2: 0s+20ms", "3: 20ms+40ms"}},
		// What a bad row hides is not stretched into a hitch.
		"stamps, bad":       {"t\n0\n0.02\nx\n0.06\n0.08\n", stamps, []string{"2: 0s+20ms", `log:4: t "x" is not a number`, "5: 60ms+20ms"}},
		"stamps, backwards": {"t\n0\n0.02\n0.01\n0.02\n0.04\n0.06\n", stamps, []string{"2: 0s+20ms", "log:4: time 10ms is not after 20ms", "log:5: time 20ms is not after 20ms", "3: 20ms+20ms", "6: 40ms+20ms"}},
		"stamps, leap":      {"t\n0\n0.02\n3600\n3600.02\n", stamps, []string{"2: 0s+20ms", "log:4: frame time 59m59.98s is not between 20µs and 10m0s", "4: 1h0m0s+20ms"}},
		"one stamp":         {"t\n0\n", stamps, nil},
		// 0/1 for each captured frame at 60 Hz; what the capture cuts is doubtful.
		"flags":        {"new\n1\n0\n1\n0\n0\n1\n", flags, []string{"2: 0s+33.333333ms doubtful", "4: 33.333333ms+50ms", "7: 83.333333ms+16.666667ms doubtful"}},
		"flags, cut":   {"new\n0\n0\n1\n1\n0\n", flags, []string{"2: 0s+33.333333ms doubtful", "4: 33.333333ms+16.666667ms", "5: 50ms+33.333333ms doubtful"}},
		"flags, bad":   {"new\n1\n1\n2\n1\n1\n", flags, []string{"2: 0s+16.666667ms doubtful", `log:4: new "2" is neither 0 nor 1`, "3: 16.666667ms+33.333333ms doubtful", "5: 50ms+16.666667ms", "6: 66.666667ms+16.666666ms doubtful"}},
		"flags, short": {"a,new\n1,1\n1\n1,1\n", flags, []string{"2: 0s+33.333333ms doubtful", "4: 33.333333ms+16.666667ms doubtful"}},
		"no rows":      {"ms\n", times, nil},
		"long line":    {"ms\n20\n" + strings.Repeat("1", maxLine) + "\n20\n", times, []string{"2: 0s+20ms", "log:3: is longer than 65536 bytes", "4: 20ms+20ms"}},
	} {
		got, err := scan(t, c.log, c.format)
		if name == "flags, short" { // the bad row comes first
			if len(got) != 3 || !strings.HasPrefix(got[0], "log:3: has 1 fields") {
				t.Errorf("%s: got %q", name, got)
				continue
			}
			got = got[1:]
		}
		if err != nil || !slices.Equal(got, c.want) {
			t.Errorf("%s: %v\n got %q\nwant %q", name, err, got, c.want)
		}
	}
}

func TestScannerErrors(t *testing.T) {
	times := Format{Column: "ms", Means: FrameTime}
	for _, c := range []struct {
		log    string
		format Format
		want   string
	}{
		{"", times, "log: is empty: a log needs a header line"},
		{"# only\n\n", Format{}, "log: is empty: a log needs a header line"},
		{"frame,frametime_ms,gpu\n1,2,3\n", Format{Column: "frame_time_ms", Means: FrameTime}, `log:1: has no column "frame_time_ms"; its columns are "frame", "frametime_ms", "gpu"; did you mean "frametime_ms"?`},
		{"# x\n\nframe;frame_ms\n1;2\n", times, `log:3: has no column "ms"; its columns are "frame", "frame_ms"; did you mean "frame_ms"?`},
		{"a b,c d,e f\n", Format{Column: "zzzz", Means: FrameTime}, `log:1: has no column "zzzz"; its columns are "a", "b,c", "d,e", "f"`},
		{"frame,ms,more\n1,2,3\n", Format{}, `log:1: has no column "time_s"; its columns are "frame", "ms", "more"`},
		{"ms,a,ms\n1,2,3\n", times, `log:1: has 2 columns named "ms"`},
		{"MS,a,Ms\n1,2,3\n", times, `log:1: has 2 columns named "ms"`},
		{"\"ms\n1\n", times, `log:1: has a header that cannot be split into columns ("\"ms")`},
		{"\xff\xfem\x00s\x00\n\x00", times, "log: is in UTF-16: save it as UTF-8"},
		{"m\x00s\n", times, "log:1: is not text in UTF-8 (its header holds zero bytes)"},
		{strings.Repeat("x", maxLine+1), times, "log:1: header: line is too long"},
		{"ms\n", Format{Column: "ms"}, `pacing: format does not say what column "ms" means: frame-time, time-stamp, new-frame`},
		{"ms\n", Format{Means: FrameTime}, "pacing: format has a meaning or a unit, but names no column"},
		{"ms\n", Format{Column: "ms", Means: 9}, "pacing: format has an unknown meaning (Meaning(9))"},
		{"ms\n", Format{Column: "ms", Means: FrameTime, Unit: 9}, "pacing: format has an unknown unit (Unit(9))"},
		{"ms\n", Format{Column: "ms", Means: NewFrame, Unit: Seconds}, "pacing: new-frame flags have no unit (s)"},
	} {
		got, err := scan(t, c.log, c.format)
		if err == nil || err.Error() != c.want || len(got) > 0 {
			t.Errorf("%.40q:\n got %v (%q)\nwant %s", c.log, err, got, c.want)
		}
	}
	s := NewScanner(strings.NewReader("new\n1\n"), "log", Format{Column: "new", Means: NewFrame}, Rate{})
	if s.Scan() || s.Err() == nil || !strings.Contains(s.Err().Error(), "rate is unknown") {
		t.Errorf("flags without a rate: %v", s.Err())
	}
	broken := errors.New("the disk is gone")
	s = NewScanner(io.MultiReader(strings.NewReader("ms\n20\n"), iotest.ErrReader(broken)), "log", times, at60)
	if !s.Scan() || s.Scan() || !errors.Is(s.Err(), broken) {
		t.Errorf("a broken reader: %v", s.Err())
	}
}

func TestParseNames(t *testing.T) {
	for s, want := range map[string]Meaning{"frame-time": FrameTime, "time-stamp": TimeStamp, "new-frame": NewFrame} {
		if got, err := ParseMeaning(s); err != nil || got != want || got.String() != s {
			t.Errorf("ParseMeaning(%q) is %v, %v", s, got, err)
		}
	}
	for s, want := range map[string]Unit{"s": Seconds, "ms": Milliseconds, "us": Microseconds, "µs": Microseconds, "μs": Microseconds, "ns": Nanoseconds} {
		if got, err := ParseUnit(s); err != nil || got != want {
			t.Errorf("ParseUnit(%q) is %v, %v", s, got, err)
		}
	}
	if _, err := ParseMeaning("frametime"); err == nil || err.Error() != `pacing: unknown meaning "frametime", valid are frame-time, time-stamp, new-frame; did you mean "frame-time"?` {
		t.Errorf("ParseMeaning: %v", err)
	}
	if _, err := ParseUnit("minutes"); err == nil || !strings.Contains(err.Error(), "valid are s, ms, us, ns") {
		t.Errorf("ParseUnit: %v", err)
	}
	if _, err := ParseUnit(""); err == nil {
		t.Error("an empty unit is taken")
	}
}

// exactly is the number's value in ns in exact fractions, rounded half away from
// zero.
func exactly(s string, exponent int) (*big.Int, bool) {
	r, ok := new(big.Rat).SetString(s)
	if !ok {
		return nil, false
	}
	ten := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(exponent)), nil)
	r.Mul(r, new(big.Rat).SetInt(ten))
	twice := new(big.Int).Mul(r.Num(), big.NewInt(2))
	twice.Abs(twice).Add(twice, r.Denom())
	twice.Div(twice, new(big.Int).Mul(r.Denom(), big.NewInt(2)))
	if r.Sign() < 0 {
		twice.Neg(twice)
	}
	return twice, true
}

func TestParseTimeExact(t *testing.T) {
	for _, c := range []struct {
		s        string
		exponent int
		want     int64
		last     int
	}{
		{"16.7", 6, 16700000, 5}, {"16.666666667", 6, 16666667, -3}, {"0.1", 9, 100000000, 8}, {"0.3", 9, 300000000, 8},
		{"0.0000000005", 9, 1, -1}, {"0.00000000049999999999999999999999", 9, 0, -19}, {"-0.0000005", 6, -1, -1},
		{"1700000000.123456789", 9, 1700000000123456789, 0}, {"00000000000000000000000016", 6, 16000000, 6},
		{"16.", 6, 16000000, 6}, {".5", 6, 500000, 5}, {"5e-1", 6, 500000, 5}, {"0e999999", 9, 0, 1008},
	} {
		got, last, fault := parseTime([]byte(c.s), c.exponent)
		if fault != parsed || int64(got) != c.want || last != c.last {
			t.Errorf("%s·10^%d ns is %d (last digit 10^%d, fault %d), want %d (10^%d)", c.s, c.exponent, got, last, fault, c.want, c.last)
		}
	}
}
