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
	seconds := func(t time.Duration) string { return strconv.FormatFloat(c.FirstStamp+t.Seconds(), 'f', 9, 64) }
	// Times are rounded to nanoseconds: without a little grace a sample that belongs
	// to the very beginning could come before it.
	const grace = 2 * time.Nanosecond
	start := seconds(max(0, from-grace))
	take := []string{"atrim", "start=" + start}
	if length > 0 {
		take = append(take, "end="+seconds(from+length))
	}
	return [][]string{
		take,
		{"asetpts", "round(PTS-(" + start + ")/TB)"},
		{"aresample", strconv.Itoa(rate), "async=1", "first_pts=0", "min_comp=0.0001", "min_hard_comp=0.002"},
	}
}

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
	at, err := t.LocateSound(ctx, c, from)
	if err != nil {
		return err
	}
	read := length
	if length > 0 {
		read += SoundTail
	}
	// Taken as a clip's sound is, so that what is aligned is what is heard.
	filters := append(c.SoundFilters(from, read, rate), []string{"aformat", "sample_fmts=flt", "channel_layouts=mono"})
	if length > 0 {
		filters = append(filters, []string{"atrim", fmt.Sprintf("end_sample=%d", int64(math.Round(length.Seconds()*float64(rate))))})
	}
	args := append(t.InputArgs(c, at), "-map", "0:a:0", "-vn", "-sn", "-dn",
		"-af", Chain(filters...), "-f", "f32le", "-c:a", "pcm_f32le", "pipe:1")
	return t.Run(ctx, Process{
		Args:   append(Globals("error", "-copyts"), args...),
		What:   fmt.Sprintf("media: decoding the sound of %s failed", c.Path),
		Stdout: EachSamples(c.Path, 1, each),
	})
}
