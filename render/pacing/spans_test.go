package pacing

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"
)

func TestSpansInWords(t *testing.T) {
	ms := time.Millisecond
	rng := rand.New(rand.NewPCG(11, 12))
	var wavering []int
	for range 80 {
		wavering = append(wavering, 1+rng.IntN(2))
	}
	waverSum := 0
	for _, k := range wavering {
		waverSum += k
	}
	for name, c := range map[string]struct {
		frames []Frame
		want   []string
	}{
		// The wording of the issue: 3.9 s at 30 fps are 117 frames.
		"hold": {onGrid(at60, 186, repeat(117, 2)...), []string{"holds 30 fps from 3.10 s to 7.00 s (117 frames of 33.3 ms)"}},
		"fall and rise": {onGrid(at60, 0, append(append(repeat(60, 1), repeat(30, 2)...), repeat(60, 1)...)...), []string{
			"holds 60 fps from 0.00 s to 1.00 s (60 frames of 16.7 ms)",
			"holds 30 fps from 1.00 s to 2.00 s (30 frames of 33.3 ms)",
			"holds 60 fps from 2.00 s to 3.00 s (60 frames of 16.7 ms)"}},
		"a stray": {onGrid(at60, 0, append(append(repeat(30, 2), 3), repeat(30, 2)...)...), []string{
			"holds 30 fps from 0.00 s to 2.05 s but for 1 frame (60 frames of 33.3 ms, 1 of 50.0 ms)"}},
		"strays": {onGrid(at60, 0, append(append(append(append(repeat(30, 2), 3), repeat(30, 2)...), 6), repeat(30, 2)...)...), []string{
			"holds 30 fps from 0.00 s to 3.15 s but for 2 frames (90 frames of 33.3 ms, 2 others of up to 100.0 ms)"}},
		// Two strays in a row break the hold.
		"two strays": {onGrid(at60, 0, append(append(repeat(30, 2), 3, 1), repeat(30, 2)...)...), []string{
			"holds 30 fps from 0.00 s to 1.00 s (30 frames of 33.3 ms)",
			"holds 30 fps from 1.07 s to 2.07 s (30 frames of 33.3 ms)"}},
		"too short": {onGrid(at60, 0, append(append(repeat(60, 1), repeat(12, 2)...), repeat(60, 1)...)...), []string{
			"holds 60 fps from 0.00 s to 1.00 s (60 frames of 16.7 ms)",
			"holds 60 fps from 1.40 s to 2.40 s (60 frames of 16.7 ms)"}},
		// 3:2 pulldown (08_cadences.csv).
		"24 in 60": {onGrid(at60, 0, repeat(24, 3, 2)...), []string{"keeps a 3:2 cadence from 0.00 s to 2.00 s (24 fps, 48 frames of 33.3 and 50.0 ms)"}},
		"25 in 60": {onGrid(at60, 0, repeat(10, 2, 3, 2, 3, 2)...), []string{"keeps a 2:3:2:3:2 cadence from 0.00 s to 2.00 s (25 fps, 50 frames of 33.3 and 50.0 ms)"}},
		"50 in 60": {onGrid(at60, 0, repeat(20, 1, 1, 2, 1, 1)...), []string{"keeps a 1:1:2:1:1 cadence from 0.00 s to 2.00 s (50 fps, 100 frames of 16.7 and 33.3 ms)"}},
		"hold and cadence": {onGrid(at60, 0, append(repeat(60, 1), repeat(24, 3, 2)...)...), []string{
			"holds 60 fps from 0.00 s to 1.00 s (60 frames of 16.7 ms)",
			"keeps a 3:2 cadence from 1.00 s to 3.00 s (24 fps, 48 frames of 33.3 and 50.0 ms)"}},
		"59.94":        {onGrid(Rate{60000, 1001}, 0, repeat(60, 2)...), []string{"holds 29.97 fps from 0.00 s to 2.00 s (60 frames of 33.4 ms)"}},
		"off the grid": {inRow(0, repeat(40, 25*ms)...), []string{"runs off the refresh grid from 0.00 s to 1.00 s (40.0 fps on average, 40 frames of 25.0 ms)"}},
		// 61.3 fps is near 60 in every frame, but holds no 60.
		"near a multiple": {inRow(0, repeat(100, 16300*time.Microsecond)...), []string{"varies from 0.00 s to 1.63 s (61.3 fps on average, 100 frames of 16.3 ms)"}},
		"ms stamps":       {inRow(0, repeat(20, 17*ms, 17*ms, 16*ms)...), []string{"holds 60 fps from 0.00 s to 1.00 s (60 frames of 16.7 ms)"}},
		"still": {append(onGrid(at60, 0, repeat(30, 2)...), Frame{Begin: time.Second, Time: 2 * time.Second, Kind: Still}), []string{
			"holds 30 fps from 0.00 s to 1.00 s (30 frames of 33.3 ms)",
			"is still from 1.00 s to 3.00 s"}},
		"gap": {append(onGrid(at60, 0, repeat(30, 2)...), onGrid(at60, 120, repeat(30, 2)...)...), []string{
			"holds 30 fps from 0.00 s to 1.00 s (30 frames of 33.3 ms)",
			"holds 30 fps from 2.00 s to 3.00 s (30 frames of 33.3 ms)"}},
		"short": {onGrid(at60, 0, repeat(20, 1)...), nil},
	} {
		refresh := at60
		if name == "59.94" {
			refresh = Rate{60000, 1001}
		}
		var got []string
		for _, s := range mustTrace(t, c.frames).Spans(-time.Hour, time.Hour, refresh) {
			got = append(got, s.String())
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s:\n got %q\nwant %q", name, got, c.want)
		}
	}
	spans := mustTrace(t, onGrid(at60, 0, wavering...)).Spans(0, time.Hour, at60)
	if len(spans) != 1 || spans[0].Kind != Mixed || !slices.Equal(spans[0].Multiples, []int{1, 2}) {
		t.Errorf("wavering between one and two refreshes gives %v", spans)
	} else if fps := 60 * 80 / float64(waverSum); math.Abs(spans[0].MeanRate-fps) > 1e-6 {
		t.Errorf("wavering has a mean rate of %v, want %v", spans[0].MeanRate, fps)
	}
}

