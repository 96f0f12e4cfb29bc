package pacing

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat"

	"fairframe/testdata/computed"
	"fairframe/testdata/published"
)

// Refresh multiples in ms and fps against testdata/computed/08_refresh_multiples.csv,
// which is exact arithmetic and published nowhere; among them the divisors of 60 Hz: 60, 30, 20, 15 fps, 16.7, 33.3, 50.0, 66.7 ms (common
// practice).
func TestMultipleAgainstTable(t *testing.T) {
	rates := map[string]Rate{"59.94": {60000, 1001}, "119.88": {120000, 1001}}
	for _, row := range computed.Rows(t, "08_refresh_multiples.csv") {
		refresh, ok := rates[row["refresh_hz"]]
		if !ok {
			refresh, _ = ParseRate(row["refresh_hz"])
		}
		want, err := strconv.Atoi(row["k_refreshes"])
		if err != nil || !refresh.Valid() {
			t.Fatal(row)
		}
		d := time.Duration(math.Round(number(t, row["ms"]) * 1e6))
		k, ok := Multiple(d, refresh)
		if !ok || k != want {
			t.Errorf("%v at %v Hz is %d refreshes (%v), want %d", d, refresh, k, ok, want)
		}
		g := mustTrace(t, onGrid(refresh, 0, repeat(50, want)...)).Figures(0, time.Hour, refresh)
		if len(g.Shares) != 1 || g.Shares[0].Multiple != want || g.Shares[0].Part != 1 {
			t.Fatalf("shares of %d refreshes at %v Hz are %v", want, refresh, g.Shares)
		}
		if fps := number(t, row["equivalent_fps"]); math.Abs(g.Shares[0].Rate-fps) > 1e-8 || math.Abs(g.MeanRate-fps) > 1e-5 {
			t.Errorf("%d refreshes at %v Hz are %v fps (mean %v), want %v", want, refresh, g.Shares[0].Rate, g.MeanRate, fps)
		}
	}
}

func TestMultipleTolerance(t *testing.T) {
	us := time.Microsecond
	for _, c := range []struct {
		d    time.Duration
		hz   Rate
		want int // 0: none
	}{
		{16000 * us, at60, 1}, {17000 * us, at60, 1}, {33000 * us, at60, 2}, {34000 * us, at60, 2}, // rounded to 1 ms
		{16700 * us, at60, 1}, {15600 * us, at60, 0}, {25000 * us, at60, 0}, {1000 * us, at60, 0}, {0, at60, 0}, {-16667 * us, at60, 0},
		{4167 * us, Rate{240, 1}, 1}, {4900 * us, Rate{240, 1}, 0}, // an eighth of 4.17 ms
		{16667 * us, Rate{}, 0},
	} {
		if k, ok := Multiple(c.d, c.hz); ok != (c.want > 0) || ok && k != c.want {
			t.Errorf("%v at %v Hz is %d refreshes (%v), want %d", c.d, c.hz, k, ok, c.want)
		}
	}
}

// Mean, deviation and maximum of the cadences that source rates make at 60 Hz,
// against testdata/published/08_cadences.csv: 3:2 is that of SMPTE RP 197, the other
// cadences are those of ffmpeg's filter fps, and the figures of each are arithmetic.
func TestFiguresAgainstCadences(t *testing.T) {
	checked := 0
	for _, row := range published.Rows(t, "08_cadences.csv") {
		if row["mean_ms"] == "" {
			continue
		}
		checked++
		counts := repeat(60, ints(t, row["repeat_counts_in_first_cycle"])...)
		tr := mustTrace(t, onGrid(at60, 0, counts...))
		g := tr.Figures(tr.Begin(), tr.End(), at60)
		for _, c := range []struct {
			name string
			got  time.Duration
		}{{"mean_ms", g.Mean}, {"population_sd_ms", g.Deviation}, {"max_ms", g.Longest}} {
			if want := number(t, row[c.name]); math.Abs(c.got.Seconds()*1000-want) > 2e-6 {
				t.Errorf("%s fps: %s is %v, want %v", row["source_fps"], c.name, c.got, want)
			}
		}
		if want := number(t, row["source_fps"]); math.Abs(g.MeanRate-want) > 1e-6 {
			t.Errorf("%s fps: mean rate is %v", row["source_fps"], g.MeanRate)
		}
		if g.OffGrid.Frames != 0 || len(g.Hitches) != 0 || g.Unknown != 0 {
			t.Errorf("%s fps: off the grid %v, hitches %v, unknown %v", row["source_fps"], g.OffGrid, g.Hitches, g.Unknown)
		}
	}
	if checked < 10 {
		t.Errorf("the table gave only %d cadences", checked)
	}
}

