package media

import (
	"fmt"
	"math/big"
	"slices"
	"strconv"
	"time"

	"fairframe/render/pacing"
)

// FrameMap says which capture frame each output frame shows, in whole numbers.
type FrameMap struct {
	First        int64 // capture frame of output frame 0
	outputFrames int64
	// Within ffmpeg, time is counted in units of 1/units second, in which a
	// capture frame lasts frame and an output frame lasts step.
	units, frame, step int64
	segments           []segment
	timing             *timing // of a capture read by its stamps, whose frames are ticks; nil: all frames are there
}

// segment is a stretch of output frames over which the scene passes evenly:
// output frame k shows capture frame first + floor((phase + (k-from)*step) / frame),
// all three in units of their own. Where the scene stands still, step is 0.
type segment struct {
	from, to           int64
	first              int64
	phase, frame, step int64
}

func (r segment) shown(k int64) int64 { return r.first + (r.phase+(k-r.from)*r.step)/r.frame }

// maxUnits keeps time bases within ffmpeg's 32 bit rationals, and the products
// of times counted in them within what ffmpeg's expressions hold exactly.
const maxUnits = 1<<31 - 1

// FrameMapOf works out which frames of a capture at rate r a clip of n output
// frames at rate out shows, from start on, by the scene's map of time.
func FrameMapOf(r, out pacing.Rate, start time.Duration, n int64, m pacing.TimeMap) (FrameMap, error) {
	p := FrameMap{outputFrames: n, units: lcm(r.Num, out.Num)}
	if p.units > maxUnits {
		return FrameMap{}, fmt.Errorf("media: rates %s and %s have no common clock", r, out)
	}
	p.frame, p.step = p.units/r.Num*r.Den, p.units/out.Num*out.Den
	runs := m.Runs()
	if runs == nil {
		runs = []pacing.Run{{From: 0, To: n, Scene: new(big.Rat), Step: big.NewRat(out.Den, out.Num)}}
	}
	for _, run := range runs {
		if run.From >= n {
			break
		}
		one, err := segmentOf(r, start, run)
		if err != nil {
			return FrameMap{}, err
		}
		one.to = min(one.to, n)
		p.segments = append(p.segments, one)
	}
	if p.segments[len(p.segments)-1].to < n {
		return FrameMap{}, fmt.Errorf("media: a clip of %s, of which the scene has %d", Frames(n), p.segments[len(p.segments)-1].to)
	}
	p.First = p.segments[0].first
	return p, nil
}

// FrameMap is FrameMapOf for a capture, by its stamps.
func (c Capture) FrameMap(out pacing.Rate, start time.Duration, n int64, m pacing.TimeMap) (FrameMap, error) {
	p, err := FrameMapOf(c.Clock(), out, start, n, m)
	if err == nil && c.timing != nil {
		p.timing, p.First = c.timing, c.timing.on(p.First)
	}
	return p, err
}

func segmentOf(r pacing.Rate, start time.Duration, run pacing.Run) (segment, error) {
	out := segment{from: run.From, to: run.To}
	// The capture's time at the run's first frame. A nanosecond of grace, as in
	// Rate.FrameAt: starts were rounded to nanoseconds.
	at := big.NewRat(int64(start)+1, int64(time.Second))
	at.Add(at, run.Scene)
	out.first = Floor(new(big.Rat).Mul(at, big.NewRat(r.Num, r.Den)))
	units := r.Num
	if !run.Held() {
		per := run.Step.Denom()
		if !per.IsInt64() || per.Int64() > maxUnits {
			return out, fmt.Errorf("media: a speed of %v s a frame is too odd", run.Step)
		}
		units = lcm(r.Num, per.Int64())
	}
	if units > maxUnits {
		return out, fmt.Errorf("media: rate %s and a speed of %v s a frame have no common clock", r, run.Step)
	}
	out.frame = units / r.Num * r.Den
	out.step = new(big.Rat).Mul(run.Step, big.NewRat(units, 1)).Num().Int64()
	// phase = floor((at - first/r) * units)
	at.Mul(at, big.NewRat(units, 1))
	at.Sub(at, new(big.Rat).SetInt(new(big.Int).Mul(big.NewInt(out.first), big.NewInt(out.frame))))
	out.phase = Floor(at)
	return out, nil
}

func Floor(v *big.Rat) int64 { return new(big.Int).Div(v.Num(), v.Denom()).Int64() }

func lcm(a, b int64) int64 {
	x, y := a, b
	for y != 0 {
		x, y = y, x%y
	}
	return a / x * b
}

// Shown returns the capture frame that output frame k shows.
func (p FrameMap) Shown(k int64) int64 {
	i, _ := slices.BinarySearchFunc(p.segments, k, func(r segment, k int64) int {
		if r.to <= k {
			return -1
		}
		return 1
	})
	return p.segments[min(i, len(p.segments)-1)].shown(k)
}

