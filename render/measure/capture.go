package measure

import (
	"context"
	"errors"
	"fmt"
	"time"

	"fairframe/render/media"
	"fairframe/render/pacing"
)

// waiting is how much of pictures, in bytes, may wait between decoder and meter.
// The meter decides a window at once, which takes it some tens of milliseconds:
// meanwhile a decoder must have room for what it goes on making, or it stands
// still, and it is the slower of the two.
const waiting = 48 << 20

// ahead returns how many pictures of n bytes may wait.
func ahead(n int) int { return min(max(waiting/n, 4), 64) }

// Capture measures a capture from its frame on screen at from up to time to
// (0: its end), through ffmpeg. It calls emit for each frame of the game in
// order, and progress, when not nil, now and then with the number of captured
// frames done. Both are called from one goroutine, but not the caller's.
func Capture(ctx context.Context, tools *media.Tools, c media.Capture, s Settings, from, to time.Duration, emit func(pacing.Frame) error, progress func(done int64)) (Summary, error) {
	if from < 0 || to < 0 || (to > 0 && to <= from) {
		return Summary{}, fmt.Errorf("measure: nothing lies between %v and %v", from, to)
	}
	if !c.Rate.Valid() {
		return Summary{}, fmt.Errorf("measure: %s has no frame rate", c.Path)
	}
	first, count := c.FrameAt(from), int64(-1)
	if to > 0 {
		count = c.FramesIn(to) - first
	}
	// What lies around the stretch is looked at as well, so that no decision depends on
	// where it begins and ends.
	lead, read := min(first, reach), int64(-1)
	if count >= 0 {
		read = lead + count + reach
	}
	src := Source{Size: c.Size, Rate: c.Rate, First: first - lead, Lead: lead, Count: count, Codec: c.Codec, Forward: c.Forward}
	holes := holesOf(c, from, to)
	var held []pacing.Frame
	out := emit
	if c.Variable() {
		src.Stamps, src.OnGrid = c.TimeOf, c.Refresh().Valid()
	}
	if len(holes) > 0 {
		// What a hole is shows at the end.
		out = func(f pacing.Frame) error { held = append(held, f); return nil }
	}
	m, err := New(src, s, out)
	if err != nil {
		return Summary{}, err
	}

	ctx, stop := context.WithCancel(ctx)
	defer stop()
	bytes := c.Size.X * c.Size.Y
	room := ahead(bytes)
	empty, full := make(chan []byte, room), make(chan []byte, room)
	for range room {
		empty <- make([]byte, bytes)
	}
	done := make(chan error, 1)
	go func() {
		var err error
		for pic := range full {
			if err == nil {
				if err = m.add(&pic); err != nil {
					stop()
				}
				if progress != nil && m.count%16 == 0 {
					progress(m.counted())
				}
			}
			empty <- pic
		}
		done <- err
	}()
	decoded, err := tools.DecodeVideo(ctx, c, media.Request{From: first - lead, Count: read}, func(_ int64, luma *[]byte) error {
		full <- *luma
		*luma = <-empty
		return nil
	})
	close(full)
	if failed := <-done; failed != nil {
		return Summary{}, failed
	}
	if err != nil {
		return Summary{}, err
	}
	sum, err := m.Finish()
	if err != nil {
		return Summary{}, err
	}
	for _, f := range sum.settleHoles(c, holes, held) {
		if err := emit(f); err != nil {
			return Summary{}, err
		}
	}
	for _, w := range c.Warnings {
		sum.Warnings = append(sum.Warnings, errors.New(w.Warning()))
	}
	if decoded.Filled > 0 || decoded.Lost > 0 {
		sum.Uneven = true
		sum.Warnings = append(sum.Warnings, fmt.Errorf("measure: the capture is not of a constant frame rate: at %s Hz, %d captured frames are missing and count as repeated, %d are surplus and are ignored", c.Rate, decoded.Filled, decoded.Lost))
	}
	if decoded.Trouble != "" {
		sum.Warnings = append(sum.Warnings, fmt.Errorf("measure: the capture is damaged, and pictures may be made up (%s)", decoded.Trouble))
	}
	if announced := c.Frames - first; count < 0 && c.Frames > 0 && m.counted()+1 < announced {
		sum.Warnings = append(sum.Warnings, fmt.Errorf("measure: the capture announces %d frames and holds %d; was it cut off?", announced, m.counted()))
	}
	if progress != nil {
		progress(m.counted())
	}
	return sum, nil
}
