package pacing

import (
	"fmt"
	"math/big"
	"slices"
	"time"
)

// Freeze stops a scene for a while: the instant At stays on screen for so long.
type Freeze struct {
	At  time.Duration // scene time
	For time.Duration // more than 0
}

// TimeMap ties the time of a clip to that of the scene it shows. Both begin at
// 0. The scene passes at a constant speed, and stands still at the holds. All of
// it is exact: a frame of the clip shows one instant of the scene, as a
// fraction, and nothing is added up.
//
// A hold at the very end of the scene keeps the last frame of the clip that
// came before it, because the scene has no instant after that.
type TimeMap struct {
	rate   Rate // of the clip
	speed  *big.Rat
	length time.Duration
	frames int64
	holds  []Freeze
	runs   []Run
}

// Run is a stretch of a clip's frames over which the scene passes evenly, or not
// at all.
type Run struct {
	From, To int64    // frames of the clip, From <= k < To
	Scene    *big.Rat // scene time of frame From, in seconds
	Step     *big.Rat // scene time from one frame to the next, in seconds; 0: held
}

// Held reports whether the scene stands still.
func (r Run) Held() bool { return r.Step.Sign() == 0 }

// at returns the scene time of frame k.
func (r Run) at(k int64) *big.Rat {
	t := new(big.Rat).Mul(r.Step, big.NewRat(k-r.From, 1))
	return t.Add(t, r.Scene)
}

// NewTimeMap returns the map of a scene of that length in a clip of that rate.
// Speed is how much of the scene passes in a second of the clip: 1/4 is slow motion, 2 is
// fast, nil stands for 1. Holds are sorted by their instants, no two at the same, and lie within the
// scene, its end included.
func NewTimeMap(r Rate, length time.Duration, speed *big.Rat, holds []Freeze) (TimeMap, error) {
	switch {
	case !r.Valid():
		return TimeMap{}, fmt.Errorf("pacing: time map at rate %v", r)
	case length <= 0:
		return TimeMap{}, fmt.Errorf("pacing: time map of a scene of %v", length)
	case speed == nil:
		speed = big.NewRat(1, 1)
	case speed.Sign() <= 0:
		return TimeMap{}, fmt.Errorf("pacing: speed %v", speed)
	}
	m := TimeMap{rate: r, speed: speed, length: length, holds: slices.Clone(holds)}
	clip := new(big.Rat) // time of the clip so far
	scene := time.Duration(0)
	pass := func(to time.Duration) {
		begin := new(big.Rat).Set(clip)
		clip.Add(clip, new(big.Rat).Quo(exact(to-scene), m.speed))
		// The first frame of a run may lie a part of a step after its beginning; one
		// that add takes from the run before shows what the run begins with.
		m.add(clip, func(from *big.Rat) *big.Rat {
			t := new(big.Rat).Sub(from, begin)
			if t.Sign() < 0 {
				t.SetInt64(0)
			}
			return t.Add(t.Mul(t, m.speed), exact(scene))
		}, new(big.Rat).Mul(m.speed, m.rate.interval()))
		scene = to
	}
	for i, h := range holds {
		if h.At < 0 || h.At > length || h.For <= 0 || i > 0 && h.At <= holds[i-1].At {
			return TimeMap{}, fmt.Errorf("pacing: hold at %v for %v in a scene of %v", h.At, h.For, length)
		}
		pass(h.At)
		held := exact(h.At)
		if h.At == length && m.frames > 0 {
			held = m.Scene(m.frames - 1)
		}
		clip.Add(clip, exact(h.For))
		m.add(clip, func(*big.Rat) *big.Rat { return held }, new(big.Rat))
	}
	pass(length)
	return m, nil
}

