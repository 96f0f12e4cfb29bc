package pacing

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

const forever = time.Duration(math.MaxInt64)

func TestLogRoundTrip(t *testing.T) {
	rng := rand.New(rand.NewPCG(15, 16))
	for _, notes := range []bool{false, true} {
		var frames []Frame
		at := -3 * time.Second
		for range 1000 {
			f := Frame{Begin: at, Time: minFrameTime + time.Duration(rng.Int64N(int64(200*time.Millisecond)))}
			if rng.IntN(5) == 0 {
				f.Tear = 1 + rng.IntN(2000)
			}
			if notes {
				f.Doubtful = rng.IntN(5) == 0
				f.Ceiling = rng.IntN(5) == 0
				f.Kind = Kind(rng.IntN(2))
			}
			at = f.End()
			frames = append(frames, f)
		}
		var log bytes.Buffer
		comments := []string{"capture: kestrel.mkv", "two\nlines"}
		if err := WriteLog(&log, comments, frames); err != nil {
			t.Fatal(err)
		}
		header := "# capture: kestrel.mkv\n# two\n# lines\ntime_s,frame_time_ms,tear\n"
		if notes {
			header = strings.TrimSuffix(header, "\n") + ",note\n"
		}
		if !strings.HasPrefix(log.String(), header+"-3.000000000,") {
			t.Errorf("the log begins %q", log.String()[:120])
		}
		said, err := Comments(bytes.NewReader(log.Bytes()))
		if want := []string{"capture: kestrel.mkv", "two", "lines"}; err != nil || !slices.Equal(said, want) {
			t.Errorf("comments %q, %v; want %q", said, err, want)
		}
		tr, warnings, err := ReadTrace(&log, "log", Format{}, at60, -forever, forever)
		if err != nil || len(warnings) > 0 {
			t.Fatal(err, warnings)
		}
		if !slices.Equal(tr.Frames(), frames) {
			t.Error("the frames read are not those written")
		}
	}
}

func TestWriteLogFails(t *testing.T) {
	r, w := io.Pipe()
	r.CloseWithError(io.ErrShortWrite)
	if err := WriteLog(w, nil, onGrid(at60, 0, 1)); !errors.Is(err, io.ErrShortWrite) {
		t.Errorf("a failing writer gives %v", err)
	}
}

func TestReadTraceRange(t *testing.T) {
	frames := onGrid(at60, 0, repeat(300, 2)...)
	var log bytes.Buffer
	if err := WriteLog(&log, nil, frames); err != nil {
		t.Fatal(err)
	}
	from, to := at60.TimeOf(61), at60.TimeOf(121)
	// What follows the range must not be read, or at most to the buffer's end.
	in := io.MultiReader(bytes.NewReader(log.Bytes()), endless{})
	tr, warnings, err := ReadTrace(in, "log", Format{}, at60, from, to)
	if err != nil || len(warnings) > 0 {
		t.Fatal(err, warnings)
	}
	if want := frames[30:61]; !slices.Equal(tr.Frames(), want) {
		t.Errorf("frames %v to %v, want %v to %v", tr.Begin(), tr.End(), want[0].Begin, want[30].End())
	}
	if _, _, err := ReadTrace(&log, "log", Format{}, at60, to, to); err == nil {
		t.Error("an empty range is read")
	}
}

// endless never stops giving blank lines.
type endless struct{}

func (endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = '\n'
	}
	return len(p), nil
}

