package media

import (
	"context"
	"fmt"
	"math"
	"time"
)

// Listen measures a capture's sound from capture time from on, for length (0: to
// its end), and streams what of it a clip would let be heard: 48000 samples a
// second of stereo, interleaved, full scale ±1, as DecodeSound has it. The
// loudness is that of the channels as recorded (ITU-R BS.1770; surrounds count by
// their weights, the low-frequency channel does not), mono as it is played: from
// both loudspeakers. The slice passed to each holds whole instants and is used
// again; an error from each ends the run and is returned. A capture without sound
// is an error.
func (t *Tools) Listen(ctx context.Context, c Capture, from, length time.Duration, each func(samples []float32) error) (Loudness, error) {
	if !c.Audio {
		return Loudness{}, &Error{Msg: fmt.Sprintf("media: %s has no sound", c.Path)}
	}
	at, err := t.locateSound(ctx, c, from)
	if err != nil {
		return Loudness{}, err
	}
	read, end := length, [][]string(nil)
	if length > 0 {
		read += tail
		end = [][]string{{"atrim", fmt.Sprintf("end_sample=%d", int64(math.Round(length.Seconds()*soundRate)))}}
	}
	taken := append(append(c.takeSound(from, read, soundRate), c.Track.format("fltp")), end...)
	measured := [][]string{meter}
	if c.Track.Channels == 1 {
		measured = append(c.Track.toStereo(), meter)
	}
	heard := c.Track.toStereo()
	if n, f := int64(math.Round(length.Seconds()*soundRate)), int64(fade.Seconds()*soundRate); n > 2*f {
		// As in a clip; a cut would sound in every band of a spectrum.
		heard = append(heard, []string{"afade", "type=in", "start_sample=0", fmt.Sprintf("nb_samples=%d", f), "curve=hsin"},
			[]string{"afade", "type=out", fmt.Sprintf("start_sample=%d", n-f), fmt.Sprintf("nb_samples=%d", f), "curve=hsin"})
	}
	heard = append(heard, []string{"aformat", "sample_fmts=flt"})
	graph := fmt.Sprintf("[0:a:0]%s,asplit=2[m][h];[m]%s[measured];[h]%s[heard]", chain(taken...), chain(measured...), chain(heard...))
	args := append(append([]string{}, quietly...), t.inputArgs(c, at)...)
	args = append(args, "-filter_complex", graph, "-map", "[measured]", "-f", "null", "-",
		"-map", "[heard]", "-f", "f32le", "-c:a", "pcm_f32le", "pipe:1")
	var log loudnessLog
	err = t.run(ctx, process{
		program: t.FFmpeg, args: args, line: log.line, what: fmt.Sprintf("media: decoding the sound of %s failed", c.Path),
		stdout: eachSamples(c.Path, 2, each),
	})
	if err != nil {
		return Loudness{}, err
	}
	return log.result()
}

// SoundRate is the sample rate, in hertz, of what Listen hands over and of every
// clip's sound.
const SoundRate = soundRate
