package media

import (
	"context"
	"fmt"
	"image"
	"io"
	"slices"
	"time"

	"fairframe/render/pacing"
)

// trialRate is the frame rate of what is encoded only to see whether it can be.
var trialRate = pacing.Rate{Num: 60, Den: 1}

// Encoders returns the names of the encoders that a delivery needs.
func (d Delivery) Encoders() []string {
	list := []string{d.encoder.name}
	for i := range len(d.variant.sound) {
		if d.variant.sound[i] == "-c:a" {
			list = append(list, d.variant.sound[i+1])
		}
	}
	return list
}

// Lacks returns those of the encoders that this ffmpeg does not have.
func (t *Tools) Lacks(ctx context.Context, encoders []string) ([]string, error) {
	_, has, err := t.ask(ctx)
	if err != nil {
		return nil, err
	}
	var lacks []string
	for _, e := range encoders {
		if !slices.Contains(has, e) {
			lacks = append(lacks, e)
		}
	}
	return lacks, nil
}

// Trial encodes a few frames of moving noise with a delivery's settings to
// nowhere, and returns how long a frame took and how many bytes it came to. Noise
// is harder than play; both are on the safe side.
func (t *Tools) Trial(ctx context.Context, d Delivery, size image.Point, r pacing.Rate) (frame time.Duration, bytes int64, err error) {
	const n = 12
	args := []string{"-hide_banner", "-v", "level+error", "-nostats", "-nostdin", "-f", "lavfi",
		"-i", fmt.Sprintf("testsrc2=size=%dx%d:rate=%s,noise=alls=12:allf=t", size.X, size.Y, r), "-frames:v", fmt.Sprint(n)}
	if d.encoder.name == "gif" {
		args = append(args, "-vf", "split[a][b];[a]palettegen=stats_mode=single[p];[b][p]paletteuse=new=1")
	} else {
		args = append(args, "-pix_fmt", d.encoder.given(d.quality))
	}
	// Bare packets: any container would have its say on the coding's name.
	args = append(merge(append(args, d.video(r)...), d.options), "-f", "rawvideo", "pipe:1")
	began := time.Now()
	err = t.run(ctx, process{program: t.FFmpeg, args: args, what: "media: a trial of the encoder failed",
		stdout: func(out io.Reader) (err error) {
			bytes, err = io.Copy(io.Discard, out)
			return err
		}})
	return time.Since(began) / n, bytes / n, err
}
