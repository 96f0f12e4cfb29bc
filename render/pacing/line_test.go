package pacing

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// slowSpanRate works out a line by spans anew: it finds the stretch of τ among the
// spans that are told, and counts the frames in the window one by one.
func slowSpanRate(t *Trace, τ, window time.Duration, refresh Rate) (float64, bool) {
	known := false
	for _, f := range t.Frames() {
		known = known || f.Kind == Normal && f.Begin <= τ && τ < f.End()
	}
	if !known {
		return 0, false
	}
	begin, end := t.Begin(), t.End()
	narrow := func(at time.Duration) {
		if at <= τ {
			begin = max(begin, at)
		} else {
			end = min(end, at)
		}
	}
	for _, s := range t.Spans(t.Begin(), t.End(), refresh) {
		narrow(s.From)
		narrow(s.To)
	}
	for i, f := range t.Frames()[1:] {
		if before := t.Frames()[i]; f.Begin > before.End()+Slack {
			narrow(before.End())
			narrow(f.Begin)
		}
	}
	from := max(begin, τ-window)
	to := min(from+window, end)
	var seen, shown float64
	for _, f := range t.Frames() {
		if inside := min(to, f.End()) - max(from, f.Begin); inside > 0 && f.Kind == Normal {
			seen += inside.Seconds()
			shown += inside.Seconds() / f.Time.Seconds()
		}
	}
	return shown / seen, true
}

func TestSpanRateAtChange(t *testing.T) {
	line := mustTrace(t, onGrid(at60, 0, append(repeat(120, 1), repeat(60, 2)...)...)).SpanRate(time.Second, at60)
	for k := range int64(240) {
		want := 60.0
		if k >= 120 {
			want = 30
		}
		if got, ok := line.At(at60.TimeOf(k)); !ok || math.Abs(got-want) > 1e-6 {
			t.Fatalf("frame %d: %v, %v; a lock falls from 60 to 30 in one step, at frame 120", k, got, ok)
		}
	}
}

// A stamp that is rounded up lets no frame show the rate of the span before.
func TestSpanRateRoundedStamps(t *testing.T) {
	frames := onGrid(at60, 0, append(repeat(61, 1), repeat(60, 2)...)...)
	for i := range frames {
		frames[i].Begin = (frames[i].Begin + time.Millisecond - 1).Truncate(time.Millisecond)
	}
	for i := range frames[1:] {
		frames[i].Time = frames[i+1].Begin - frames[i].Begin
	}
	line := mustTrace(t, frames).SpanRate(time.Second, at60)
	if got, ok := line.At(at60.TimeOf(61)); !ok || got > 31 {
		t.Errorf("the first frame of the lock reads %v, %v", got, ok)
	}
}

// Lines of random traces against the slow reference, and what must hold of any.
func TestSpanRateRandom(t *testing.T) {
	rng := rand.New(rand.NewPCG(21, 22))
	for range 60 {
		var frames []Frame
		at := time.Duration(0)
		for range 2 + rng.IntN(5) {
			switch rng.IntN(6) {
			case 0: // a gap
				at += time.Duration(rng.Int64N(int64(time.Second)))
			case 1: // a still stretch
				d := time.Duration(1 + rng.Int64N(int64(time.Second)))
				frames = append(frames, Frame{Begin: at, Time: d, Kind: Still})
				at += d
			case 2: // frames off the grid
				for range rng.IntN(80) {
					d := 8*time.Millisecond + time.Duration(rng.Int64N(int64(40*time.Millisecond)))
					frames = append(frames, Frame{Begin: at, Time: d})
					at += d
				}
			default: // a lock, long or short
				d := at60.TimeOf(1 + rng.Int64N(4))
				for range 1 + rng.IntN(100) {
					frames = append(frames, Frame{Begin: at, Time: d})
					at += d
				}
			}
		}
		if len(frames) == 0 {
			continue
		}
		trace := mustTrace(t, frames)
		window := time.Duration(1+rng.IntN(150)) * 10 * time.Millisecond
		line := trace.SpanRate(window, at60)
		spans := trace.Spans(trace.Begin(), trace.End(), at60)
		for range 300 {
			τ := time.Duration(rng.Int64N(int64(at) + 1))
			if nearBorder(line, τ) {
				continue // rounding decides there, see TestSpanRateRoundedStamps
			}
			got, ok := line.At(τ)
			want, wantOK := slowSpanRate(trace, τ, window, at60)
			if ok != wantOK || ok && math.Abs(got-want) > 1e-6*want {
				t.Fatalf("window %v at %v: %v, %v; want %v, %v", window, τ, got, ok, want, wantOK)
			}
			for _, s := range spans {
				if τ < s.From || τ >= s.To || s.Kind == StillSpan {
					continue
				}
				least, most := 1/s.Longest.Seconds(), 1/s.Shortest.Seconds()
				if got < least*(1-1e-9) || got > most*(1+1e-9) {
					t.Fatalf("at %v: %v is outside the %v to %v of its span", τ, got, least, most)
				}
				if s.To-s.From <= window && math.Abs(got-s.MeanRate) > 1e-6*got {
					t.Fatalf("at %v: %v, but the figures give its span %v", τ, got, s.MeanRate)
				}
			}
		}
	}
}

func nearBorder(l RateLine, τ time.Duration) bool {
	for _, b := range l.borders {
		if τ > b-2*Slack && τ < b+2*Slack {
			return true
		}
	}
	return false
}

// What happens in one span changes nothing in another.
func TestSpanRateKeepsApart(t *testing.T) {
	before := onGrid(at60, 0, repeat(60, 1)...)
	for _, after := range [][]int{repeat(40, 2), repeat(30, 3), repeat(12, 6)} {
		line := mustTrace(t, append(before[:60:60], onGrid(at60, 60, after...)...)).SpanRate(time.Second, at60)
		for k := range int64(60) {
			if got, _ := line.At(at60.TimeOf(k)); math.Abs(got-60) > 1e-6 {
				t.Fatalf("frame %d before %d refreshes reads %v", k, after[0], got)
			}
		}
	}
}

func TestTrailingRate(t *testing.T) {
	trace := mustTrace(t, onGrid(at60, 0, append(repeat(60, 1), repeat(30, 2)...)...))
	line := trace.TrailingRate(time.Second)
	for τ := time.Duration(0); τ < 2*time.Second; τ += 7 * time.Millisecond {
		got, ok := line.At(τ)
		if want, wantOK := trace.RateAt(τ, time.Second); got != want || ok != wantOK {
			t.Fatalf("at %v: %v, %v; want %v, %v", τ, got, ok, want, wantOK)
		}
	}
}
