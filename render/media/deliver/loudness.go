package deliver

import (
	"context"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/media/graph"
	"fairframe/render/scratch"
)

// Listen measures a capture's sound from capture time from on, for length (0: to
// its end), and streams what of it a clip would let be heard: 48000 samples a
// second of stereo, interleaved, full scale ±1, as DecodeSound has it. The
// loudness is that of the channels as recorded (ITU-R BS.1770; surrounds count by
// their weights, the low-frequency channel does not), mono as it is played: from
// both loudspeakers. The slice passed to each holds whole instants and is used
// again; an error from each ends the run and is returned. A capture without sound
// is an error.
func Listen(ctx context.Context, t *media.Tools, c media.Capture, from, length time.Duration, each func(samples []float32) error) (Loudness, error) {
	if !c.Audio {
		return Loudness{}, &media.Error{Msg: fmt.Sprintf("media: %s has no sound", c.Path)}
	}
	at, err := t.LocateSound(ctx, c, from)
	if err != nil {
		return Loudness{}, err
	}
	read, end := length, [][]string(nil)
	if length > 0 {
		read += media.SoundTail
		end = [][]string{{"atrim", fmt.Sprintf("end_sample=%d", int64(math.Round(length.Seconds()*media.SoundRate)))}}
	}
	taken := append(append(c.SoundFilters(from, read, media.SoundRate), c.Track.Format("fltp")), end...)
	measured := [][]string{meter}
	if c.Track.Channels == 1 {
		measured = append(c.Track.ToStereo(), meter)
	}
	heard := c.Track.ToStereo()
	if n, f := int64(math.Round(length.Seconds()*media.SoundRate)), int64(media.SoundFade.Seconds()*media.SoundRate); n > 2*f {
		// As in a clip; a cut would sound in every band of a spectrum.
		heard = append(heard, []string{"afade", "type=in", "start_sample=0", fmt.Sprintf("nb_samples=%d", f), "curve=hsin"},
			[]string{"afade", "type=out", fmt.Sprintf("start_sample=%d", n-f), fmt.Sprintf("nb_samples=%d", f), "curve=hsin"})
	}
	heard = append(heard, []string{"aformat", "sample_fmts=flt"})
	graph := fmt.Sprintf("[0:a:0]%s,asplit=2[m][h];[m]%s[measured];[h]%s[heard]", media.Chain(taken...), media.Chain(measured...), media.Chain(heard...))
	args := append(append([]string{}, quietly...), t.InputArgs(c, at)...)
	args = append(args, "-filter_complex", graph, "-map", "[measured]", "-f", "null", "-",
		"-map", "[heard]", "-f", "f32le", "-c:a", "pcm_f32le", "pipe:1")
	var log loudnessLog
	err = t.Run(ctx, media.Process{
		Args: args, Line: log.line, What: fmt.Sprintf("media: decoding the sound of %s failed", c.Path),
		Stdout: media.EachSamples(c.Path, 2, each),
	})
	if err != nil {
		return Loudness{}, err
	}
	return log.result()
}

// Loudness is what is measured of sound by ITU-R BS.1770 and EBU R 128, with
// ffmpeg's ebur128 filter, to a tenth.
type Loudness struct {
	Integrated float64 // LUFS; -Inf: nothing rises above the gate of -70 LUFS, or there is less than 0.4 s
	Range      float64 // LU, EBU Tech 3342
	TruePeak   float64 // dBTP; -Inf: digital silence
}

// meter is the filter that measures. Its figures stand at the end of the log.
var meter = []string{"ebur128", "peak=true", "framelog=verbose"}

// loudnessLog reads a Loudness from the log of a run with a meter.
type loudnessLog struct {
	Loudness
	found int
}

// gate is the level below which nothing counts, in LUFS; what the meter says
// where nothing did.
const gate = -70