// A worked example: 60 frames of 16.7 ms, 30 of 33.3, a hitch of 100, 10 of 50.
func TestFiguresWorked(t *testing.T) {
	counts := append(append(append(repeat(60, 1), repeat(30, 2)...), 6), repeat(10, 3)...)
	frames := onGrid(at60, 0, counts...)
	frames[3].Tear, frames[90].Tear, frames[5].Doubtful = 100, 7, true
	frames[6].Ceiling, frames[7].Ceiling = true, true
	end := frames[len(frames)-1].End()
	still := Frame{Begin: end, Time: time.Second, Kind: Still, Doubtful: true}
	frames = append(frames, still)
	g := mustTrace(t, frames).Figures(0, end+3*time.Second, at60)

	if g.Count != 101 || math.Abs(g.Frames-101) > 1e-9 || g.Seen != end || g.Still != time.Second || g.Unknown != 2*time.Second {
		t.Errorf("count %d, frames %v, seen %v, still %v, unknown %v", g.Count, g.Frames, g.Seen, g.Still, g.Unknown)
	}
	// 60·1 + 30·2 + 6 + 10·3 = 156 refreshes = 2.6 s.
	if want := 101 / 2.6; math.Abs(g.MeanRate-want) > 1e-6 {
		t.Errorf("mean rate %v, want %v", g.MeanRate, want)
	}
	// Sorted: 60 of 1, 30 of 2, 10 of 3, 1 of 6. Type 7 of 101 values has its
	// p-quantile at rank 100p + 1: the 51st, the 96th, the 100th.
	for _, c := range []struct {
		name string
		got  time.Duration
		want int64 // refreshes
	}{{"median", g.Median, 1}, {"95th", g.P95, 3}, {"99th", g.P99, 3}, {"longest", g.Longest, 6}} {
		if (c.got - at60.TimeOf(c.want)).Abs() > 2 {
			t.Errorf("%s is %v, want %d refreshes", c.name, c.got, c.want)
		}
	}
	// ceil(1.01) = 2 frames, of 6 and 3 refreshes: 2 / 0.15 s.
	if want := 2 / 0.15; math.Abs(g.SlowRate-want) > 1e-6 {
		t.Errorf("rate of the slowest is %v, want %v", g.SlowRate, want)
	}
	wantShares := []Share{{1, 60, 60, time.Second, 60. / 156}, {2, 30, 30, time.Second, 60. / 156}, {3, 20, 10, 500 * time.Millisecond, 30. / 156}, {6, 10, 1, 100 * time.Millisecond, 6. / 156}}
	if len(g.Shares) != len(wantShares) {
		t.Fatalf("shares %v, want %v", g.Shares, wantShares)
	}
	for i, w := range wantShares {
		s := g.Shares[i]
		if s.Multiple != w.Multiple || s.Frames != w.Frames || math.Abs(s.Rate-w.Rate) > 1e-9 || (s.Time-w.Time).Abs() > 50 || math.Abs(s.Part-w.Part) > 1e-6 {
			t.Errorf("share %v, want %v", s, w)
		}
	}
	// Twice the median is 33.3 ms: two refreshes are no hitch, three are.
	if len(g.Hitches) != 11 || g.Hitches[0].Begin != 2*time.Second {
		t.Errorf("%d hitches, the first at %v", len(g.Hitches), g.Hitches[0].Begin)
	}
	if g.Torn != 2 || g.Doubtful != 1 {
		t.Errorf("%d torn, %d doubtful", g.Torn, g.Doubtful)
	}
	if (g.Ceiling - at60.TimeOf(2)).Abs() > 2 {
		t.Errorf("at the capture's limit for %v, want two refreshes", g.Ceiling)
	}
}

// A range that cuts frames: by time the parts count, by frame those that begin in it.
func TestFiguresCut(t *testing.T) {
	tr := mustTrace(t, onGrid(at60, 0, repeat(60, 2)...))
	from, to := at60.TimeOf(31), at60.TimeOf(61)
	g := tr.Figures(from, to, at60)
	if math.Abs(g.Frames-15) > 1e-6 || g.Count != 15 || math.Abs(g.MeanRate-30) > 1e-6 || g.Seen != to-from {
		t.Errorf("frames %v, count %d, mean rate %v, seen %v", g.Frames, g.Count, g.MeanRate, g.Seen)
	}
	g = tr.Figures(at60.TimeOf(31), at60.TimeOf(32), at60)
	if g.Count != 0 || math.Abs(g.MeanRate-30) > 1e-5 || g.Median != 0 {
		t.Errorf("inside a frame: count %d, mean rate %v, median %v", g.Count, g.MeanRate, g.Median)
	}
	if g := tr.Figures(to, from, at60); g.Count != 0 || g.Seen != 0 || g.Unknown != 0 {
		t.Errorf("of an empty range: %+v", g)
	}
	if g := tr.Figures(0, time.Second, Rate{}); g.Shares != nil || g.OffGrid != (Share{}) || g.Count != 30 {
		t.Errorf("without a refresh: %+v", g)
	}
}

