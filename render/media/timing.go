package media

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"sort"
	"strings"
	"time"

	"fairframe/render/pacing"
)

// timing is the table of a capture's stamps, where its pictures do not follow each
// other at one rate. It says all that a picture's number and its place in time have
// to do with each other; a capture of constant rate needs none.
//
// Within ffmpeg and in a FrameMap such a capture counts as one of a very high rate, that
// of its clock, most of whose frames are missing: the picture on screen at a time is
// then the last that is there, as it is for every capture.
type timing struct {
	clock   pacing.Rate // stamps are whole numbers of 1/clock, called ticks
	ticks   []int64     // the pictures' stamps, in order, from the first picture's on
	end     int64       // when the last picture leaves the screen
	grid    bool        // clock is a rate of pictures, some of which are missing
	holes   int64       // missing pictures, of a grid
	doubled int64       // pictures that share their stamp with the one before
}

// index returns the number of the picture on screen at a tick; -1: none is yet.
func (t *timing) index(tick int64) int64 {
	return int64(sort.Search(len(t.ticks), func(i int) bool { return t.ticks[i] > tick })) - 1
}

// on returns the tick of the picture on screen at a tick, or that itself where none
// is yet.
func (t *timing) on(tick int64) int64 {
	if i := t.index(tick); i >= 0 {
		return t.ticks[i]
	}
	return tick
}

// Clock is the rate in which the capture's stamps are counted.
func (c Capture) Clock() pacing.Rate {
	if c.timing != nil {
		return c.timing.clock
	}
	return c.Rate
}

// Stamp returns the stamp of picture n. Behind the last picture nothing begins.
func (c Capture) Stamp(n int64) int64 {
	switch t := c.timing; {
	case t == nil || n < 0:
		return n
	case n >= int64(len(t.ticks)):
		return t.end + n - int64(len(t.ticks))
	default:
		return t.ticks[n]
	}
}

// NumberOf returns the number of the picture on screen at a tick.
func (c Capture) NumberOf(tick int64) int64 {
	if c.timing == nil {
		return tick
	}
	return c.timing.index(tick)
}

// StampsIn returns how many ticks n frames of the capture's Rate take.
func (c Capture) StampsIn(n int64) int64 {
	if c.timing == nil {
		return n
	}
	return rescaled(n, c.Rate, c.timing.clock)
}

// StampAt returns the stamp of the picture on screen at a capture time.
func (c Capture) StampAt(t time.Duration) int64 {
	tick := c.Clock().FrameAt(t)
	if c.timing == nil {
		return tick
	}
	return c.timing.on(tick)
}

// FrameAt returns the number of the picture on screen at a capture time: the last one
// whose stamp is not after it.
func (c Capture) FrameAt(t time.Duration) int64 { return c.NumberOf(c.Clock().FrameAt(t)) }

// TimeOf returns when picture n begins.
func (c Capture) TimeOf(n int64) time.Duration { return c.Clock().TimeOf(c.Stamp(n)) }

// FramesIn returns how many pictures begin in [0, d).
func (c Capture) FramesIn(d time.Duration) int64 {
	n := c.Clock().FramesIn(d)
	if c.timing == nil {
		return n
	}
	return c.timing.index(n-1) + 1
}

// Duration returns how long the announced frames last, 0 when unknown.
func (c Capture) Duration() time.Duration {
	if c.timing != nil {
		return c.timing.clock.TimeOf(c.timing.end)
	}
	return c.Rate.TimeOf(c.Frames)
}

// Refresh returns the rate of the display whose pictures the capture holds, zero
// where its stamps keep to none.
func (c Capture) Refresh() pacing.Rate {
	if c.timing != nil && !c.timing.grid {
		return pacing.Rate{}
	}
	return c.Rate
}

// Variable reports whether the capture is read by the stamps of its pictures, since
// they do not follow each other at one rate. Its Rate is then that of the grid they
// keep to, or one at which no picture is missed as a rule.
func (c Capture) Variable() bool { return c.timing != nil }

// Counted reports whether it is known that frame n of the capture is the n-th picture.
func (c Capture) Counted() bool { return !c.sampled }

