package media

import (
	"context"
	"fmt"
	"math"
	"time"
)

// DecodeSound streams a capture's sound as one channel of floats, full scale
// ±1, at rate samples a second: from capture time from on, for length (0: to
// the sound's end). Sample k is heard at from + k/rate, counted like all capture
// time from the stamp of the first video frame: sound from before it is left
// out, and silence stands where the sound begins late or has gaps. After the
// sound's end nothing is added. The slice passed to each is used again. An error
// from each ends the decoding and is returned. A capture without sound is an
// error.
func (t *Tools) DecodeSound(ctx context.Context, c Capture, rate int, from, length time.Duration, each func(samples []float32) error) error {
	if !c.Audio {
		return &Error{Msg: fmt.Sprintf("media: %s has no sound", c.Path)}
	}
	if rate <= 0 || from < 0 || length < 0 {
		return fmt.Errorf("media: no sound is at rate %d, from %v, for %v", rate, from, length)
	}
	at, err := t.locateSound(ctx, c, from)
	if err != nil {
		return err
	}
	read := length
	if length > 0 {
		read += tail
	}
	// Taken as a clip's sound is, so that what is aligned is what is heard.
	filters := append(c.takeSound(from, read, rate), []string{"aformat", "sample_fmts=flt", "channel_layouts=mono"})
	if length > 0 {
		filters = append(filters, []string{"atrim", fmt.Sprintf("end_sample=%d", int64(math.Round(length.Seconds()*float64(rate))))})
	}
	args := append(t.inputArgs(c, at), "-map", "0:a:0", "-vn", "-sn", "-dn",
		"-af", chain(filters...), "-f", "f32le", "-c:a", "pcm_f32le", "pipe:1")
	return t.run(ctx, process{
		program: t.FFmpeg, args: append([]string{"-hide_banner", "-v", "level+error", "-nostats", "-nostdin", "-copyts"}, args...),
		what:   fmt.Sprintf("media: decoding the sound of %s failed", c.Path),
		stdout: eachSamples(c.Path, 1, each),
	})
}