// The time parts add up, and mean and deviation agree with gonum, on random traces.
func TestFiguresRandom(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	for range 100 {
		var frames []Frame
		var x []float64
		at := time.Duration(0)
		for range 1 + rng.IntN(300) {
			f := Frame{Begin: at, Time: time.Millisecond + time.Duration(rng.Int64N(int64(50*time.Millisecond)))}
			if rng.IntN(10) == 0 {
				f.Kind = Still
			} else {
				x = append(x, float64(f.Time))
			}
			at = f.End() + time.Duration(rng.Int64N(2))*time.Millisecond*5
			frames = append(frames, f)
		}
		g := mustTrace(t, frames).Figures(-time.Second, at+time.Second, at60)
		if g.Seen+g.Still+g.Unknown != g.To-g.From {
			t.Fatalf("seen %v + still %v + unknown %v is not %v", g.Seen, g.Still, g.Unknown, g.To-g.From)
		}
		if g.Count != len(x) {
			t.Fatalf("%d frames count, want %d", g.Count, len(x))
		}
		if len(x) == 0 {
			continue
		}
		part, n := g.OffGrid.Part, g.OffGrid.Frames
		for _, s := range g.Shares {
			part, n = part+s.Part, n+s.Frames
		}
		if math.Abs(part-1) > 1e-9 || n != g.Count {
			t.Fatalf("the shares add up to %v and %d frames of %d", part, n, g.Count)
		}
		mean, deviation := stat.PopMeanStdDev(x, nil)
		if math.Abs(mean-float64(g.Mean)) > 1 || math.Abs(deviation-float64(g.Deviation)) > 1 {
			t.Fatalf("mean %v and deviation %v, want %v and %v ns", g.Mean, g.Deviation, mean, deviation)
		}
		slices.Sort(x)
		if slow := x[len(x)-int(math.Ceil(float64(len(x))/100)):]; math.Abs(g.SlowRate-1e9/stat.Mean(slow, nil)) > 1e-6 {
			t.Fatalf("rate of the slowest is %v, want %v", g.SlowRate, 1e9/stat.Mean(slow, nil))
		}
	}
}

// A difference from a rate that is only a lower bound is one of lower bounds itself.
func TestCompareBounds(t *testing.T) {
	sure := onGrid(at60, 0, repeat(120, 1)...)
	least := slices.Clone(sure)
	for i := range least {
		least[i].Ceiling = true
	}
	for _, tt := range []struct {
		a, b  []Frame
		bound bool
	}{{sure, sure, false}, {sure, least, true}, {least, sure, true}, {least, least, true}} {
		d, ok := Compare(mustTrace(t, tt.a).Figures(0, 2*time.Second, at60), mustTrace(t, tt.b).Figures(0, 2*time.Second, at60))
		if !ok || d.MeanBound != tt.bound || d.SlowBound != tt.bound {
			t.Errorf("%+v, want bounds: %v", d, tt.bound)
		}
	}
}

func TestCompare(t *testing.T) {
	a := mustTrace(t, onGrid(at60, 0, repeat(60, 2)...)).Figures(0, 2*time.Second, at60)
	b := mustTrace(t, onGrid(at60, 0, append(repeat(57, 2), 6)...)).Figures(0, 2*time.Second, at60)
	d, ok := Compare(a, b)
	// 58 frames in 2 s: 29 fps; one hitch of 100 ms is the slowest 1 %.
	if !ok || math.Abs(d.MeanRate+1) > 1e-6 || math.Abs(d.MeanRatePercent+100./30) > 1e-5 {
		t.Errorf("mean rate %v fps, %v %% (%v)", d.MeanRate, d.MeanRatePercent, ok)
	}
	if d.Hitches != 1 || math.Abs(d.SlowRate+20) > 1e-5 || math.Abs(d.SlowRatePercent+200./3) > 1e-5 || (d.Longest-at60.TimeOf(4)).Abs() > 2 || d.Median != 0 {
		t.Errorf("difference %+v", d)
	}
	if len(d.Shares) != 2 || d.Shares[0].Multiple != 2 || math.Abs(d.Shares[0].Part+0.05) > 1e-6 || d.Shares[1].Multiple != 6 || math.Abs(d.Shares[1].Part-0.05) > 1e-6 {
		t.Errorf("shares differ by %v", d.Shares)
	}
	if _, ok := Compare(a, Figures{}); ok {
		t.Error("frames compare with none")
	}
}