func (l *loudnessLog) line(s string) {
	key, rest, ok := strings.Cut(strings.TrimSpace(s), ":")
	fields := strings.Fields(rest)
	if !ok || len(fields) != 2 {
		return
	}
	v, err := strconv.ParseFloat(fields[0], 64) // reads -inf too
	if err != nil {
		return
	}
	switch key + " " + fields[1] {
	case "I LUFS":
		if l.Integrated = v; v <= gate {
			l.Integrated = math.Inf(-1)
		}
	case "LRA LU":
		l.Range = v
	case "Peak dBFS":
		l.TruePeak = v
	default:
		return
	}
	l.found++
}

// result is what was read last: ffmpeg may set a graph up and tear it down before
// the first sample, once it knows what the channels are, and then says so twice.
func (l *loudnessLog) result() (Loudness, error) {
	if l.found == 0 || l.found%3 != 0 {
		return Loudness{}, fmt.Errorf("media: ffmpeg's ebur128 filter gave %d of the figures I, LRA and Peak", l.found)
	}
	return l.Loudness, nil
}

// quietly are the global arguments of a run that measures: the meter's figures
// are of level info.
var quietly = media.Globals("info", "-copyts")

// clipLoudness measures the sound of a clip as it goes to the encoder.
func clipLoudness(ctx context.Context, t *media.Tools, c *graph.Clip, from graph.Sources) (Loudness, error) {
	args, err := c.SoundCommandLine(from, quietly, []string{"-f", "null"}, "-", meter)
	if err != nil {
		return Loudness{}, err
	}
	var log loudnessLog
	if err := t.Run(ctx, media.Process{Args: args, Line: log.line, What: "media: measuring the loudness failed"}); err != nil {
		return Loudness{}, err
	}
	return log.result()
}

// fileLoudness measures the first sound of a finished file.
func fileLoudness(ctx context.Context, t *media.Tools, path string) (Loudness, error) {
	args := slices.Concat(quietly, media.InputGuard())
	args = append(args, "-i", media.FileURL(path),
		"-map", "0:a:0", "-af", media.Chain(meter), "-f", "null", "-")
	var log loudnessLog
	if err := t.Run(ctx, media.Process{Args: args, Line: log.line, What: "media: measuring the loudness failed"}); err != nil {
		return Loudness{}, err
	}
	return log.result()
}

const (
	// ceiling is the greatest true peak of a clip whose level is changed, in dBTP
	// (EBU R 128, 2020: -1 dBTP in production).
	ceiling = -1
	// grain covers what the meter's tenths may hide.
	grain = 0.1
	// overshoot is how much more than the sound itself a lossy coder's may peak
	// (common practice); what stays so far below the ceiling needs no trial.
	overshoot = 3
	// trials bounds how often the gain is lowered for a coder's peaks.
	trials = 4
)

// Leveled works out what Render would change of a clip's sound to bring it to its
// loudness, without rendering it: the gain in decibels, and what of it could not be.
func Leveled(ctx context.Context, t *media.Tools, c *graph.Clip) (gain float64, warnings []finding.Finding, err error) {
	from, err := locateSounds(ctx, t, c)
	if err != nil {
		return 0, nil, err
	}
	return levelSound(ctx, t, c, from)
}

