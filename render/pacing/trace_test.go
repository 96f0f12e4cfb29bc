package pacing

import (
	"math"
	"math/big"
	"math/rand/v2"
	"strings"
	"testing"
	"time"
)

// slowRate is the definition of the frame rate in exact fractions, frame by
// frame: the integral of 1/d over the window, over the time covered.
func slowRate(frames []Frame, τ, window time.Duration) float64 {
	count, covered := new(big.Rat), new(big.Rat)
	for i, f := range frames {
		a, b := max(f.Begin, τ-window), min(f.End(), τ)
		if i+1 < len(frames) {
			b = min(b, frames[i+1].Begin)
		}
		if f.Kind != Normal || b <= a {
			continue
		}
		count.Add(count, big.NewRat(int64(b-a), int64(f.Time)))
		covered.Add(covered, big.NewRat(int64(b-a), int64(time.Second)))
	}
	if covered.Sign() == 0 {
		return math.NaN()
	}
	v, _ := count.Quo(count, covered).Float64()
	return v
}

// A steady cadence reads exactly at every instant; the frame times
// are 16.7, 33.3, 50.0 and 66.7 ms at 60 Hz (common practice). The ns that times
// are rounded to are 1e-7 of the shortest frame time here, so the windows shorter
// than a frame are allowed that much.
func TestRateAtSteady(t *testing.T) {
	for _, refresh := range []Rate{{60, 1}, {60000, 1001}, {120, 1}, {50, 1}} {
		for k := 1; k <= 4; k++ {
			tr := mustTrace(t, onGrid(refresh, 0, repeat(600, k)...))
			want := refresh.Hz() / float64(k)
			for _, window := range []time.Duration{time.Second, 250 * time.Millisecond, 77 * time.Millisecond, 1} {
				for n := range int64(300) {
					// At the refresh, and at odd instants between two.
					for _, τ := range []time.Duration{refresh.TimeOf(n), refresh.TimeOf(n) + 3*time.Millisecond, refresh.TimeOf(n+1) - 1} {
						got, ok := tr.RateAt(τ, window)
						if !ok || math.Abs(got-want) > 1e-7*want {
							t.Fatalf("%v Hz, %d refreshes a frame: rate at %v over %v is %v (%v), want %v", refresh, k, τ, window, got, ok, want)
						}
					}
				}
			}
		}
	}
}

// 30 to 20 to 30 fps: the value at every refresh against the slow reference, and
// against values worked out by hand.
func TestRateAtChange(t *testing.T) {
	// 60 frames of 2 refreshes end at 2 s, 40 of 3 at 4 s, 60 of 2 at 6 s.
	counts := append(append(repeat(60, 2), repeat(40, 3)...), repeat(60, 2)...)
	frames := onGrid(at60, 0, counts...)
	tr := mustTrace(t, frames)
	for n := int64(1); n <= 360; n++ {
		τ := at60.TimeOf(n)
		got, ok := tr.RateAt(τ, time.Second)
		if want := slowRate(frames, τ, time.Second); !ok || math.Abs(got-want) > 1e-9 {
			t.Errorf("rate at refresh %d is %v, want %v", n, got, want)
		}
	}
	for _, c := range []struct {
		at   time.Duration
		want float64
	}{
		{0, 30}, {time.Second, 30}, {2 * time.Second, 30},
		{2100 * time.Millisecond, 29}, // 0.9·30 + 0.1·20
		{2500 * time.Millisecond, 25},
		{3 * time.Second, 20}, {4 * time.Second, 20},
		{4250 * time.Millisecond, 22.5},
		{5 * time.Second, 30}, {6 * time.Second, 30},
		{6500 * time.Millisecond, 30}, // the log's end: the window is what exists
	} {
		got, ok := tr.RateAt(c.at, time.Second)
		if !ok || math.Abs(got-c.want) > 1e-6 {
			t.Errorf("rate at %v is %v (%v), want %v", c.at, got, ok, c.want)
		}
	}
	if got, ok := tr.RateAt(7*time.Second, time.Second); ok {
		t.Errorf("rate a second after the end is %v, want none", got)
	}
	if got, ok := tr.RateAt(-time.Second, time.Second); ok {
		t.Errorf("rate before the begin is %v, want none", got)
	}
}

