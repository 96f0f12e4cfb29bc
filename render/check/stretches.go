package check

import (
	"context"
	"slices"
	"time"

	"fairframe/render/align"
	"fairframe/render/comparison"
	"fairframe/render/measure"
	"fairframe/render/measure/logs"
	"fairframe/render/media"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
	"fairframe/render/scene"
)

// shared is what scenes show of captures, so that a stretch which several scenes show
// is read once for all of them.
type shared struct {
	scenes   map[string][]showing // by path of the capture
	surveys  map[surveyed]*survey
	samples  map[surveyed]*sampling
	measured map[string][]measurement // by key of the capture, in order
	tracks   *align.Tracks            // to align by; nil: nothing could be planned
}

// showing is one scene's stretch of a capture.
type showing struct {
	scene *comparison.Scene
	one   scene.Take
}

type surveyed struct{ scene, capture string }

// survey is what the small pictures of a scene's stretch came to.
type survey struct {
	shown   Shown
	tones   Tones
	got     int64
	trouble string
	err     error
}

// measurement is a stretch that was measured.
type measurement struct {
	scene.Part
	frames []pacing.Frame
	sum    measure.Summary
	err    error
}

// share gathers what the scenes show of the captures that can be read.
func (c *checker) share(ctx context.Context, scenes []*comparison.Scene) {
	c.shared = shared{scenes: map[string][]showing{}, surveys: map[surveyed]*survey{},
		samples: map[surveyed]*sampling{}, measured: map[string][]measurement{}}
	var good []*comparison.Scene
	for _, s := range scenes {
		if slices.ContainsFunc(s.Captures, func(key string) bool { return c.bad[key] }) {
			continue
		}
		list, err := scene.Probe(ctx, c.p, s)
		if err != nil {
			continue // the scene says so
		}
		for _, one := range list {
			c.shared.scenes[one.Video] = append(c.shared.scenes[one.Video], showing{s, one})
		}
		if len(list) > 1 {
			good = append(good, s)
		}
	}
	t := align.NewTracks(0)
	for _, s := range good {
		part, o := c.alignment(s)
		if one, err := align.Want(ctx, c.p, []*comparison.Scene{part}, o); err == nil {
			t.Add(one)
		}
	}
	c.shared.tracks = t
}

// alignment says how a scene is aligned: by a part of it, with little around, unless
// the check is deep.
func (c *checker) alignment(s *comparison.Scene) (*comparison.Scene, align.Options) {
	o, part := align.Options{Search: deepFarOff}, *s
	if !c.deep {
		o.Search, o.Margin = farOff, alignedBeside
		part.Length = min(s.Length, aligned)
	}
	return &part, o
}

// survey looks at the small pictures of a scene's stretch of a capture, and at those of
// the scenes whose stretches meet it.
func (c *checker) survey(ctx context.Context, s *comparison.Scene, one scene.Take,
	clip *graph.Clip) *survey {
	id := surveyed{s.ID, one.Key}
	if found := c.shared.surveys[id]; found != nil {
		return found
	}
	stretchOf := func(w showing) scene.Part {
		return scene.Part{From: w.one.Start, To: w.one.Start + w.scene.Length}
	}
	var parts []scene.Part
	for _, w := range c.shared.scenes[one.Video] {
		parts = append(parts, stretchOf(w))
	}
	own := showing{s, one}
	for _, whole := range append(scene.MergeParts(parts), stretchOf(own)) {
		if p := stretchOf(own); p.From < whole.From || p.To > whole.To {
			continue
		}
		list := []showing{own}
		for _, w := range c.shared.scenes[one.Video] {
			if p := stretchOf(w); p.From >= whole.From && p.To <= whole.To &&
				(w.scene != s || w.one.Key != one.Key) && whole != stretchOf(own) {
				list = append(list, w)
			}
		}
		c.surveyAll(ctx, list, whole, clip)
		if c.shared.surveys[id].err == nil {
			break
		}
		// What fails may lie in another scene's stretch: this one alone is tried.
	}
	return c.shared.surveys[id]
}

