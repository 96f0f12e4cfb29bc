package media

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"strings"
)

// DecodeSmall streams the luma of a capture shrunk to size by area averages,
// one picture for each captured frame from, from+1, … to the end, or count of
// them when count >= 0. Unlike DecodeLuma it goes by the stamps: where the
// recorder dropped a frame, the one before it is given again, so that picture k
// is what is on screen at (from+k)/c.Rate. The slice passed to each is used
// again. An error from each ends the decoding and is returned.
func (t *Tools) DecodeSmall(ctx context.Context, c Capture, size image.Point, from, count int64, each func(n int64, luma []byte) error) error {
	at := fromStart
	if from > 0 {
		var err error
		if at, err = t.Locate(ctx, c, from); err != nil {
			return err
		}
	}
	filter := c.stampChain() + fmt.Sprintf(",trim=start_pts=%d", from)
	if count >= 0 {
		filter += fmt.Sprintf(":end_pts=%d", from+count)
	}
	filter += fmt.Sprintf(",setpts=PTS-%d,fps=%s:start_time=0", from, c.Rate)
	if !strings.HasPrefix(c.PixFmt, "yuv") {
		filter += ",format=yuv444p"
	}
	filter += fmt.Sprintf(",extractplanes=y,scale=%d:%d:flags=area,format=gray", size.X, size.Y)
	args := append(t.inputArgs(c, at), "-map", "0:v:0", "-an", "-sn", "-dn",
		"-vf", filter, "-fps_mode", "passthrough", "-f", "rawvideo", "-pix_fmt", "gray", "pipe:1")
	return t.run(ctx, process{
		program: t.FFmpeg, args: append([]string{"-hide_banner", "-v", "level+error", "-nostats", "-nostdin", "-copyts"}, args...),
		what: fmt.Sprintf("media: decoding %s failed", c.Path),
		stdout: func(r io.Reader) error {
			buf := make([]byte, size.X*size.Y)
			for n := from; ; n++ {
				switch _, err := io.ReadFull(r, buf); {
				case err == nil:
				case errors.Is(err, io.EOF):
					return nil
				default:
					return fmt.Errorf("media: decoding %s: frame %d: %w", c.Path, n, err)
				}
				if err := each(n, buf); err != nil {
					return err
				}
			}
		},
	})
}