func TestRateAtWithoutWindow(t *testing.T) {
	tr := mustTrace(t, onGrid(at60, 0, 1, 2, 3))
	got, ok := tr.RateAt(at60.TimeOf(4), 0)
	if !ok || math.Abs(got-20) > 1e-6 {
		t.Errorf("rate over no time is %v (%v), want that of the frame on screen, 20", got, ok)
	}
}

// Random traces with gaps, still stretches and rounded stamps, at random times.
func TestRateAtRandom(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for range 50 {
		var frames []Frame
		at := time.Duration(rng.Int64N(int64(2*time.Second))) - time.Second
		for range 200 {
			f := Frame{Begin: at, Time: time.Millisecond*2 + time.Duration(rng.Int64N(int64(60*time.Millisecond)))}
			at = f.End()
			switch rng.IntN(12) {
			case 0:
				f.Kind = Still
			case 1:
				at += time.Duration(rng.Int64N(int64(300 * time.Millisecond)))
			case 2:
				at -= time.Duration(rng.Int64N(int64(Slack)))
			}
			frames = append(frames, f)
		}
		tr := mustTrace(t, frames)
		for range 200 {
			τ := tr.Begin() - time.Second + time.Duration(rng.Int64N(int64(tr.End()-tr.Begin()+2*time.Second)))
			window := 1 + time.Duration(rng.Int64N(int64(2*time.Second)))
			want := slowRate(frames, τ, window)
			got, ok := tr.RateAt(τ, window)
			if math.IsNaN(want) {
				if f, on := tr.At(τ); ok != (on && f.Kind == Normal) {
					t.Fatalf("rate at %v over %v is %v, %v", τ, window, got, ok)
				}
				continue
			}
			if !ok || math.Abs(got-want) > 1e-6*want {
				t.Fatalf("rate at %v over %v is %v (%v), want %v", τ, window, got, ok, want)
			}
		}
	}
}

// A pause must not pull the rate down, and a hole in the log neither.
func TestRateAtLeavesOut(t *testing.T) {
	still := Frame{Begin: time.Second, Time: 10 * time.Second, Kind: Still}
	before, after := onGrid(at60, 0, repeat(30, 2)...), onGrid(at60, 11*60, repeat(30, 2)...)
	for name, frames := range map[string][]Frame{
		"still": append(append(append([]Frame{}, before...), still), after...),
		"gap":   append(append([]Frame{}, before...), after...),
	} {
		tr := mustTrace(t, frames)
		for _, τ := range []time.Duration{time.Second, 1900 * time.Millisecond, 11 * time.Second, 11*time.Second + 1, 12 * time.Second} {
			if got, ok := tr.RateAt(τ, time.Second); !ok || math.Abs(got-30) > 1e-6 {
				t.Errorf("%s: rate at %v is %v (%v), want 30", name, τ, got, ok)
			}
		}
		if got, ok := tr.RateAt(5*time.Second, time.Second); ok {
			t.Errorf("%s: rate within is %v, want none", name, got)
		}
	}
}

func TestAt(t *testing.T) {
	ms := time.Millisecond
	tr := mustTrace(t, []Frame{{Begin: 10 * ms, Time: 20 * ms}, {Begin: 30 * ms, Time: 20 * ms, Tear: 7}, {Begin: 100 * ms, Time: 10 * ms}})
	for _, c := range []struct {
		at   time.Duration
		want time.Duration // begin; -1: none
	}{
		{0, -1}, {9*ms - 1, -1}, {9 * ms, 10 * ms}, {10 * ms, 10 * ms}, {29*ms - 1, 10 * ms},
		{29 * ms, 30 * ms}, {49 * ms, 30 * ms}, {51*ms - 1, 30 * ms}, {51 * ms, -1}, {98 * ms, -1},
		{99 * ms, 100 * ms}, {111*ms - 1, 100 * ms}, {111 * ms, -1}, {time.Hour, -1},
	} {
		f, ok := tr.At(c.at)
		if ok != (c.want >= 0) || ok && f.Begin != c.want {
			t.Errorf("at %v: frame at %v, %v; want %v", c.at, f.Begin, ok, c.want)
		}
	}
}