// surveyAll decodes a part of a capture for the scenes that show some of it.
func (c *checker) surveyAll(ctx context.Context, list []showing, whole scene.Part, clip *graph.Clip) {
	r, probed := list[0].one.Probed.Rate, list[0].one.Probed
	type receiver struct {
		*survey
		from, count int64
	}
	var receivers []receiver
	for _, w := range list {
		id := surveyed{w.scene.ID, w.one.Key}
		if old := c.shared.surveys[id]; old != nil && old.err == nil {
			continue
		}
		one := &survey{}
		c.shared.surveys[id] = one
		receivers = append(receivers, receiver{one, r.FrameAt(w.one.Start), r.FramesIn(w.scene.Length)})
	}
	first := r.FrameAt(whole.From)
	var last int64
	for _, to := range receivers {
		last = max(last, to.from+to.count)
	}
	coding := media.SDR()
	if clip != nil {
		coding = clip.Coding()
	}
	small := media.Request{From: first, Count: last - first, Size: smallPicture, RGB: &coding}
	decoded, err := c.p.Tools.DecodeVideo(ctx, probed, small,
		func(n int64, rgb *[]byte) error {
			for _, to := range receivers {
				k := n - to.from
				if k < 0 || k >= to.count {
					continue
				}
				to.shown.Add(r.TimeOf(k), r.TimeOf(k+1), *rgb)
				if k*moments/to.count != (k-1)*moments/to.count || k == 0 {
					to.tones.Add(*rgb)
				}
				to.got = k + 1
			}
			return nil
		})
	for _, to := range receivers {
		to.trouble, to.err = decoded.Trouble, err
		if err != nil && len(receivers) > 1 {
			to.survey.shown, to.survey.tones, to.survey.got = Shown{}, Tones{}, 0
		}
	}
	if err != nil && len(list) > 1 {
		for _, w := range list[1:] {
			delete(c.shared.surveys, surveyed{w.scene.ID, w.one.Key})
		}
	}
}

// measureMargin is how far around what a scene needs is measured, so that the frames at
// its edges are whole. What decides them is measure's own concern.
const measureMargin = time.Second

// needs is what of a capture is measured for a scene: all that its deck may show where
// the pacing is measured, else as much as is compared with the log.
func needs(w showing) scene.Part {
	if w.one.Pacing.Measure {
		from, until := scene.Logged(w.scene, w.one)
		return scene.Part{From: max(0, from-measureMargin), To: until + measureMargin}
	}
	return scene.Part{From: max(0, w.one.Start-measureMargin),
		To: w.one.Start + min(w.scene.Length, sampled) + measureMargin}
}

// measure measures what a scene needs of a capture, together with what the scenes need
// whose stretches meet it.
func (c *checker) measure(ctx context.Context, s *comparison.Scene, one scene.Take) measurement {
	need := needs(showing{s, one})
	for _, m := range c.shared.measured[one.Key] {
		if need.From >= m.From && need.To <= m.To && m.err == nil {
			return m
		}
	}
	var parts []scene.Part
	for _, w := range c.shared.scenes[one.Video] {
		if w.one.Key == one.Key && (w.one.Pacing.Measure || w.scene.Deck.Place != comparison.DeckNone) {
			parts = append(parts, needs(w))
		}
	}
	m := measurement{Part: need}
	for _, whole := range append(scene.MergeParts(parts), need) {
		if need.From < whole.From || need.To > whole.To {
			continue
		}
		to := whole.To
		if d := one.Probed.Duration(); d > 0 {
			to = min(to, d)
		}
		m = measurement{Part: whole}
		m.sum, m.err = measure.Capture(ctx, c.p.Tools, one.Probed, logs.SettingsOf(one.Capture), whole.From,
			to, func(f pacing.Frame) error {
				m.frames = append(m.frames, f)
				return nil
			}, nil)
		if m.err == nil {
			break
		}
	}
	c.shared.measured[one.Key] = append(c.shared.measured[one.Key], m)
	return m
}

// between are the frames that are on screen at some time in [from, to).
func between(frames []pacing.Frame, from, to time.Duration) []pacing.Frame {
	var list []pacing.Frame
	for _, f := range frames {
		if f.End() > from && f.Begin < to {
			list = append(list, f)
		}
	}
	return list
}