func TestReadTraceWarnings(t *testing.T) {
	own := "time_s,frame_time_ms,tear\n"
	times := Format{Column: "ms", Means: FrameTime}
	good := func(from, n int) string { // frames of 20 ms
		var b strings.Builder
		for i := from; i < from+n; i++ {
			fmt.Fprintf(&b, "%d.%03d,20,0\n", i/50, i%50*20)
		}
		return b.String()
	}
	for name, c := range map[string]struct {
		log      string
		format   Format
		from, to time.Duration
		want     []string // warnings
		frames   int
	}{
		"none":        {own + good(0, 50), Format{}, 0, time.Second, nil, 50},
		"no end":      {own + good(0, 50), Format{}, 0, forever, nil, 50},
		"gap":         {own + good(0, 10) + good(20, 10) + good(40, 10), Format{}, 0, time.Second, []string{"log:12: nothing is known from 0.200 s to 0.400 s (and 1 more)"}, 30},
		"gap outside": {own + good(0, 10) + good(20, 10), Format{}, 450 * time.Millisecond, 600 * time.Millisecond, nil, 8},
		"gap at ends": {own + good(0, 10) + good(20, 10) + good(60, 10), Format{}, 300 * time.Millisecond, time.Second, []string{"log:12: nothing is known from 0.200 s to 0.400 s (and 1 more)"}, 10},
		"backwards":   {own + good(0, 30) + good(5, 1) + good(30, 20), Format{}, 0, time.Second, []string{"log:32: time 0.100 s is not after 0.580 s"}, 50},
		"overlap":     {own + good(0, 30) + "0.590,30,0\n" + good(31, 19), Format{}, 0, time.Second, []string{"log:32: frame begins at 0.590 s, before the one before it has ended (0.600 s)"}, 50},
		"rounded":     {own + "0,16.7,0\n0.017,16.7,0\n0.033,16.7,0\n0.05,16.7,0\n", Format{}, 0, 66 * time.Millisecond, nil, 4},
		"bad rows":    {own + good(0, 40) + "x,y,z\n-,y,z\n" + good(40, 10), Format{}, 0, time.Second, []string{`log:42: time_s "x" is not a number (and 1 more)`}, 50},
		"late":        {own + good(50, 10), Format{}, 500 * time.Millisecond, 1200 * time.Millisecond, []string{"log: begins at 1.000 s, after 0.500 s"}, 10},
		"early":       {own + good(0, 10), Format{}, -time.Second, time.Second, []string{"log: ends at 0.200 s, before 1.000 s"}, 10},
		"dropped":     {"ms\n" + strings.Repeat("20.000\n", 30) + "0\n", times, 0, 600 * time.Millisecond, []string{"log:32: frame time 0s is not above 0; without it, all later frames begin too early"}, 30},
		"unit":        {"ms\n" + strings.Repeat("16.66666\n", 30), Format{Column: "ms", Means: FrameTime, Unit: Seconds}, 0, 499 * time.Second, []string{"log: frames last 16.66666s on average: is the unit right?"}, 30},
		"units":       {"ms\n" + strings.Repeat("0.0333\n", 30), times, 0, 999 * time.Microsecond, []string{"log: frames last 33.3µs on average: is the unit right?"}, 30},
	} {
		tr, warnings, err := ReadTrace(strings.NewReader(c.log), "log", c.format, at60, c.from, c.to)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		var got []string
		for _, w := range warnings {
			got = append(got, w.String())
		}
		if !slices.Equal(got, c.want) || len(tr.Frames()) != c.frames {
			t.Errorf("%s: %d frames, warnings\n got %q\nwant %q", name, len(tr.Frames()), got, c.want)
		}
	}
}

func TestReadTraceErrors(t *testing.T) {
	times := Format{Column: "ms", Means: FrameTime}
	for _, c := range []struct {
		log  string
		want string
	}{
		{"ms\n", "log: holds no frames"},
		{"ms\n" + strings.Repeat("20\n", 50), "log: covers 0.000 s to 1.000 s, and has nothing from 5.000 s to 6.000 s"},

		{"ms\n20\nx\ny\nz\n", `log:3: ms "x" is not a number (and 2 more of 4 rows are bad)`},
		{"ms\n" + strings.Repeat("20\n0\n", 5000), "frame time 0s is not above 0 (and "},
		{"a\n", `log:1: has no column "ms"`},
	} {
		_, _, err := ReadTrace(strings.NewReader(c.log), "log", times, at60, 5*time.Second, 6*time.Second)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%.30q: got %v, want %s", c.log, err, c.want)
		}
	}
	if _, _, err := ReadTrace(strings.NewReader("time_s,frame_time_ms\n9,20\n"), "log", Format{}, at60, 0, time.Second); err == nil || err.Error() != "log: goes on at 9.000 s, and has nothing from 0.000 s to 1.000 s" {
		t.Errorf("a log that begins too late gives %v", err)
	}
	_, _, err := ReadTrace(strings.NewReader("ms\nx\nx\nx\n"), "log", times, at60, 0, 1)
	var row *RowError
	if !errors.As(err, &row) || row.Line != 2 || row.Problem != Unreadable {
		t.Errorf("the first bad row is not in %v", err)
	}
}