// Stamping is what the stamps of a capture of variable rate are like.
type Stamping struct {
	Grid     bool          // stamps keep to the capture's Rate, but some pictures are missing
	Missing  int64         // of a grid
	Doubled  int64         // pictures with the stamp of the one before, which are never shown
	Mean     float64       // pictures a second
	Shortest time.Duration // step from stamp to stamp, doubled ones not counted
	Longest  time.Duration
}

// Stamping returns what the stamps are like, nil at a constant rate.
func (c Capture) Stamping() *Stamping {
	t := c.timing
	if t == nil {
		return nil
	}
	s := &Stamping{Grid: t.grid, Missing: t.holes, Doubled: t.doubled, Mean: float64(len(t.ticks)) / c.Duration().Seconds()}
	for i := 1; i < len(t.ticks); i++ {
		step := t.clock.TimeOf(t.ticks[i]) - t.clock.TimeOf(t.ticks[i-1])
		if s.Longest = max(s.Longest, step); step > 0 && (s.Shortest == 0 || step < s.Shortest) {
			s.Shortest = step
		}
	}
	return s
}

// Hole is time without a picture of its own, on a grid: pictures From and From+1 are
// there, and those between them are missing.
type Hole struct {
	From, To time.Duration // capture time of the missing pictures
	Pictures int64
}

// Holes returns the holes that lie, by part at least, in [from, to).
func (c Capture) Holes(from, to time.Duration) (list []Hole) {
	t := c.timing
	if t == nil || !t.grid {
		return nil
	}
	for i := max(1, int(c.FrameAt(from))+1); i < len(t.ticks); i++ {
		h := Hole{t.clock.TimeOf(t.ticks[i-1] + 1), t.clock.TimeOf(t.ticks[i]), t.ticks[i] - t.ticks[i-1] - 1}
		if h.From >= to {
			break
		}
		if h.Pictures > 0 && h.To > from {
			list = append(list, h)
		}
	}
	return list
}

// ConvertHint says what to type to give a capture a constant rate.
func ConvertHint(c Capture) string {
	rate := c.Rate
	if !rate.Valid() {
		rate = pacing.Rate{Num: 60, Den: 1}
	}
	return fmt.Sprintf("convert the capture to a constant frame rate without loss, and name the new file: ffmpeg -i %s -vf fps=%s -c:v ffv1 -c:a copy %s",
		quoted(c.Path), rate, quoted(strings.TrimSuffix(c.Path, filepath.Ext(c.Path))+"-"+strings.ReplaceAll(rate.String(), "/", "-")+".mkv"))
}

// quoted writes a path as a shell takes it.
func quoted(path string) string {
	if strings.HasPrefix(path, "-") {
		path = "./" + path
	}
	if strings.Trim(path, shellPlain) == "" {
		return path
	}
	return "'" + strings.ReplaceAll(path, "'", `'\''`) + "'"
}

const shellPlain = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-./,:+@%"

// stamps are a capture's stamps as the container has them.
type stamps struct {
	base    pacing.Rate // they count units of 1/base
	list    []int64     // in order
	last    int64       // how long the last picture stays; 0: not said
	missing int         // pictures without a stamp
}

// finest is the finest clock that stamps are counted in: what ffmpeg's expressions
// make of them must stay exact.
const finest = 1_000_000

// rounding is how far a stamp may lie from its place on a grid: containers of whole
// milliseconds round, and cut off.
const rounding = float64(pacing.Slack) / float64(time.Second)

// mostOff is the same as a part of a frame, so that no two places can be meant.
const mostOff = 0.3

// onGrid reports whether all stamps lie on whole frames of a rate, to within slack
// seconds.
func (s *stamps) onGrid(r pacing.Rate, slack float64) bool {
	slack = min(slack*r.Hz(), mostOff)
	for _, v := range s.list {
		x := float64(v-s.list[0]) / s.base.Hz() * r.Hz()
		if math.Abs(x-math.Round(x)) > slack {
			return false
		}
	}
	return true
}

// even reports whether the stamps are those of a constant rate.
func (s *stamps) even(r pacing.Rate) bool {
	if s.missing > 0 || len(s.list) < 2 {
		return true // they do not tell
	}
	// One that lies on the grid by its rounding alone does so at its place.
	n := math.Round(float64(s.list[len(s.list)-1]-s.list[0]) / s.base.Hz() * r.Hz())
	return int(n) == len(s.list)-1 && s.onGrid(r, rounding) && s.steps(r)
}

