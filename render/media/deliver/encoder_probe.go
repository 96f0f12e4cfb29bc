package deliver

import (
	"context"
	"fmt"
	"image"
	"io"
	"slices"
	"strings"
	"time"

	"fairframe/render/media"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
)

// trialRate is the frame rate of what is encoded only to see whether it can be.
var trialRate = pacing.Rate{Num: 60, Den: 1}

// MissingEncoders returns those of the encoders that this ffmpeg does not have.
func MissingEncoders(ctx context.Context, t *media.Tools, encoders []string) ([]string, error) {
	has, err := t.Encoders(ctx)
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

// TimeEncoder encodes a few frames of moving noise with a delivery's settings to
// nowhere, and returns how long a frame took and how many bytes it came to. Noise
// is harder than play; both are on the safe side.
func TimeEncoder(ctx context.Context, t *media.Tools, d graph.Delivery, size image.Point, r pacing.Rate) (frame time.Duration, bytes int64, err error) {
	const n = 12
	args := []string{"-hide_banner", "-v", "level+error", "-nostats", "-nostdin", "-f", "lavfi",
		"-i", fmt.Sprintf("testsrc2=size=%dx%d:rate=%s,noise=alls=12:allf=t", size.X, size.Y, r), "-frames:v", fmt.Sprint(n)}
	if d.Encoder.Colours > 0 {
		args = append(args, "-vf", "split[a][b];[a]palettegen=stats_mode=single[p];[b][p]paletteuse=new=1")
	} else {
		args = append(args, "-pix_fmt", d.Encoder.Pixels)
	}
	// Bare packets: any container would have its say on the coding's name.
	args = append(graph.Merge(append(args, d.VideoArgs(r)...), d.Options), "-f", "rawvideo", "pipe:1")
	began := time.Now()
	err = t.Run(ctx, media.Process{Args: args, What: "media: a trial of the encoder failed",
		Stdout: func(out io.Reader) (err error) {
			bytes, err = io.Copy(io.Discard, out)
			return err
		}})
	return time.Since(began) / n, bytes / n, err
}

// UsableDelivery returns the delivery as this machine can make it. A graphics card's
// encoder is tried on a tiny picture first, since ffmpeg lists many that it
// cannot run here; where it fails, the usual encoder takes its place and a
// warning says so.
func UsableDelivery(ctx context.Context, t *media.Tools, d graph.Delivery) (graph.Delivery, string, error) {
	if d.Fallback == nil {
		return d, "", nil
	}
	c := &graph.Clip{Delivery: d}
	filter := "format=" + d.Encoder.Pixels
	if d.Encoder.Upload {
		filter += ",hwupload"
	}
	args := append(media.Globals("error"), c.Device()...)
	args = append(args, "-f", "lavfi", "-i", "color=size=320x180:rate=30", "-frames:v", "3", "-vf", filter)
	args = append(args, d.VideoArgs(trialRate)...)
	err := t.Run(ctx, media.Process{Args: append(graph.Merge(args, d.Options), "-f", "null", "-"), What: "it cannot be run"})
	if err == nil {
		return d, "", nil
	}
	if ctx.Err() != nil {
		return d, "", ctx.Err()
	}
	why := "it cannot be run"
	if lines := strings.Split(err.Error(), "\n"); len(lines) > 1 {
		why = strings.TrimPrefix(strings.TrimSpace(lines[1]), "ffmpeg: ")
	}
	name := d.Encoder.Name
	d.Encoder, d.Fallback = *d.Fallback, nil
	return d, fmt.Sprintf("encoder %s does not work here; %s is used instead (%s)", name, d.Encoder.Name, why), nil
}