// levelSound finds the gain that brings a clip to its loudness, in decibels, and says
// what of that could not be. The gain is one number for the whole clip, found by
// measuring: nothing is compressed or limited, because that would change what is
// compared. Where it would lift the true peak above the ceiling it is lowered,
// also for the peaks that the delivery's coder adds.
//
// Without a loudness the sound is left alone, but for one thing: channels that
// are folded to stereo may add up to more than full scale. Then they are lowered
// to the ceiling.
func levelSound(ctx context.Context, t *media.Tools, c *graph.Clip, from graph.Sources) (gain float64, warnings []finding.Finding, err error) {
	target := c.Sound.Loudness
	folded := false
	for _, i := range c.Sound.Inputs {
		folded = folded || i >= 0 && c.Inputs[i].Capture.Track.Folded()
	}
	if !c.Sound.Heard() || target == 0 && !folded {
		return 0, nil, nil
	}
	found, err := clipLoudness(ctx, t, c, from)
	if err != nil {
		return 0, nil, err
	}
	switch {
	case target == 0 && found.TruePeak <= 0:
		return 0, nil, nil
	case target == 0:
		gain = ceiling - grain - found.TruePeak
		words := fmt.Sprintf("the sound, folded to stereo, would peak at %+.1f dBTP and clip; it is lowered by "+
			"%.1f dB", found.TruePeak, -gain)
		return gain, []finding.Finding{{Severity: finding.Note, What: "the sound is lowered", Evidence: words,
			Words: words}}, nil
	case math.IsInf(found.Integrated, -1):
		return 0, missed("the sound is too quiet or too short to be brought to %s LUFS; it is left as it is",
			lufs(target)), nil
	}
	wanted := target - found.Integrated
	gain = min(wanted, ceiling-grain-found.TruePeak)
	for try := 0; try < trials && c.Delivery.Lossy() && found.TruePeak+gain > ceiling-overshoot; try++ {
		from.Gain = gain
		coded, err := codedLoudness(ctx, t, c, from)
		if err != nil {
			return 0, nil, err
		}
		if coded.TruePeak <= ceiling {
			break
		}
		gain -= coded.TruePeak - ceiling + grain/2
	}
	if short := wanted - gain; short > 0.05 {
		warnings = missed("the sound is brought to %.1f LUFS instead of %s: more would lift its true peak above "+
			"%d dBTP, and nothing is compressed", target-short, lufs(target), ceiling)
	}
	return gain, warnings, nil
}

// missed warns of a loudness that was not reached.
func missed(format string, args ...any) []finding.Finding {
	words := fmt.Sprintf(format, args...)
	return []finding.Finding{{Severity: finding.Misleads, What: "the sound cannot be brought to its loudness",
		Evidence: words, Remedy: "set a lower loudness:, or remove it", Words: words}}
}

// checkLoudness reads a clip that was brought to a loudness back, and says what
// is not as it should be.
func checkLoudness(ctx context.Context, t *media.Tools, c *graph.Clip, part string, done *Rendered) error {
	if !c.Sound.Heard() || c.Sound.Loudness == 0 {
		return nil
	}
	found, err := fileLoudness(ctx, t, part)
	if err != nil {
		return err
	}
	done.Loudness = &found
	const tolerance = 0.5 // LU, EBU R 128's for what cannot be set closer
	off := len(done.Warnings) == 0 && math.Abs(found.Integrated-c.Sound.Loudness) > tolerance
	if off || found.TruePeak > ceiling && done.Gain != 0 {
		done.Warnings = append(done.Warnings, missed("the finished clip is at %.1f LUFS and peaks at %.1f dBTP, "+
			"%s LUFS and at most %d dBTP were wanted", found.Integrated, found.TruePeak, lufs(c.Sound.Loudness),
			ceiling)...)
	}
	return nil
}

// lufs prints a target as it was written.
func lufs(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// codedLoudness measures the sound of a clip as it comes out of the delivery's coder.
func codedLoudness(ctx context.Context, t *media.Tools, c *graph.Clip, from graph.Sources) (Loudness, error) {
	f, err := scratch.Create("", "fairframe-sound-*.part")
	if err != nil {
		return Loudness{}, fmt.Errorf("media: %w", err)
	}
	defer os.Remove(f.Name())
	if err := f.Close(); err != nil {
		return Loudness{}, fmt.Errorf("media: %w", err)
	}
	output := append(c.Delivery.SoundArgs(), "-f", "matroska")
	args, err := c.SoundCommandLine(from, []string{"-y", "-hide_banner", "-v", "level+error", "-nostats", "-nostdin", "-copyts"}, output, media.FileURL(f.Name()))
	if err != nil {
		return Loudness{}, err
	}
	if err := t.Run(ctx, media.Process{Args: args, What: "media: encoding the sound failed"}); err != nil {
		return Loudness{}, err
	}
	return fileLoudness(ctx, t, f.Name())
}
