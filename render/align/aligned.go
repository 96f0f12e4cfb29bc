package align

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/scene"
)

// Options say how captures are aligned. The zero value takes sound and
// pictures and looks for one offset over all of the captures.
type Options struct {
	By By
	// how far an offset may be from the one expected; 0: 10 min, or 2 min around a moment
	Search time.Duration
	Around *time.Duration // capture time in the first capture at which the offset is wanted; nil: see Captures

	Margin time.Duration // how much play around is taken into account; 0: 20 s
	Tracks *Tracks       // what several scenes read; nil: each reads its own
}

const (
	searchAll    = 10 * time.Minute
	searchAround = 2 * time.Minute

	// alignMargin is how much play around a moment or a scene is taken into
	// account.
	alignMargin = 20 * time.Second
)

// Aligned is how captures lie to the first of them.
type Aligned struct {
	Pairs []Pair // the first capture with each other one
	Loop  *Loop  // of three captures; nil of two
}

// Pair is one capture against the first.
type Pair struct {
	A, B     string // keys in the comparison file, or paths
	CaptureA media.Capture
	CaptureB media.Capture
	StartA   time.Duration // of the scene; without one the moment asked for, if any
	StartB   time.Duration // of the scene, as written so far
	*Result
}

// Captures aligns captures with the first one. Without Around the whole captures
// are compared. progress is told seconds of capture decoded, of how many.
func Captures(ctx context.Context, tools *media.Tools, paths []string, o Options,
	progress func(done, total int64)) (Aligned, error) {
	list := make([]toAlign, len(paths))
	for i, path := range paths {
		c, err := tools.Probe(ctx, path)
		if err != nil {
			return Aligned{}, err
		}
		list[i] = toAlign{name: path, capture: c}
	}
	found, err := alignAll(ctx, tools, list, 0, o, progress)
	for i := range found.Pairs {
		if o.Around != nil {
			found.Pairs[i].StartA = *o.Around
		}
	}
	return found, err
}

// Scene aligns the captures of a scene with its first one, near the starts that
// the scene has so far.
func Scene(ctx context.Context, p *scene.Project, s *comparison.Scene, o Options,
	progress func(done, total int64)) (Aligned, error) {
	captures, err := scene.Probe(ctx, p, s)
	if err != nil {
		return Aligned{}, err
	}
	if len(captures) < 2 {
		return Aligned{}, &finding.Error{Msg: fmt.Sprintf(
			"scene %s shows one capture, which has nothing to be aligned with", s.ID),
			Hint: "name another after captures:, or align its pacing log with --logs"}
	}
	list, o := near(captures, o)
	return alignAll(ctx, p.Tools, list, s.Length, o, progress)
}

// near takes a scene's captures as they are aligned: near its starts so far.
func near(captures []scene.Take, o Options) ([]toAlign, Options) {
	var list []toAlign
	for _, c := range captures {
		list = append(list, toAlign{c.Key, c.Probed, c.Start})
	}
	if o.Around == nil {
		o.Around = &list[0].start
	}
	return list, o
}

// toAlign is a capture and where the scene begins in it so far.
type toAlign struct {
	name    string
	capture media.Capture
	start   time.Duration
}

func alignAll(ctx context.Context, tools *media.Tools, list []toAlign, length time.Duration, o Options,
	progress func(done, total int64)) (out Aligned, err error) {
	search := o.search()
	if o.By == Both {
		// Sound that only one capture has is of no use.
		for _, c := range list[1:] {
			if !c.capture.Audio || !list[0].capture.Audio {
				o.By = Picture
			}
		}
	}
	reach, err := reachOf(list, length, o)
	if err != nil {
		return out, err
	}
	store := o.Tracks
	if store == nil {
		store = NewTracks(o.By)
		defer store.Close()
		store.want(list, reach)
	}
	var tracks []*Track
	for i, c := range list {
		t, err := store.open(ctx, tools, c.capture, reach[i], progress)
		if err != nil {
			return out, err
		}
		tracks = append(tracks, t)
	}
	settings := Settings{By: o.By, Search: search, Around: -1, From: reach[0].From, To: reach[0].To}
	if o.Around != nil {
		settings.Around = *o.Around
	}
	for i := 1; i < len(list); i++ {
		settings.Guess = list[i].start - list[0].start
		r, err := Match(ctx, tracks[0], tracks[i], settings)
		if err != nil {
			return out, err
		}
		out.Pairs = append(out.Pairs, Pair{
			A: list[0].name, B: list[i].name, CaptureA: list[0].capture, CaptureB: list[i].capture,
			StartA: list[0].start, StartB: list[i].start, Result: r,
		})
	}
	if len(list) == 3 {
		settings.Guess = list[2].start - list[1].start
		if out.Loop, err = closeLoop(ctx, out.Pairs, tracks, settings, o.Around != nil); err != nil {
			return out, err
		}
	}
	return out, nil
}