// steps reports whether each stamp is one frame after the one before.
func (s *stamps) steps(r pacing.Rate) bool {
	for i, v := range s.list {
		if math.Round(float64(v-s.list[0])/s.base.Hz()*r.Hz()) != float64(i) {
			return false
		}
	}
	return true
}

// timing makes a table of the stamps; nil where they are those of a constant rate,
// which is returned. said are the rates that the container names, the likelier first.
func (s *stamps) timing(said []pacing.Rate) (*timing, pacing.Rate) {
	t := &timing{clock: s.base}
	rate, found := s.gridOf(said)
	if found {
		t.clock, t.grid = rate, true
	} else {
		rate = s.nominal()
		if t.clock.Num > finest {
			t.clock = pacing.Rate{Num: finest, Den: 1}
		}
	}
	for _, v := range s.list {
		t.ticks = append(t.ticks, rescaled(v-s.list[0], s.base, t.clock))
	}
	n := len(t.ticks)
	for i := 1; i < n; i++ {
		if t.ticks[i] == t.ticks[i-1] {
			t.doubled++
		} else if t.grid {
			t.holes += t.ticks[i] - t.ticks[i-1] - 1
		}
	}
	if t.grid && t.holes == 0 && t.doubled == 0 {
		return nil, rate
	}
	t.end = t.ticks[n-1] + max(1, rescaled(s.last, s.base, t.clock), rescaled(1, rate, t.clock))
	if t.grid && s.last == 0 {
		t.end = t.ticks[n-1] + 1
	}
	return t, rate
}

// gridOf looks for the rate that the stamps keep to.
func (s *stamps) gridOf(said []pacing.Rate) (pacing.Rate, bool) {
	for _, r := range said {
		if s.onGrid(r, rounding) {
			return r, true
		}
	}
	known := ratesInUse()
	slices.SortFunc(known, func(a, b pacing.Rate) int { return int(1000 * (a.Hz() - b.Hz())) })
	for _, r := range known {
		// Nobody named it: what fits must fit well.
		if len(s.list) >= fewStamps && s.onGrid(r, 0.6/s.base.Hz()) {
			return r, true
		}
	}
	return pacing.Rate{}, false
}

// fewStamps may fit a grid by chance.
const fewStamps = 12

// nominal is a rate at which as good as no picture is missed: that of the shorter
// steps.
func (s *stamps) nominal() pacing.Rate {
	var steps []float64
	for i := 1; i < len(s.list); i++ {
		if d := s.list[i] - s.list[i-1]; d > 0 {
			steps = append(steps, float64(d)/s.base.Hz())
		}
	}
	if len(steps) == 0 {
		return pacing.Rate{Num: 60, Den: 1}
	}
	slices.Sort(steps)
	// Twice as many, so that a picture is seen soon after its stamp.
	hz := 2 / steps[len(steps)/5]
	for _, r := range ratesInUse() {
		if math.Abs(r.Hz()-hz) < 0.08*hz {
			return r
		}
	}
	return pacing.Rate{Num: int64(min(max(math.Round(hz), 10), 240)), Den: 1}
}

// rescaled converts units of 1/from to units of 1/to, to the nearest and away from
// zero from the middle, as ffmpeg's settb does.
func rescaled(n int64, from, to pacing.Rate) int64 {
	return int64(math.Round(float64(n) * float64(from.Den) * float64(to.Num) / (float64(from.Num) * float64(to.Den))))
}

// String tells of the stamps in plain words.
func (s *Stamping) String() string {
	var text string
	switch {
	case s.Grid && s.Missing > 0:
		text = fmt.Sprintf("its stamps leave out %d pictures", s.Missing)
	case s.Grid:
		text = "its stamps keep to its rate"
	default:
		text = fmt.Sprintf("its stamps keep to no rate: %.2f pictures a second on average, %.1f to %.1f ms apart", s.Mean, inMS(s.Shortest), inMS(s.Longest))
	}
	if s.Doubled > 0 {
		text += fmt.Sprintf("; %d pictures have the stamp of another one, and are never shown", s.Doubled)
	}
	return text
}

func inMS(d time.Duration) float64 { return float64(d) / float64(time.Millisecond) }