// add appends a run of the frames up to a time of the clip, unless there are
// none.
func (m *TimeMap) add(until *big.Rat, scene func(from *big.Rat) *big.Rat, step *big.Rat) {
	// Times are rounded to nanoseconds: f37 at 60 fps is a third of one too long. As
	// in Rate.FramesIn, a frame that begins in the last nanosecond is beyond it.
	last := new(big.Rat).Sub(until, new(big.Rat).Quo(exact(1), m.speed))
	to := floor(last.Quo(last, m.rate.interval())) + 1
	if to > m.frames {
		from := new(big.Rat).Mul(big.NewRat(m.frames, 1), m.rate.interval())
		m.runs = append(m.runs, Run{m.frames, to, scene(from), step})
		m.frames = to
	}
}

// interval is the time from one frame to the next.
func (r Rate) interval() *big.Rat { return big.NewRat(r.Den, r.Num) }

func exact(d time.Duration) *big.Rat { return big.NewRat(int64(d), int64(time.Second)) }

// floor returns the greatest whole number that is not above v.
func floor(v *big.Rat) int64 { return new(big.Int).Div(v.Num(), v.Denom()).Int64() }

// Plain reports whether clip and scene pass as one, as they do in the zero map.
func (m TimeMap) Plain() bool {
	return m.speed == nil || m.speed.Cmp(big.NewRat(1, 1)) == 0 && len(m.runs) == 1
}

// Frames returns how many frames the clip has: those that begin before the scene
// has passed and all holds are over.
func (m TimeMap) Frames() int64 { return m.frames }

// Length returns how long the scene is; 0 in the zero map.
func (m TimeMap) Length() time.Duration { return m.length }

// Speed returns how much of the scene passes in a second of the clip.
func (m TimeMap) Speed() *big.Rat {
	if m.speed == nil {
		return big.NewRat(1, 1)
	}
	return new(big.Rat).Set(m.speed)
}

// Holds returns the instants at which the scene stands still, in their order.
func (m TimeMap) Holds() []Freeze { return slices.Clone(m.holds) }

// Runs returns the clip's frames in stretches, from first to last without gaps.
func (m TimeMap) Runs() []Run { return slices.Clone(m.runs) }

// run returns the run that frame k belongs to; frames outside the clip belong to
// the nearest one.
func (m TimeMap) run(k int64) Run {
	i, _ := slices.BinarySearchFunc(m.runs, k, func(r Run, k int64) int {
		if r.To <= k {
			return -1
		}
		return 1
	})
	return m.runs[min(i, len(m.runs)-1)]
}

// Scene returns the instant of the scene that frame k of the clip shows, in
// seconds, exactly.
func (m TimeMap) Scene(k int64) *big.Rat { return m.run(k).at(k) }

// SceneTime is Scene to the nearest nanosecond.
func (m TimeMap) SceneTime(k int64) time.Duration { return nanoseconds(m.Scene(k)) }

// FrameAt returns the frame of the clip that is on screen when an instant of the
// scene comes.
func (m TimeMap) FrameAt(scene time.Duration) int64 {
	t := new(big.Rat).Quo(m.ClipTime(scene), m.rate.interval())
	return new(big.Int).Div(t.Num(), t.Denom()).Int64()
}

// Held reports whether the scene stands still at frame k.
func (m TimeMap) Held(k int64) bool { return m.run(k).Held() }

// ClipTime returns when an instant of the scene is first on screen, in seconds of
// the clip: where a hold begins at it, when that hold begins.
func (m TimeMap) ClipTime(scene time.Duration) *big.Rat {
	t := new(big.Rat).Quo(exact(scene), m.Speed())
	for _, h := range m.holds {
		if h.At < scene {
			t.Add(t, exact(h.For))
		}
	}
	return t
}

// nanoseconds rounds a time in seconds to the nearest nanosecond, halves up.
func nanoseconds(v *big.Rat) time.Duration {
	v = new(big.Rat).Mul(v, big.NewRat(int64(time.Second), 1))
	v.Add(v, big.NewRat(1, 2))
	return time.Duration(new(big.Int).Div(v.Num(), v.Denom()).Int64())
}