func (o Options) search() time.Duration {
	switch {
	case o.Search > 0:
		return o.Search
	case o.Around != nil:
		return searchAround
	}
	return searchAll
}

// reachOf returns what of each capture is taken into account.
func reachOf(list []toAlign, length time.Duration, o Options) ([]scene.Part, error) {
	reach := make([]scene.Part, len(list))
	if o.Around == nil {
		return reach, nil
	}
	for i, c := range list {
		mid := *o.Around + c.start - list[0].start
		by := alignMargin
		if o.Margin > 0 {
			by = o.Margin
		}
		if i > 0 {
			by += o.search()
		}
		reach[i] = scene.Part{From: max(0, mid-by), To: mid + length + by}
		if end := c.capture.Duration(); reach[i].To <= 0 || end > 0 && reach[i].From >= end {
			return nil, &finding.Error{Msg: fmt.Sprintf("capture %s has nothing near %.3f s", c.name, mid.Seconds()),
				Hint: "try another --around, or a longer --search"}
		}
	}
	return reach, nil
}

// Starts returns the starts that the offsets propose for a scene: the first
// capture's stays. It is an error when an offset is not to be relied on, or leads
// out of a capture.
func (a *Aligned) Starts() (map[string]string, error) {
	starts := map[string]string{}
	for _, p := range a.Pairs {
		if !p.Matched() {
			return nil, &finding.Error{Msg: fmt.Sprintf("captures %s and %s: no reliable offset (confidence %.2f)",
				p.A, p.B, p.Confidence),
				Hint: "try --by sound or --by picture, a longer --search, or another moment with --around"}
		}
		at := p.ProposedB()
		if at < 0 {
			return nil, &finding.Error{Msg: fmt.Sprintf(
				"capture %s would have to start %.3f s before its first frame", p.B, -at.Seconds()),
				Hint: fmt.Sprintf("start %s at least that much later", p.A)}
		}
		if end := p.CaptureB.Duration(); end > 0 && at >= end {
			return nil, &finding.Error{Msg: fmt.Sprintf("capture %s would have to start at %.3f s, after its end",
				p.B, at.Seconds())}
		}
		starts[p.B] = startText(at)
	}
	return starts, nil
}

// ProposedB is where the other capture shows what the first shows at its start,
// to the microsecond; negative before the capture's first frame. An offset is
// known to a fraction of a frame, so a start just beside the beginning of a frame
// is that beginning: otherwise chance would decide between two frames.
func (p *Pair) ProposedB() time.Duration {
	at := p.StartA + time.Duration(math.Round(p.Offset*float64(time.Second)))
	r, c := p.CaptureB.Rate, p.CaptureB
	beside := time.Duration(0.15 / r.Hz() * float64(time.Second))
	if begin := c.TimeOf(c.FrameAt(at + beside)); max(begin-at, at-begin) < beside {
		at = begin
	}
	// Rounded up, so that it does not fall back into the frame before.
	up := at.Truncate(time.Microsecond)
	if up < at {
		up += time.Microsecond
	}
	return up
}

// startText writes a start of whole microseconds.
func startText(at time.Duration) string {
	s := strconv.FormatFloat(float64(at.Microseconds())/1e6, 'f', 6, 64)
	return strings.TrimSuffix(strings.TrimRight(s, "0"), ".") + "s"
}
