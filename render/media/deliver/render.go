package deliver

import (
	"context"
	"fmt"
	"io"
	"os"
	"slices"

	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
)

// convertible makes sure that this ffmpeg can bring all captures that a clip shows to
// its colours. For SDR, probing has seen to that.
func convertible(ctx context.Context, t *media.Tools, c *graph.Clip) error {
	if to := c.Coding(); to.HDR() {
		for i, l := range c.Inputs {
			if c.Decodes(i) {
				if err := t.CheckConvertible(ctx, l.Capture, to); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// pictureDurations is a bitstream filter that says how long a picture is shown where that is not
// known: with ffmpeg 7.1 the last picture of an MP4 or a MOV would be shown for no time,
// because its setpts forgets the rate. Pictures are evenly coded, so one lasts as long as
// the one before it. The first has none before it; what lasts a frame is counted there in
// TB, which before ffmpeg 7 is not the unit that it says.
func pictureDurations(ctx context.Context, t *media.Tools, r pacing.Rate) ([]string, error) {
	version, err := t.Version(ctx)
	first := "DURATION"
	if major, _, ok := media.Release(version); !ok || major >= 7 {
		first = fmt.Sprintf("round(1/((%s)*TB))", r)
	}
	expression := fmt.Sprintf(`if(gt(DURATION\,0)\,DURATION\,if(N\,DTS-PREV_INDTS\,%s))`, first)
	return []string{"-bsf:v", "setts=pts=PTS:dts=DTS:duration=" + expression}, err
}

// Rendered is what is known of a finished clip.
type Rendered struct {
	Arguments []string          // ffmpeg's, as run
	Clip      media.Capture     // the clip itself, probed
	Digests   Digests           // of the clip; empty for what cannot be read as a video
	Loudness  *Loudness         // of the finished clip, where it was brought to one
	Gain      float64           // by which its sound was changed, in decibels
	Warnings  []finding.Finding // what could not be as it was asked for
}

// Render encodes the clip into out. The file appears under that name only when
// it is complete and checked; a run that fails or is cancelled leaves nothing.
// progress is told the number of frames encoded so far; it may be nil.
func Render(ctx context.Context, t *media.Tools, c *graph.Clip, out string, progress func(frame int64)) (Rendered, error) {
	if err := c.Check(); err != nil {
		return Rendered{}, err
	}
	for _, l := range c.Inputs {
		if media.SameFile(l.Capture.Path, out) {
			return Rendered{}, &media.Error{Msg: fmt.Sprintf("media: the output %s is the capture %s", out, l.Name),
				Hint: "choose another name or folder for the output; captures are never overwritten"}
		}
	}
	if err := convertible(ctx, t, c); err != nil {
		return Rendered{}, err
	}
	// Seeks are trusted as far as trying again costs less than trying them first: the
	// frames are counted in any case.
	trusting := c.Total() <= brief
	from, err := locateInputs(ctx, t, c, trusting)
	if err != nil {
		return Rendered{}, err
	}
	done := Rendered{}
	if done.Gain, done.Warnings, err = levelSound(ctx, t, c, from); err != nil {
		return Rendered{}, err
	}
	from.Gain = done.Gain
	reserve, give, name := media.TempFile, media.Publish, media.FileURL
	if c.Delivery.Folder() {
		if err := mayReplace(out); err != nil {
			return Rendered{}, err
		}
		reserve, give, name = media.TempFolder, publishFolder, framesIn
	}
	part, err := reserve(out)
	if err != nil {
		return Rendered{}, err
	}
	defer os.RemoveAll(part)

	from.Pages, err = c.WritePages()
	defer from.Pages.Remove()
	if err != nil {
		return Rendered{}, err
	}

	lasting, err := pictureDurations(ctx, t, c.Rate)
	if err != nil {
		return Rendered{}, err
	}
	deaf := ""
	encode := func() error {
		done.Arguments, err = c.CommandLine(from, slices.Concat([]string{"-y", "-hide_banner", "-v", "level+verbose", "-nostats", "-nostdin",
			"-stats_period", "0.25", "-progress", "pipe:1", "-copyts"}, c.ErrorRateArgs(), c.Device()),
			slices.Concat(c.OutputArgs(), lasting), nil, name(part))
		if err != nil {
			return err
		}
		deaf, err = encode(ctx, t, c, done.Arguments, from.Seeks, progress)
		return err
	}
	err = encode()
	if err != nil && trusting && ctx.Err() == nil {
		// Did a seek land late?
		if sure, err2 := locateInputs(ctx, t, c, false); err2 == nil && !slices.Equal(sure.Seeks, from.Seeks) {
			from.Seeks = sure.Seeks
			err = encode()
		}
	}
	if err == nil {
		done.Clip, done.Digests, err = checkOutput(ctx, t, c, part)
	}
	if err == nil {
		err = checkLoudness(ctx, t, c, part, &done)
	}
	if err != nil {
		return Rendered{}, underName(err, part, out)
	}
	if deaf != "" {
		done.Warnings = append(done.Warnings, finding.Plain(describeAudioError(c, deaf)))
	}
	if err := give(part, out); err != nil {
		return Rendered{}, err
	}
	done.Clip.Path = out
	return done, nil
}

// brief is as many frames as a clip has that is soon encoded once more.
const brief = 600

// encode runs ffmpeg and makes sure that it took and gave all frames. deaf is what a
// decoder of sound complained of first.
func encode(ctx context.Context, t *media.Tools, c *graph.Clip, args []string, seeks []media.Seek, progress func(frame int64)) (deaf string, err error) {
	watch := newWatcher(len(c.Inputs))
	var last lastProgress
	p := media.Process{Args: args, Line: watch.line, What: "media: ffmpeg failed",
		Stdout: func(r io.Reader) error { return last.read(r, progress) }}
	if c.DrawsLive() {
		p.Stdin = c.Draw
	}
	if err := t.Run(ctx, p); err != nil {
		return "", blame(c.Delivery, err)
	}
	if err := checkInputs(ctx, t, c, watch, seeks); err != nil {
		return "", err
	}
	// A newer ffmpeg counts packets, and a whole WebP is one: its frames are counted in it.
	if !last.ended || last.frame != c.Total() && c.Delivery.Name != "webp" {
		return "", fmt.Errorf("media: ffmpeg stopped after %d of %s", last.frame, media.Frames(c.Total()))
	}
	return watch.audioError, nil
}