func TestOver(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	frames := append(onGrid(at60, 0, 1, 2, 3, 1, 1, 4), onGrid(at60, 20, 2, 2, 2)...)
	tr := mustTrace(t, frames)
	for range 2000 {
		from := time.Duration(rng.Int64N(int64(700*time.Millisecond))) - 100*time.Millisecond
		to := from + time.Duration(rng.Int64N(int64(200*time.Millisecond)))
		if rng.IntN(2) == 0 { // edges of frames matter most
			from = frames[rng.IntN(len(frames))].Begin
			to = frames[rng.IntN(len(frames))].End()
		}
		var want []Frame
		for _, f := range frames {
			if f.Begin < to && f.End() > from && from < to {
				want = append(want, f)
			}
		}
		got := tr.Over(from, to)
		if len(got) != len(want) || len(got) > 0 && (got[0] != want[0] || got[len(got)-1] != want[len(want)-1]) {
			t.Fatalf("over [%v, %v): %v, want %v", from, to, got, want)
		}
	}
}

func TestNewTraceChecks(t *testing.T) {
	ms := time.Millisecond
	for _, c := range []struct {
		frames []Frame
		want   string
	}{
		{nil, "at least one frame"},
		{[]Frame{{Time: 0}}, "lasts 0s"},
		{[]Frame{{Time: -1}}, "lasts -1ns"},
		{[]Frame{{Begin: math.MaxInt64, Time: 1}}, "lasts 1ns"},
		{[]Frame{{Time: 1, Tear: -1}}, "tears at row -1"},
		{[]Frame{{Time: 1, Kind: 9}}, "unknown kind"},
		{[]Frame{{Begin: 5 * ms, Time: ms}, {Begin: 5 * ms, Time: ms}}, "does not begin after"},
		{[]Frame{{Begin: 5 * ms, Time: ms}, {Begin: 4 * ms, Time: ms}}, "does not begin after"},
		{[]Frame{{Time: 12 * ms}, {Begin: 10 * ms, Time: ms}}, "before the one before has ended"},
		{[]Frame{{Time: 11 * ms}, {Begin: 10 * ms, Time: ms}}, ""},
		{[]Frame{{Begin: -10 * ms, Time: ms}, {Begin: 10 * ms, Time: ms}}, ""},
	} {
		_, err := NewTrace(c.frames)
		if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
			t.Errorf("NewTrace(%v) says %v, want %q", c.frames, err, c.want)
		}
	}
	frames := onGrid(at60, 0, 1, 1)
	tr := mustTrace(t, frames)
	frames[0].Time = time.Hour
	if tr.Frames()[0].Time == time.Hour {
		t.Error("NewTrace keeps the caller's frames")
	}
}

func TestZeroTrace(t *testing.T) {
	var tr Trace
	if _, ok := tr.At(0); ok {
		t.Error("an empty trace has a frame")
	}
	if _, ok := tr.RateAt(0, time.Second); ok {
		t.Error("an empty trace has a rate")
	}
	if n := len(tr.Over(-time.Hour, time.Hour)); n != 0 || tr.Begin() != 0 || tr.End() != 0 {
		t.Error("an empty trace has frames")
	}
	if g := tr.Figures(0, time.Second, at60); g.Count != 0 || g.Unknown != time.Second {
		t.Errorf("an empty trace has figures: %+v", g)
	}
	if s := tr.Spans(0, time.Second, at60); len(s) != 0 {
		t.Errorf("an empty trace has spans: %v", s)
	}
}
