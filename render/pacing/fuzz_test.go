package pacing

import (
	"bytes"
	"math/big"
	"slices"
	"strings"
	"testing"
	"time"
)

// FuzzScanner reads any text in any format: nothing may panic or hang, frames
// must be sound, and a trace that is read must be one that NewTrace accepts and
// WriteLog keeps.
func FuzzScanner(f *testing.F) {
	for _, log := range []string{
		"# made up\ntime_s,frame_time_ms,tear\n0.000000000,16.666667,0\n0.016666667,33.333333,540\n",
		"time_s,frame_time_ms,tear,note\n0,20,0,\n0.02,2000,0,still doubtful\n2.02,20,,doubtful\n",
		"time_s;frame_time_ms\r\n0,5;16,7\r\n0,5167;1e1\r\n",
		"ms\n16.7\n33.3\n16.7\n",
		"\ufeffn\tms\n1\t16.7\n2\tNaN\n3\t-1\n",
		"\"a, b\",ms\n\"x \"\"y\"\"\",\"16,7\"\n\"\n",
		"  n  ms\n 1  16.7\n",
		"ms\n0\n0.02\n0.01\n0.04\n600\n600.02\n",
		"ms\n1\n0\n0\n1\n2\n1\n",
		"ms\n1e99\n1e-99\n123456789012345678901234567890\n.\n+\n-\n1e\n",
	} {
		for kind := range uint8(8) {
			f.Add([]byte(log), kind, int64(0), int64(time.Second))
		}
	}
	f.Fuzz(func(t *testing.T, log []byte, kind uint8, from, to int64) {
		format := Format{Column: "ms", Means: Meaning(kind % 4), Unit: Unit(kind / 4 % 5)}
		if format.Means == 0 {
			format = Format{Starts: time.Duration(from)}
		}
		rate := at60
		if kind >= 128 {
			rate = Rate{}
		}
		s := NewScanner(bytes.NewReader(log), "log", format, rate)
		records, lines := 0, bytes.Count(log, []byte("\n"))+1
		for s.Scan() {
			rec := s.Record()
			records++
			if rec.Line < 1 || rec.Line > lines {
				t.Fatalf("record at line %d of %d", rec.Line, lines)
			}
			if rec.Err == nil && (rec.Frame.Time <= 0 || rec.Frame.Tear < 0) {
				t.Fatalf("frame %+v", rec.Frame)
			}
			if rec.Err != nil && !strings.HasPrefix(rec.Err.Error(), "log:") {
				t.Fatalf("bad row without a place: %v", rec.Err)
			}
		}
		if records > 2*lines {
			t.Fatalf("%d records from %d lines", records, lines)
		}

		tr, warnings, err := ReadTrace(bytes.NewReader(log), "log", format, rate, time.Duration(from), time.Duration(to))
		for _, w := range warnings {
			if w.Count < 1 || w.Problem == 0 || w.Text == "" {
				t.Fatalf("warning %+v", w)
			}
		}
		if err != nil {
			return
		}
		if _, err := NewTrace(tr.Frames()); err != nil {
			t.Fatal(err)
		}
		for _, f := range tr.Frames() {
			if f.End() <= time.Duration(from) || f.Begin >= time.Duration(to) {
				t.Fatalf("frame %+v is not in [%d, %d)", f, from, to)
			}
		}
		var own bytes.Buffer
		if err := WriteLog(&own, []string{string(log)}, tr.Frames()); err != nil {
			t.Fatal(err)
		}
		back, _, err := ReadTrace(&own, "log", Format{}, rate, -maxTime, maxTime)
		if err != nil || !slices.Equal(back.Frames(), tr.Frames()) {
			t.Fatalf("written and read, %v is %v (%v)", tr.Frames(), back, err)
		}
		g := tr.Figures(time.Duration(from), time.Duration(to), rate)
		if g.Seen < 0 || g.Still < 0 || g.MeanRate < 0 || g.Median > g.P95 || g.P95 > g.P99 || g.P99 > g.Longest {
			t.Fatalf("figures %+v", g)
		}
		for _, s := range tr.Spans(time.Duration(from), time.Duration(to), rate) {
			if s.To <= s.From || s.String() == "" {
				t.Fatalf("span %+v", s)
			}
		}
	})
}

// FuzzParseTime compares with exact fractions.
func FuzzParseTime(f *testing.F) {
	for _, s := range []string{"16.7", "-0.5", "1e-3", ".5", "0.49999999999999999999", "1234567890.123456789", "9e17", "1e400", "5e-10", "+3E+2", "00.10"} {
		f.Add(s, uint8(0))
		f.Add(s, uint8(3))
	}
	f.Fuzz(func(t *testing.T, s string, unit uint8) {
		exponent := int(unit%4) * 3
		got, _, fault := parseTime([]byte(s), exponent)
		if fault == notNumber || len(s) > 60 || strings.TrimSpace(s) != s || strings.ContainsAny(s, ",_/pPxXoObBfFaAcCdD") {
			return
		}
		if i := strings.IndexAny(s, "eE"); i >= 0 && len(s)-i > 5 {
			return // too costly for fractions
		}
		want, ok := exactly(s, exponent)
		if !ok {
			t.Fatalf("%q is taken for a number", s)
		}
		if in := new(big.Int).Abs(want).Cmp(big.NewInt(int64(maxTime))) <= 0; in != (fault == parsed) {
			t.Fatalf("%q·10^%d ns: fault %d, exactly %v", s, exponent, fault, want)
		}
		if fault == parsed && want.Cmp(big.NewInt(int64(got))) != 0 {
			t.Fatalf("%q·10^%d ns is %d, want %v", s, exponent, got, want)
		}
	})
}
