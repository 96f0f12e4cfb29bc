package media

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"time"
)

// SoundRate is the sample rate, in hertz, of every clip's sound, and of what Listen
// hands over.
const SoundRate = 48000

// SoundFade is how long sound swells and dies away where it is cut: long enough not to
// click, too short to be noticed (common practice).
const SoundFade = 10 * time.Millisecond

// SoundTail is how much sound beyond the end is read, for the resampler's delay.
const SoundTail = 100 * time.Millisecond

// SoundLead is how much earlier than its picture sound is looked for in a file:
// recorders write it up to so much before, and decoders need some to begin with.
const SoundLead = time.Second

// SoundFilters are the filters that take a capture's sound from capture time from
// on, for length, at rate samples a second: silence stands where the sound begins
// late or has a gap. Stamps of whole milliseconds are a millisecond off at most;
// what is farther off than twice that is a gap and no rounding.
func (c Capture) SoundFilters(from, length time.Duration, rate int) [][]string {
	// Times are rounded to nanoseconds: without a little grace a sample that belongs
	// to the very beginning could come before it.
	const grace = 2 * time.Nanosecond
	start := max(0, from-grace)
	take := c.trimSound(start, 0)
	if length > 0 {
		take = append(take, "end="+c.stampOfSound(from+length))
	}
	return [][]string{
		take,
		{"asetpts", "round(PTS-(" + c.stampOfSound(start) + ")/TB)"},
		{"aresample", strconv.Itoa(rate), "async=1", "first_pts=0", "min_comp=0.0001", "min_hard_comp=0.002"},
	}
}

// SoundRequest says which sound of a capture is wanted, and in what form.
type SoundRequest struct {
	From, Length time.Duration // of capture time; Length 0: to the sound's end
	// Rate asks for one channel of so many samples a second, in which silence stands
	// where the sound begins late or has gaps. 0 asks for the sound as it is coded: at
	// its own rate, all its channels interleaved, nothing filled in, so that clipped
	// samples stay what they are.
	Rate int
}

// DecodeSound streams a capture's sound as floats, full scale ±1. Sample k of a
// Rate is heard at From + k/Rate, counted like all capture time from the stamp of the
// first video frame: sound from before it is left out. After the sound's end nothing is
// added. The slice passed to each holds whole instants and is used again. An error
// from each ends the decoding and is returned. A capture without sound is an error.
func (t *Tools) DecodeSound(ctx context.Context, c Capture, r SoundRequest, each func(samples []float32) error) error {
	if !c.Audio || r.Rate == 0 && c.Track.Channels < 1 {
		return &Error{Msg: fmt.Sprintf("media: %s has no sound", c.Path)}
	}
	if r.Rate < 0 || r.From < 0 || r.Length < 0 {
		return fmt.Errorf("media: no sound is at rate %d, from %v, for %v", r.Rate, r.From, r.Length)
	}
	at, err := t.LocateSound(ctx, c, r.From)
	if err != nil {
		return err
	}
	if r.Rate == 0 {
		return t.DecodeSamples(ctx, c, at, c.Track.Channels, each, c.trimSound(r.From, r.Length), []string{"aformat", "sample_fmts=flt"})
	}
	read := r.Length
	if read > 0 {
		read += SoundTail
	}
	// Taken as a clip's sound is, so that what is aligned is what is heard.
	filters := append(c.SoundFilters(r.From, read, r.Rate), []string{"aformat", "sample_fmts=flt", "channel_layouts=mono"})
	if r.Length > 0 {
		filters = append(filters, []string{"atrim", fmt.Sprintf("end_sample=%d", int64(math.Round(r.Length.Seconds()*float64(r.Rate))))})
	}
	return t.DecodeSamples(ctx, c, at, 1, each, filters...)
}

// trimSound is the filter that takes the sound from one capture time on, for length; 0:
// to its end.
func (c Capture) trimSound(from, length time.Duration) []string {
	take := []string{"atrim", "start=" + c.stampOfSound(from)}
	if length > 0 {
		take = append(take, "end="+c.stampOfSound(from+length))
	}
	return take
}

// stampOfSound is the stamp of a capture time, in seconds.
func (c Capture) stampOfSound(at time.Duration) string {
	return strconv.FormatFloat(c.FirstStamp+at.Seconds(), 'f', 9, 64)
}

// DecodeSamples streams what filters make of a capture's sound, floats of so many
// channels, read from a position.
func (t *Tools) DecodeSamples(ctx context.Context, c Capture, at Seek, channels int, each func(samples []float32) error, filters ...[]string) error {
	args := append(Globals("error", "-copyts"), t.InputArgs(c, at)...)
	args = append(args, "-map", "0:a:0", "-vn", "-sn", "-dn", "-af", Chain(filters...), "-f", "f32le", "-c:a", "pcm_f32le", "pipe:1")
	return t.Run(ctx, Process{Args: args, What: fmt.Sprintf("media: decoding the sound of %s failed", c.Path), Stdout: EachSamples(c.Path, channels, each)})
}
