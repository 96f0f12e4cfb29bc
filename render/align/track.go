package align

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"fairframe/render/media"
)

// By says what captures are aligned by.
type By int

// Ways to align.
const (
	Both    By = iota // sound and pictures, whatever there is of them
	Sound             // sound alone
	Picture           // pictures alone
)

// ParseBy reads "both", "sound" or "picture".
func ParseBy(s string) (By, error) {
	for b := Both; b <= Picture; b++ {
		if s == b.String() {
			return b, nil
		}
	}
	return 0, fmt.Errorf("align: unknown method %q", s)
}

// String returns "both", "sound" or "picture".
func (b By) String() string { return [...]string{"both", "sound", "picture"}[b] }

// Track is what is kept of a capture to align it by. Close removes its temporary
// files, which take about 70 MB an hour of sound and 125 MB an hour of pictures
// at 60 frames a second. It is safe for concurrent use once it is open.
type Track struct {
	Capture media.Capture
	from    float64 // capture time of the track's beginning, in seconds, a whole frame
	length  float64 // seconds
	sound   *sound
	picture *picture
}

// Open decodes the stretch [from, to) of a capture (to 0: its end) into a track.
// A capture without sound has none, which is an error only by Sound. progress,
// when not nil, is told the seconds decoded, from one goroutine at a time.
func Open(ctx context.Context, tools *media.Tools, c media.Capture, by By, from, to time.Duration, progress func(seconds float64)) (t *Track, err error) {
	if from < 0 || to < 0 || to > 0 && to <= from {
		return nil, fmt.Errorf("align: nothing lies between %v and %v", from, to)
	}
	if !c.Rate.Valid() {
		return nil, fmt.Errorf("align: %s has no constant frame rate", c.Path)
	}
	if by == Sound && !c.Audio {
		return nil, &media.Error{Msg: fmt.Sprintf("align: %s has no sound", c.Path), Hint: "align by picture"}
	}
	first := c.Rate.FrameAt(from)
	start := c.Rate.TimeOf(first)
	t = &Track{Capture: c, from: start.Seconds()}
	defer func() {
		if err != nil {
			t.Close()
			t = nil
		}
	}()
	count, length := int64(-1), time.Duration(0)
	if to > 0 {
		count, length = c.Rate.FramesIn(to)-first, to-start
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	var wg sync.WaitGroup
	var soundErr, pictureErr error
	if by != Picture && c.Audio {
		if t.sound, err = newSound(); err != nil {
			return t, err
		}
		wg.Go(func() {
			soundErr = tools.DecodeSound(ctx, c, media.SoundRequest{From: start, Length: length, Rate: soundRate}, func(x []float32) error {
				if by == Sound && progress != nil {
					progress(float64(t.sound.samples.rows) / soundRate)
				}
				return t.sound.add(x)
			})
			if soundErr != nil {
				stop()
			}
		})
	}
	if by != Sound {
		if t.picture, err = newPicture(c.Rate); err != nil {
			return t, err
		}
		wg.Go(func() {
			_, pictureErr = tools.DecodeVideo(ctx, c, media.Request{From: first, Count: count, Size: signatureSize()}, func(_ int64, luma *[]byte) error {
				if progress != nil && t.picture.frame%64 == 0 {
					progress(float64(t.picture.frame) / c.Rate.Hz())
				}
				return t.picture.add(*luma)
			})
			if pictureErr != nil {
				stop()
			}
		})
	}
	wg.Wait()
	for _, e := range []error{soundErr, pictureErr} {
		// The first failure cancels the other decoder, which is no news.
		if e != nil && (err == nil || errors.Is(err, context.Canceled)) {
			err = e
		}
	}
	if err != nil {
		return t, err
	}
	if t.sound != nil {
		if err = t.sound.seal(); err != nil {
			return t, err
		}
		t.length = float64(t.sound.samples.rows) / soundRate
	}
	if t.picture != nil {
		if err = t.picture.seal(); err != nil {
			return t, err
		}
		t.length = max(t.length, float64(t.picture.frame)/c.Rate.Hz())
	}
	return t, nil
}

// Close removes the track's temporary files.
func (t *Track) Close() {
	if t.sound != nil {
		t.sound.close()
	}
	if t.picture != nil {
		t.picture.close()
	}
}

// Length returns how long the track is, in seconds.
func (t *Track) Length() float64 { return t.length }
