package pacing

import (
	"encoding/binary"
	"math"
	"slices"
	"testing"
	"time"
)

// traceOf turns any bytes into a trace, 8 a frame: how long the frame lasts in
// units of 10 µs (3 bytes), the gap before it (2), its notes (1), its tear (2).
func traceOf(data []byte, begin time.Duration) *Trace {
	var frames []Frame
	for at := begin; len(data) >= 8 && len(frames) < 4000; data = data[8:] {
		length := int64(binary.LittleEndian.Uint32(data)&0xffffff) + 1
		gap := int64(binary.LittleEndian.Uint16(data[3:]))
		if gap&3 != 0 {
			gap = 0 // three frames of four follow at once
		}
		f := Frame{Begin: at + time.Duration(gap)*10*time.Microsecond, Time: time.Duration(length) * 10 * time.Microsecond,
			Kind: Kind(data[5] & 1), Doubtful: data[5]&2 != 0, Tear: int(binary.LittleEndian.Uint16(data[6:]))}
		frames = append(frames, f)
		at = f.End()
	}
	tr, err := NewTrace(frames)
	if err != nil {
		return nil
	}
	return tr
}

// FuzzFigures works out the figures of any trace over any range. Nothing may be
// counted twice or lost: the times add up to the range, the shares to the time
// seen, two halves to the whole; no figure is infinite or no number.
func FuzzFigures(f *testing.F) {
	frame := func(ms float64, notes byte) []byte {
		b := binary.LittleEndian.AppendUint32(nil, uint32(ms*100)-1)
		return append(b[:3], 0, 0, notes, 0, 0)
	}
	steady := slices.Concat(frame(16.67, 0), frame(33.33, 0), frame(16.67, 2), frame(50, 0), frame(700, 1), frame(16.67, 0))
	f.Add(steady, steady[8:], int64(0), int64(0), int64(time.Second), int64(60), int64(1))
	f.Add(steady, slices.Concat(steady, steady), int64(-5), int64(20*time.Millisecond), int64(40*time.Millisecond), int64(60000), int64(1001))
	f.Add(slices.Repeat(frame(6.94, 0), 50), frame(0.01, 0), int64(1), int64(time.Millisecond), int64(time.Hour), int64(144), int64(1))
	f.Add(frame(1, 1), frame(1, 1), int64(0), int64(0), int64(1), int64(0), int64(0))
	f.Fuzz(func(t *testing.T, one, two []byte, begin, from, length, num, den int64) {
		// A day before or after the capture's first frame is as far as a file lets
		// a scene be.
		const day = int64(24 * time.Hour)
		a := traceOf(one, time.Duration(begin%day))
		b := traceOf(two, time.Duration(begin%day))
		if a == nil || b == nil {
			return
		}
		start := time.Duration(from % day)
		end := start + time.Duration(max(0, length)%day)
		refresh := Rate{Num: num, Den: den}
		if num <= 0 || den <= 0 || num > 1e6 || den > 1e6 {
			refresh = Rate{}
		}
		g := a.Figures(start, end, refresh)
		if g.Seen < 0 || g.Still < 0 || g.Unknown < 0 || g.Seen+g.Still+g.Unknown != end-start {
			t.Fatalf("%v seen, %v still and %v unknown of %v", g.Seen, g.Still, g.Unknown, end-start)
		}
		for name, v := range map[string]float64{"mean rate": g.MeanRate, "slow rate": g.SlowRate, "frames": g.Frames} {
			if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
				t.Fatalf("%s %v", name, v)
			}
		}
		if g.Median > g.P95 || g.P95 > g.P99 || g.P99 > g.Longest || g.Mean > g.Longest || g.Deviation < 0 {
			t.Fatalf("%+v", g)
		}
		if g.Count > 0 && g.SlowRate > 1.0000001/g.Mean.Seconds()+1e-9 && g.Mean > time.Microsecond {
			t.Fatalf("the slowest frames run at %v fps, all at %v a frame", g.SlowRate, g.Mean)
		}
		if refresh.Valid() && g.Seen > 0 {
			var sum time.Duration
			var part float64
			count := 0
			for _, s := range append(slices.Clone(g.Shares), g.OffGrid) {
				sum, part, count = sum+s.Time, part+s.Part, count+s.Frames
			}
			if sum != g.Seen || math.Abs(part-1) > 1e-9 || count != g.Count {
				t.Fatalf("shares of %v, %v and %d frames; seen %v, %d frames", sum, part, count, g.Seen, g.Count)
			}
		}
		// The halves make the whole.
		middle := start + (end-start)/3
		x, y := a.Figures(start, middle, refresh), a.Figures(middle, end, refresh)
		if x.Seen+y.Seen != g.Seen || x.Still+y.Still != g.Still || x.Count+y.Count != g.Count || x.Torn+y.Torn != g.Torn ||
			math.Abs(x.Frames+y.Frames-g.Frames) > 1e-6*(1+g.Frames) {
			t.Fatalf("%+v and %+v are not %+v", x, y, g)
		}
		// Over a stretch without gaps and stills, the line's mean is the figure.
		if fps, ok := a.RateAt(end, end-start); ok && end > start && g.Still == 0 && g.Unknown == 0 && math.Abs(fps-g.MeanRate) > 1e-6*(1+fps) {
			t.Fatalf("the line says %v fps, the figures %v", fps, g.MeanRate)
		}
		last := start
		for _, s := range a.Spans(start, end, refresh) {
			if s.To <= s.From || s.From < last || s.To > end || s.String() == "" {
				t.Fatalf("span %+v after %v", s, last)
			}
			last = s.To
		}
		h := b.Figures(start, end, refresh)
		d, ok := Compare(g, h)
		back, okBack := Compare(h, g)
		if ok != okBack || ok != (g.Count > 0 && h.Count > 0) {
			t.Fatalf("%v one way, %v the other", ok, okBack)
		}
		if ok && (d.MeanRate != -back.MeanRate || d.Median != -back.Median || d.Longest != -back.Longest || d.Hitches != -back.Hitches || len(d.Shares) != len(back.Shares)) {
			t.Fatalf("%+v is not the opposite of %+v", d, back)
		}
	})
}