// Long hitches in wavering are strays; without them the words would only give the
// extremes.
func TestSpansMixedHitches(t *testing.T) {
	rng := rand.New(rand.NewPCG(17, 18))
	var counts []int
	sum := 0
	for i := range 100 {
		k := 1 + rng.IntN(2)
		if i == 30 || i == 60 {
			k = i / 10
		}
		counts = append(counts, k)
		sum += k
	}
	want := fmt.Sprintf("mixes frames of 16.7 and 33.3 ms from 0.00 s to %.2f s but for 2 frames (%.1f fps on average, 98 frames, 2 others of up to 100.0 ms)", float64(sum)/60, 6000/float64(sum))
	got := mustTrace(t, onGrid(at60, 0, counts...)).Spans(0, time.Hour, at60)
	if len(got) != 1 || got[0].String() != want {
		t.Errorf("got %v, want %s", got, want)
	}
}

func TestSpanSentence(t *testing.T) {
	s := mustTrace(t, onGrid(at60, 0, repeat(120, 2)...)).Spans(time.Second, 3500*time.Millisecond, at60)
	if len(s) != 1 {
		t.Fatal(s)
	}
	if got, want := s[0].Sentence("Alder", time.Second), "Alder holds 30 fps from 0.00 s to 2.50 s (75 frames of 33.3 ms)"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	for k := SpanKind(0); k < 9; k++ {
		if got := (Span{Kind: k}).String(); got == "" {
			t.Errorf("a span of kind %v has no words", k)
		}
	}
}

// Spans are in order, do not overlap, and a hold is one: every frame in it that is
// no stray is of its multiple.
func TestSpansHold(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 14))
	for range 100 {
		var counts []int
		for range 20 {
			counts = append(counts, repeat(1+rng.IntN(60), 1+rng.IntN(3))...)
			if rng.IntN(3) == 0 {
				counts = append(counts, repeat(rng.IntN(20), 3, 2)...)
			}
		}
		frames := onGrid(at60, 0, counts...)
		for i := range frames {
			if rng.IntN(200) == 0 {
				frames[i].Kind = Still
			}
		}
		tr := mustTrace(t, frames)
		from, to := time.Duration(rng.Int64N(int64(time.Second))), tr.End()-time.Duration(rng.Int64N(int64(time.Second)))
		at := from
		for _, s := range tr.Spans(from, to, at60) {
			if s.From < at || s.To > to || s.To <= s.From {
				t.Fatalf("span %v after %v", s, at)
			}
			at = s.To
			if s.Kind == StillSpan {
				continue
			}
			if s.To-s.From < MinSpan-2*Slack {
				t.Fatalf("span %v is too short", s)
			}
			strays, n := 0, 0
			for i, f := range tr.Over(s.From, s.To) {
				if f.Begin >= from {
					n++
				}
				k, _ := Multiple(f.Time, at60)
				switch {
				case s.Kind == Hold && k != s.Multiples[0]:
					strays++
				case s.Kind == Cadence && k != s.Multiples[i%len(s.Multiples)]:
					t.Fatalf("span %v: frame %d is of %d refreshes", s, i, k)
				case s.Kind == Mixed && !slices.Contains(s.Multiples, k):
					strays++
				}
			}
			if strays != len(s.Strays) || n != s.Frames {
				t.Fatalf("span %v: %d strays, %d frames", s, strays, n)
			}
		}
	}
}

func TestNearest(t *testing.T) {
	columns := []string{"frame", "time_s", "frame_time_ms", "gpu"}
	for s, want := range map[string]string{"frametime_ms": "frame_time_ms", "time": "time_s", "GPU": "gpu", "fram": "frame", "temperature": ""} {
		if got := nearest(s, columns); got != want {
			t.Errorf("nearest to %q is %q, want %q", s, got, want)
		}
	}
	// The classic example of Levenshtein's distance: three edits.
	if got := distance("kitten", "sitting"); got != 3 {
		t.Errorf("kitten to sitting takes %d edits, want 3", got)
	}
}
