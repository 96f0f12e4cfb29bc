package media

import (
	"context"
	"fmt"
	"strings"
)

// Able returns the delivery as this machine can make it. A graphics card's
// encoder is tried on a tiny picture first, since ffmpeg lists many that it
// cannot run here; where it fails, the usual encoder takes its place and a
// warning says so.
func (t *Tools) Able(ctx context.Context, d Delivery) (Delivery, string, error) {
	if !d.encoder.hardware {
		return d, "", nil
	}
	c := &Clip{Delivery: d}
	filter := "format=" + d.encoder.pixels
	if d.encoder.upload {
		filter += ",hwupload"
	}
	args := append([]string{"-hide_banner", "-v", "level+error", "-nostats", "-nostdin"}, c.device()...)
	args = append(args, "-f", "lavfi", "-i", "color=size=320x180:rate=30", "-frames:v", "3", "-vf", filter)
	args = append(args, d.video(trialRate)...)
	err := t.run(ctx, process{program: t.FFmpeg, args: append(merge(args, d.options), "-f", "null", "-"), what: "it cannot be run"})
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
	name := d.encoder.name
	d.encoder = d.variant.encoders[0]
	return d, fmt.Sprintf("encoder %s does not work here; %s is used instead (%s)", name, d.encoder.name, why), nil
}
