package measure

import (
	"context"
	"fmt"
	"time"

	"fairframe/render/media"
	"fairframe/render/pacing"
)

// ahead is how many pictures may wait between decoder and meter, so that
// neither stands still while the other is busy for a moment.
const ahead = 4

// Capture measures a capture from its frame on screen at from up to time to
// (0: its end), through ffmpeg. It calls emit for each frame of the game in
// order, and progress, when not nil, now and then with the number of captured
// frames done. Both are called from one goroutine, but not the caller's.
func Capture(ctx context.Context, tools *media.Tools, c media.Capture, s Settings, from, to time.Duration, emit func(pacing.Frame) error, progress func(done int64)) (Summary, error) {
	if from < 0 || to < 0 || (to > 0 && to <= from) {
		return Summary{}, fmt.Errorf("measure: nothing lies between %v and %v", from, to)
	}
	if !c.Rate.Valid() {
		return Summary{}, fmt.Errorf("measure: %s has no constant frame rate", c.Path)
	}
	first, count := c.Rate.FrameAt(from), int64(-1)
	if to > 0 {
		count = c.Rate.FramesIn(to) - first
	}
	m, err := New(Source{Size: c.Size, Rate: c.Rate, First: first, Codec: c.Codec}, s, emit)
	if err != nil {
		return Summary{}, err
	}

	ctx, stop := context.WithCancel(ctx)
	defer stop()
	empty, full := make(chan []byte, ahead), make(chan []byte, ahead)
	for range ahead {
		empty <- make([]byte, c.Size.X*c.Size.Y)
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
					progress(m.count)
				}
			}
			empty <- pic
		}
		done <- err
	}()
	err = tools.DecodeLuma(ctx, c, first, count, func(_ int64, luma []byte) error {
		pic := <-empty
		if len(luma) != len(pic) {
			return m.wrongSize(len(luma))
		}
		copy(pic, luma)
		full <- pic
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
	if progress != nil {
		progress(m.count)
	}
	return sum, nil
}
