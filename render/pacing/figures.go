package pacing

import (
	"math"
	"slices"
	"time"
)

// HitchFactor is how many times the median a frame must last to be a hitch. Of captures
// that are compared it is the slowest one's median for all of them: hitches are counted by
// one measure then. The factor is a choice of this program.
const HitchFactor = 2

// Figures are the numbers that describe the pacing of a capture over a range of
// time [From, To). Two kinds of counting meet in them:
//
//   - by time: a frame that the range cuts counts by the part that lies inside
//     (Seen, Frames, MeanRate, the shares, Still, Unknown);
//   - by frame: a frame counts, with its whole frame time, if it begins in the
//     range (all others).
//
// Still stretches and time of which the trace knows nothing enter no figure but
// their own. Where no frame counts, all figures are 0.
type Figures struct {
	From, To time.Duration

	// Seen is the time in the range during which frames were seen: To - From
	// without Still and Unknown.
	Seen time.Duration
	// Still is the time in the range for which the picture did not change, so
	// that nothing tells whether frames were shown.
	Still time.Duration
	// Unknown is the time in the range that the log does not cover.
	Unknown time.Duration

	// Frames is how many frames were on screen during Seen, cut ones by part.
	Frames float64
	// MeanRate is the mean frame rate in fps, frames over time: Frames / Seen. It
	// is the time-mean of 1/d, d being the frame time (and not the mean of the
	// frames' own rates, which favours short frames).
	MeanRate float64

	// Count is how many frames begin in the range.
	Count int
	// Times sums up the times of these frames.
	Times
	// SlowRate is the mean rate in fps over the slowest 1 % of the frames: take
	// the longest frames, a hundredth of Count rounded up, and divide their number
	// by the sum of their frame times. There is no standard for such a figure; a
	// percentile of the rates is another one.
	SlowRate float64

	// Shares says how much of Seen was spent in frames of each refresh multiple,
	// from the shortest on; see Multiple. Empty when the refresh is unknown.
	Shares []Share
	// OffGrid is the share of frames that are no multiple of the refresh.
	OffGrid Share

	// Hitches are the frames that last longer than HitchTime by more than Slack, in
	// order. The slack keeps rounded logs from turning a frame of two refreshes among
	// frames of one into a hitch. HitchTime is HitchFactor times the median, until
	// SetHitchTime states another.
	Hitches   []Frame
	HitchTime time.Duration
	// Torn is the number of frames that appeared in mid-picture.
	Torn int
	// Doubtful is the number of frames for which the evidence was weak, and Doubt
	// the share of the range that rests on such frames.
	Doubtful int
	Doubt    Doubt
	// Ceiling is the time in the range in which the capture shows a new frame in
	// every picture. Above 0, MeanRate is only the least that the rate was.
	Ceiling time.Duration
}

// Times sums up frame times.
type Times struct {
	// Mean is the mean frame time, and Deviation the frame times' population
	// standard deviation: the root of the mean squared distance from the mean.
	Mean, Deviation time.Duration
	// Median, P95 and P99 are the 50th, 95th and 99th percentile of the frame
	// times, by type 7 of Hyndman and Fan (1996); see Quantile.
	Median, P95, P99 time.Duration
	Longest          time.Duration
}

// AtLeast reports whether the mean rate, or the rate of the slowest frames, is only
// the least that it was, because the capture could show no more.
func (g *Figures) AtLeast(slowest bool) bool {
	if slowest {
		return g.Seen > 0 && g.Ceiling >= g.Seen
	}
	return g.Ceiling > 0
}

// Share is the part of the time that frames of one length take.
type Share struct {
	Multiple int           // frame time in refreshes; 0: no multiple
	Rate     float64       // the rate of such frames in fps; 0: no multiple
	Frames   int           // frames of this length that begin in the range
	Time     time.Duration // time they were on screen in the range
	Part     float64       // Time / Figures.Seen, 0 to 1
}

// Multiple returns how many refreshes a frame time is, k >= 1, and false when it
// is not within Slack, and an eighth of the refresh, of any multiple. At 60 Hz
// 16.7, 33.3, 50.0 and 66.7 ms are one to four refreshes, which is 60, 30, 20 and
// 15 fps (common practice).
func Multiple(d time.Duration, refresh Rate) (k int, ok bool) {
	if d <= 0 || !refresh.Valid() {
		return 0, false
	}
	n := int64(math.Round(d.Seconds() * refresh.Hz()))
	if n < 1 || n > math.MaxInt32 {
		return 0, false
	}
	off := (d - refresh.TimeOf(n)).Abs()
	return int(n), off <= Slack && off <= refresh.TimeOf(1)/8
}