// Frame times in tenths of ms: 60 of 16.7 ms are 1.002 s, ten seconds drift by
// 20 ms. At a known rate they are set to whole refreshes.
func TestReadTraceCoarse(t *testing.T) {
	times := Format{Column: "ms", Means: FrameTime}
	counts := append(append(repeat(300, 1), repeat(100, 2)...), repeat(60, 3)...)
	var log strings.Builder
	log.WriteString("ms\n")
	for _, k := range counts {
		fmt.Fprintf(&log, "%.1f\n", 1000*float64(k)/60)
	}
	want := onGrid(at60, 0, counts...)
	end := want[len(want)-1].End()
	tr, warnings, err := ReadTrace(strings.NewReader(log.String()), "log", times, at60, 0, end)
	if err != nil || !slices.Equal(tr.Frames(), want) {
		t.Errorf("frames %v to %v, want to %v: %v", tr.Begin(), tr.End(), end, err)
	}
	if len(warnings) != 1 || warnings[0].Problem != Coarse || warnings[0].Text != "frame times are written to 100µs only: added up over 460 frames they may be off by 23ms; all are whole multiples of the refresh at 60 Hz within that rounding, and were set to these" {
		t.Errorf("warnings %q", warnings)
	}

	// A range within: the same frames of it.
	tr, _, err = ReadTrace(strings.NewReader(log.String()), "log", times, at60, 6*time.Second, 7*time.Second)
	if all := mustTrace(t, want); err != nil || !slices.Equal(tr.Frames(), all.Over(6*time.Second, 7*time.Second)) {
		t.Errorf("frames %v to %v: %v", tr.Begin(), tr.End(), err)
	}

	// One frame that is no multiple, or a rate that is not known: only the warning.
	for name, c := range map[string]struct {
		log  string
		rate Rate
	}{"off": {log.String() + "25.0\n", at60}, "rate": {log.String(), Rate{}}} {
		tr, warnings, err := ReadTrace(strings.NewReader(c.log), "log", times, c.rate, 0, forever)
		if err != nil || tr.Frames()[0].Time != 16700*time.Microsecond {
			t.Errorf("%s: frames are set to multiples: %v", name, err)
		}
		if len(warnings) != 1 || warnings[0].Problem != Coarse || strings.Contains(warnings[0].Text, "set to") {
			t.Errorf("%s: warnings %q", name, warnings)
		}
	}

	// Few frames, or many decimals: nothing to warn of.
	for _, log := range []string{"ms\n" + strings.Repeat("16.7\n", 100), "ms\n" + strings.Repeat("16.666667\n", 5000)} {
		if _, warnings, err := ReadTrace(strings.NewReader(log), "log", times, at60, 0, forever); err != nil || len(warnings) > 0 {
			t.Errorf("%.20q: warnings %q, %v", log, warnings, err)
		}
	}
	// Whole ms are too coarse to tell multiples of 240 Hz from anything else.
	tr, _, err = ReadTrace(strings.NewReader("ms\n"+strings.Repeat("4\n", 1000)), "log", times, Rate{240, 1}, 0, forever)
	if err != nil || tr.End() != 4*time.Second {
		t.Errorf("4 ms at 240 Hz end at %v: %v", tr.End(), err)
	}
}

// rows gives a log of n rows of 20 ms without holding it.
type rows struct {
	n, i int
	row  []byte
	rest []byte // of row
}

func (r *rows) Read(p []byte) (n int, err error) {
	for n < len(p) {
		if len(r.rest) == 0 {
			if r.i == r.n {
				return n, io.EOF
			}
			r.row = strconv.AppendInt(r.row[:0], int64(r.i)*20, 10)
			r.row = append(r.row, "e-3,20,0\n"...)
			r.rest = r.row
			r.i++
		}
		k := copy(p[n:], r.rest)
		n += k
		r.rest = r.rest[k:]
	}
	return n, nil
}

// A range at the end of a million rows allocates no more than at the end of a
// few.
func TestReadTraceMemory(t *testing.T) {
	allocated := func(n int) uint64 {
		from := time.Duration(n-100) * 20 * time.Millisecond
		in := io.MultiReader(strings.NewReader("time_s,frame_time_ms,tear\n"), &rows{n: n})
		var a, b runtime.MemStats
		runtime.ReadMemStats(&a)
		tr, warnings, err := ReadTrace(in, "log", Format{}, at60, from, from+2*time.Second)
		runtime.ReadMemStats(&b)
		if err != nil || len(warnings) > 0 || len(tr.Frames()) != 100 {
			t.Fatal(err, warnings)
		}
		return b.TotalAlloc - a.TotalAlloc
	}
	allocated(200)
	few, many := allocated(200), allocated(1_000_000)
	if many > few+1<<20 {
		t.Errorf("a million rows allocate %d bytes, two hundred %d", many, few)
	}
}
