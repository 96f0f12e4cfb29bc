package media

import (
	"context"
	"fmt"
	"strconv"
	"time"
)

// DecodeChannels streams a capture's sound as it is coded: at its own sampling
// rate, all its channels interleaved, full scale ±1, from capture time from on
// for length. Unlike DecodeSound it mixes and resamples nothing, so that clipped
// samples stay what they are, and fills no gaps. The slice passed to each holds whole
// instants and is used again.
func (t *Tools) DecodeChannels(ctx context.Context, c Capture, from, length time.Duration, each func(samples []float32) error) error {
	if !c.Audio || c.Track.Channels < 1 {
		return &Error{Msg: fmt.Sprintf("media: %s has no sound", c.Path)}
	}
	at, err := t.LocateSound(ctx, c, from)
	if err != nil {
		return err
	}
	filter := fmt.Sprintf("atrim=start=%s:end=%s,aformat=sample_fmts=flt", strconv.FormatFloat(c.FirstStamp+from.Seconds(), 'f', 9, 64),
		strconv.FormatFloat(c.FirstStamp+(from+length).Seconds(), 'f', 9, 64))
	args := append(Globals("error", "-copyts"),
		t.InputArgs(c, at)...)
	args = append(args, "-map", "0:a:0", "-vn", "-sn", "-dn", "-af", filter, "-f", "f32le", "-c:a", "pcm_f32le", "pipe:1")
	return t.Run(ctx, Process{
		Args: args, What: fmt.Sprintf("media: decoding the sound of %s failed", c.Path),
		Stdout: EachSamples(c.Path, c.Track.Channels, each),
	})
}