// Figures works out the figures of [from, to). The refresh is that of the
// display, which a capture records at its own rate; it counts for the shares
// only, and may be unknown.
func (t *Trace) Figures(from, to time.Duration, refresh Rate) Figures {
	g := Figures{From: from, To: max(from, to), Doubt: t.Doubt(from, to)}
	shares := map[int]*Share{}
	var times []float64 // in ns, of the frames that count
	base := t.over(from)
	for i, f := range t.Over(from, to) {
		d := min(f.Begin+t.onScreen(base+i), to) - max(f.Begin, from)
		if f.Kind == Still {
			g.Still += d
			continue
		}
		g.Seen += d
		g.Frames += float64(d) / float64(f.Time)
		if f.Ceiling {
			g.Ceiling += d
		}
		k, ok := Multiple(f.Time, refresh)
		if !ok {
			k = 0
		}
		s := shares[k]
		if s == nil {
			s = &Share{Multiple: k}
			if k > 0 {
				s.Rate = refresh.Hz() / float64(k)
			}
			shares[k] = s
		}
		s.Time += d
		if f.Begin < from {
			continue
		}
		s.Frames++
		times = append(times, float64(f.Time))
		if f.Tear > 0 {
			g.Torn++
		}
		if f.Doubtful {
			g.Doubtful++
		}
	}
	g.Unknown = g.To - g.From - g.Seen - g.Still
	if g.Seen > 0 {
		g.MeanRate = g.Frames / g.Seen.Seconds()
	}
	if refresh.Valid() {
		for _, s := range shares {
			s.Part = float64(s.Time) / float64(g.Seen)
			if s.Multiple == 0 {
				g.OffGrid = *s
			} else {
				g.Shares = append(g.Shares, *s)
			}
		}
		slices.SortFunc(g.Shares, func(a, b Share) int { return a.Multiple - b.Multiple })
	}
	g.frameTimes(times)
	g.SetHitchTime(t, HitchFactor*g.Median)
	return g
}

// SetHitchTime finds the hitches of a trace, whose figures these are, by another measure.
func (g *Figures) SetHitchTime(t *Trace, longest time.Duration) {
	g.HitchTime, g.Hitches = longest, nil
	for _, f := range t.Over(g.From, g.To) {
		if f.Kind == Normal && f.Begin >= g.From && f.Time > longest+Slack {
			g.Hitches = append(g.Hitches, f)
		}
	}
}

// OneHitchTime is the measure for the hitches of captures that are compared: HitchFactor
// times the slowest median.
func OneHitchTime(list []Figures) (longest time.Duration) {
	for _, g := range list {
		longest = max(longest, HitchFactor*g.Median)
	}
	return longest
}

// KeepsRefresh reports whether most of the time is in frames that are multiples of the
// refresh. Where it is not, a machine without v-sync meets multiples by chance alone.
func (g *Figures) KeepsRefresh() bool {
	return g.Seen > 0 && len(g.Shares) > 0 && g.OffGrid.Part <= 0.5
}

// frameTimes fills in the figures of the frame times, given in ns.
func (g *Figures) frameTimes(times []float64) {
	g.Count = len(times)
	if g.Count == 0 {
		return
	}
	slices.Sort(times)
	mean, deviation := meanDeviation(times)
	g.Mean, g.Deviation = nearestNs(mean), nearestNs(deviation)
	g.Median = nearestNs(Quantile(times, 0.5))
	g.P95 = nearestNs(Quantile(times, 0.95))
	g.P99 = nearestNs(Quantile(times, 0.99))
	g.Longest = nearestNs(times[len(times)-1])
	slow := times[len(times)-(len(times)+99)/100:]
	var sum float64
	for _, d := range slow {
		sum += d
	}
	g.SlowRate = float64(len(slow)) / (sum / float64(time.Second))
}

func nearestNs(ns float64) time.Duration { return time.Duration(math.Round(ns)) }

// Difference is how the figures of one capture differ from another's: each field
// is b's figure minus a's.
type Difference struct {
	MeanRate        float64 // fps
	MeanRatePercent float64 // of a's mean rate
	SlowRate        float64 // fps
	SlowRatePercent float64 // of a's
	// MeanBound and SlowBound: one of the two rates at least is only a lower bound, see
	// AtLeast, so the difference may be another.
	MeanBound, SlowBound bool

	Times
	// Shares are the differences in the part of the time (-1 to 1) at each refresh
	// multiple that occurs in a or b, from the shortest on; OffGrid that of the
	// frames at none.
	Shares  []ShareDifference
	OffGrid float64
	Hitches int
	Torn    int
}

// ShareDifference is a difference in the part of the time at a refresh multiple.
type ShareDifference struct {
	Multiple int
	Rate     float64 // fps of such frames
	Part     float64 // b's part of the time minus a's, -1 to 1
}

// Compare returns how b differs from a, and false when either has no frames to
// compare.
func Compare(a, b Figures) (d Difference, ok bool) {
	if a.Count == 0 || b.Count == 0 {
		return Difference{}, false
	}
	d = Difference{
		MeanRate:        b.MeanRate - a.MeanRate,
		MeanRatePercent: 100 * (b.MeanRate/a.MeanRate - 1),
		SlowRate:        b.SlowRate - a.SlowRate,
		SlowRatePercent: 100 * (b.SlowRate/a.SlowRate - 1),
		MeanBound:       a.AtLeast(false) || b.AtLeast(false),
		SlowBound:       a.AtLeast(true) || b.AtLeast(true),
		Times: Times{b.Mean - a.Mean, b.Deviation - a.Deviation, b.Median - a.Median,
			b.P95 - a.P95, b.P99 - a.P99, b.Longest - a.Longest},
		OffGrid: b.OffGrid.Part - a.OffGrid.Part,
		Hitches: len(b.Hitches) - len(a.Hitches),
		Torn:    b.Torn - a.Torn,
	}
	parts := map[int]ShareDifference{}
	add := func(shares []Share, sign float64) {
		for _, s := range shares {
			p := parts[s.Multiple]
			parts[s.Multiple] = ShareDifference{s.Multiple, s.Rate, p.Part + sign*s.Part}
		}
	}
	add(a.Shares, -1)
	add(b.Shares, 1)
	for _, p := range parts {
		d.Shares = append(d.Shares, p)
	}
	slices.SortFunc(d.Shares, func(a, b ShareDifference) int { return a.Multiple - b.Multiple })
	return d, true
}
