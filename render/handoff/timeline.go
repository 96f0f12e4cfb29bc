// Package handoff writes what editors and reviewers take on: the scenes of a
// comparison one after the other, as OpenTimelineIO, as an edit decision list and
// as WebVTT. [SceneOf] gathers what they tell of a scene; the rest reads no file.
package handoff

import (
	"fmt"
	"io"
	"math/big"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"fairframe/render/pacing"
)

// Timeline is the clips of scenes, one after the other without gaps.
type Timeline struct {
	Title  string
	Rate   pacing.Rate // of all clips
	Scenes []Scene
}

// Scene is one clip and what it shows.
type Scene struct {
	ID, Caption string
	Clip        Media
	Frames      int64 // of the clip, still pages included
	Sound       bool  // the clip has sound
	Shots       []Shot
}

// Media is a video file.
type Media struct {
	Path   string
	Rate   pacing.Rate
	Frames int64 // 0: not known
	// Variable: its pictures do not follow each other at Rate, in which its time is counted.
	Variable bool
	// Time code, by SMPTE ST 12-1: how many labels lie before that of frame 0,
	// and whether they are counted in drop-frame. Labelled says that the file
	// itself has one; without, its frames count from 00:00:00:00.
	First    int64
	Drop     bool
	Labelled bool
}

// Shot is a capture's part in a scene.
type Shot struct {
	Key, Name string
	Capture   Media
	Runs      []Run  // in the clip's order
	Marks     []Mark // in the order of their beginnings
}

// Run is a stretch of a clip in which a capture's time runs evenly.
type Run struct {
	At, Frames int64         // where, in frames of the clip
	From       time.Duration // capture time of its first frame
	Speed      *big.Rat      // of capture time; nil: 1; zero: it is held
}

// Mark is a stretch of a capture worth finding again.
type Mark struct {
	Kind     MarkKind
	From, To time.Duration // capture time
	Name     string        // a few words
	Words    string        // a sentence
}

// MarkKind says what is marked.
type MarkKind uint8

// Kinds of marks.
const (
	Span  MarkKind = iota // a stretch of one way of pacing
	Hitch                 // one long frame
)

// Stretch is a part of a clip.
type Stretch struct{ From, To time.Duration } // clip time

// held reports whether the capture stands still.
func (r Run) held() bool { return r.Speed != nil && r.Speed.Sign() == 0 }

// speed is how fast capture time runs, 0 where it is held.
func (r Run) speed() *big.Rat {
	if r.Speed == nil {
		return big.NewRat(1, 1)
	}
	return r.Speed
}

// until is the capture time of the run's end.
func (r Run) until(rate pacing.Rate) time.Duration {
	return r.From + scaled(rate.TimeOf(r.At+r.Frames)-rate.TimeOf(r.At), r.speed())
}

// within returns which part of [from, to) of the capture the run shows.
func (r Run) within(from, to time.Duration, rate pacing.Rate) (a, b time.Duration, ok bool) {
	if r.held() {
		return r.From, r.From, from <= r.From && r.From < to
	}
	a, b = max(from, r.From), min(to, r.until(rate))
	return a, b, a < b
}

// Shown returns where in the clip [from, to) of the capture is seen: nowhere, in
// one stretch, or in several if its time does not run on evenly. Stretches that
// touch are one.
func (s Shot) Shown(from, to time.Duration, rate pacing.Rate) []Stretch {
	var list []Stretch
	for _, r := range s.Runs {
		a, b, ok := r.within(from, to, rate)
		if !ok {
			continue
		}
		one := Stretch{rate.TimeOf(r.At), rate.TimeOf(r.At + r.Frames)}
		if !r.held() {
			slow := new(big.Rat).Inv(r.speed())
			one = Stretch{one.From + scaled(a-r.From, slow), min(one.To, one.From+scaled(b-r.From, slow))}
		}
		if n := len(list); n > 0 && one.From-list[n-1].To <= time.Microsecond {
			list[n-1].To = one.To
		} else {
			list = append(list, one)
		}
	}
	return list
}

// scaled is d times by, rounded to the nearest nanosecond.
func scaled(d time.Duration, by *big.Rat) time.Duration {
	v := new(big.Rat).Mul(big.NewRat(int64(d), 1), by)
	// floor(v + 1/2)
	v.Add(v, big.NewRat(1, 2))
	return time.Duration(new(big.Int).Div(v.Num(), v.Denom()).Int64())
}

// nearest is the frame whose beginning lies nearest to t.
func nearest(r pacing.Rate, t time.Duration) int64 {
	n := r.FrameAt(t)
	if r.TimeOf(n+1)-t < t-r.TimeOf(n) {
		n++
	}
	return n
}

// Formats lists the endings of names that Write knows.
func Formats() []string { return []string{".otio", ".edl", ".vtt"} }

// Write writes the timeline in the format that name's ending says. Media are
// named relative to name's folder.
func (t *Timeline) Write(w io.Writer, name string) error {
	switch ext := strings.ToLower(filepath.Ext(name)); ext {
	case ".otio":
		return t.otio(w, filepath.Dir(name))
	case ".edl":
		return t.edl(w, filepath.Dir(name))
	case ".vtt":
		return t.vtt(w)
	default:
		return fmt.Errorf("handoff: no format ends in %q (%s do)", ext, strings.Join(Formats(), ", "))
	}
}

// starts returns the frame at which each scene begins, and that of the end.
func (t *Timeline) starts() []int64 {
	list := make([]int64, len(t.Scenes)+1)
	for i, s := range t.Scenes {
		list[i+1] = list[i] + s.Frames
	}
	return list
}

// title is never empty.
func (t *Timeline) title() string {
	if t.Title == "" {
		return "fairframe"
	}
	return t.Title
}

// captures returns the keys of all captures, in the order of their first shots.
func (t *Timeline) captures() (keys []string, names map[string]string) {
	names = map[string]string{}
	for _, s := range t.Scenes {
		for _, shot := range s.Shots {
			if !slices.Contains(keys, shot.Key) {
				keys = append(keys, shot.Key)
				names[shot.Key] = shot.Name
			}
		}
	}
	return keys, names
}

// shot returns the scene's shot of a capture.
func (s *Scene) shot(key string) (*Shot, bool) {
	for i := range s.Shots {
		if s.Shots[i].Key == key {
			return &s.Shots[i], true
		}
	}
	return nil, false
}

// relative is a path as seen from a folder, with forward slashes; absolute where
// there is no such way.
func relative(folder, path string) string {
	from, err1 := filepath.Abs(folder)
	to, err2 := filepath.Abs(path)
	if err1 != nil || err2 != nil {
		return filepath.ToSlash(path)
	}
	if rel, err := filepath.Rel(from, to); err == nil {
		return filepath.ToSlash(rel)
	}
	return filepath.ToSlash(to)
}
