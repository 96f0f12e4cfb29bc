package check

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"strings"

	"fairframe/render/comparison"
	"fairframe/render/media"
	"fairframe/render/scene"
)

// errEnough ends a decoding that has given what was wanted.
var errEnough = errors.New("enough")

// sampling is what a few pairs of a scene's pictures at full size came to.
type sampling struct {
	levels *Levels
	combs  *Combs
	read   int
}

// sample is one pair that is wanted: frame and the one after it.
type sample struct {
	frame int64
	of    *sampling
}

// levels reads a few pairs of pictures at full size, those of other scenes that were
// surveyed with this one too; nil when there is no luma as coded.
func (c *checker) levels(ctx context.Context, s *comparison.Scene,
	one scene.Take) (*Levels, *Combs) {
	if !strings.HasPrefix(one.Probed.PixFmt, "yuv") {
		return nil, nil
	}
	id := surveyed{s.ID, one.Key}
	if c.shared.samples[id] == nil {
		c.sampleAll(ctx, one)
	}
	if found := c.shared.samples[id]; found != nil && found.read > 0 {
		return found.levels, found.combs
	}
	return nil, nil
}

// sampleAll reads the samples of all scenes that were surveyed in a capture.
func (c *checker) sampleAll(ctx context.Context, one scene.Take) {
	r := one.Probed.Rate
	var wanted []sample
	for _, w := range c.shared.scenes[one.Video] {
		id := surveyed{w.scene.ID, w.one.Key}
		seen := c.shared.surveys[id]
		if seen == nil || seen.err != nil || c.shared.samples[id] != nil {
			continue
		}
		to := &sampling{levels: NewLevels(one.Probed.Size, one.Probed.Colour.Full),
			combs: NewCombs(one.Probed.Size)}
		c.shared.samples[id] = to
		from, count := r.FrameAt(w.one.Start), min(seen.got, r.FramesIn(w.scene.Length))
		for i := range int64(samples) {
			wanted = append(wanted, sample{from + (2*i+1)*count/(2*samples), to})
		}
	}
	slices.SortStableFunc(wanted, func(a, b sample) int { return cmp.Compare(a.frame, b.frame) })
	for len(wanted) > 0 && ctx.Err() == nil {
		n := 1
		for n < len(wanted) && wanted[n].frame-wanted[n-1].frame <= near {
			n++
		}
		c.read(ctx, one, wanted[:n])
		wanted = wanted[n:]
	}
}

// read decodes the stretch in which samples lie near each other. A frame that a sample
// asks for may have been dropped by the recorder; the next will do.
func (c *checker) read(ctx context.Context, one scene.Take, list []sample) {
	first, last := list[0].frame, list[len(list)-1].frame
	var before []byte
	var pending []*sampling
	next := 0
	// That it cannot be decoded has been said: the same pictures were surveyed.
	stretch := media.Request{From: first, Count: last - first + 8}
	_, _ = c.p.Tools.DecodeVideo(ctx, one.Probed, stretch, func(n int64, luma *[]byte) error {
		for _, to := range pending {
			to.combs.Add(before, *luma)
		}
		if pending = pending[:0]; next == len(list) {
			return errEnough
		}
		for ; next < len(list) && list[next].frame <= n; next++ {
			to := list[next].of
			to.levels.Add(*luma)
			to.read++
			pending = append(pending, to)
		}
		if len(pending) > 0 {
			before = append(before[:0], *luma...)
		}
		return nil
	})
}