// Last returns the last capture frame that the clip shows.
func (p FrameMap) Last() int64 { return p.Shown(p.outputFrames - 1) }

// Taken returns how many capture frames lie between the first and the last one
// shown, and how many of them are never shown, because they pass too fast.
func (p FrameMap) Taken() (in, dropped int64) {
	if t := p.timing; t != nil {
		a, b := t.index(p.First), t.index(p.Last())
		for i := a; i < b; i++ {
			if p.slot(t.ticks[i]) == p.slot(t.ticks[i+1]) {
				dropped++
			}
		}
		return b - a + 1, dropped
	}
	in = p.Last() - p.First + 1
	shown, last := int64(0), p.First-1
	for _, r := range p.segments {
		from, to := r.shown(r.from), r.shown(r.to-1)
		n := to - from + 1
		if r.step > r.frame {
			n = r.to - r.from // every output frame shows another capture frame
		}
		if from == last {
			n--
		}
		shown, last = shown+n, to
	}
	return in, in - shown
}

// lasting returns for how many output frames the last capture frame is shown.
func (p FrameMap) lasting() int64 {
	if p.timing != nil {
		return p.outputFrames - p.slot(p.timing.on(p.Last()))
	}
	last, n := p.Last(), int64(0)
	for i := len(p.segments) - 1; i >= 0 && p.segments[i].shown(p.segments[i].to-1) == last; i-- {
		r := p.segments[i]
		n += r.to - r.from - r.begins(last)
	}
	return n
}

// slot returns the output frame in which a capture frame is first shown, by what
// slots tells ffmpeg.
func (p FrameMap) slot(n int64) int64 {
	i := 0
	for i < len(p.segments)-1 && p.segments[i].shown(p.segments[i].to-1) < n {
		i++
	}
	if r := p.segments[i]; r.step > 0 {
		return r.from + r.begins(n)
	}
	return p.segments[i].from
}

// begins returns by how many output frames after the run's first one capture
// frame n is first shown.
func (r segment) begins(n int64) int64 {
	left := (n-r.first)*r.frame - r.phase
	if left <= 0 {
		return 0
	}
	return (left + r.step - 1) / r.step
}

// slots is an expression of ffmpeg's that gives the output frame in which a
// capture frame is first shown, of its number after the first: a tree of
// comparisons over the runs. All numbers in it are whole and small enough for
// doubles to hold exactly; a quotient of such is whole only where it should be.
// A frame that is never shown gets that of a later one, which takes its place.
func (p FrameMap) slots(number string) string {
	var tree func(runs []segment) string
	tree = func(runs []segment) string {
		if len(runs) > 1 {
			half := len(runs) / 2
			before := runs[half-1]
			// What is first shown after the run before.
			return fmt.Sprintf("if(lte(%s,%d),%s,%s)", number, before.shown(before.to-1)-p.First, tree(runs[:half]), tree(runs[half:]))
		}
		r := runs[0]
		if r.step == 0 {
			return strconv.FormatInt(r.from, 10)
		}
		return fmt.Sprintf("%d+max(0,ceil(((%s-%d)*%d-%d)/%d))", r.from, number, r.first-p.First, r.frame, r.phase, r.step)
	}
	return tree(p.segments)
}

// Filters take the frames that the plan shows by their numbers and spread them over
// the output's frames. name is that of the frame-rate filter.
func (p FrameMap) Filters(c Capture, name string, out pacing.Rate) [][]string {
	list := [][]string{
		{"setpts", c.zeroed()},
		{"settb", fmt.Sprintf("%d/%d", c.Clock().Den, c.Clock().Num)},
		{"trim", fmt.Sprintf("start_pts=%d", p.First), fmt.Sprintf("end_pts=%d", p.Last()+1)},
		{"setpts", fmt.Sprintf("PTS-%d", p.First)},
		{"settb", fmt.Sprintf("1/%d", p.units)},
		{"setpts", p.spread()},
		// Of several frames in one slot the last one stays; slots without a frame
		// repeat the one before.
		{name, out.String(), "round=near", "start_time=0"},
	}
	// The filter gives the last frame one output frame, however long it lasts.
	if n := p.lasting(); n > 1 {
		list = append(list, []string{"tpad", fmt.Sprintf("stop=%d", n), "stop_mode=clone"})
	}
	return append(list, []string{"trim", fmt.Sprintf("end_frame=%d", p.outputFrames)})
}

// spread is the setpts expression that moves a capture frame, whose stamp is its
// number after the first in units, to its output frame.
func (p FrameMap) spread() string {
	return fmt.Sprintf("%d*(%s)", p.step, p.slots(fmt.Sprintf("PTS/%d", p.frame)))
}
