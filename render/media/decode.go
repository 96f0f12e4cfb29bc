package media

import (
	"context"
	"fmt"
	"strings"
)

// DecodeLuma streams the luma of a capture, every captured frame in order:
// frames from, from+1, … to the end, or count of them when count >= 0. Each
// picture is c.Size.X*c.Size.Y bytes, packed, 8 bit, as coded (a limited-range
// capture keeps its limited range); deeper captures are reduced to 8 bit. The
// slice passed to each is used again for the next frame. An error from each
// ends the decoding and is returned.
func (t *Tools) DecodeLuma(ctx context.Context, c Capture, from, count int64, each func(n int64, luma []byte) error) error {
	start := fromStart
	if from > 0 {
		var err error
		if start, err = t.Locate(ctx, c, from); err != nil {
			return err
		}
	}
	args := append(t.inputArgs(c, start), "-map", "0:v:0", "-an", "-sn", "-dn")
	filter := c.stampChain() + fmt.Sprintf(",trim=start_pts=%d", from)
	if count >= 0 {
		filter += fmt.Sprintf(":end_pts=%d", from+count)
	}
	if !strings.HasPrefix(c.PixFmt, "yuv") {
		filter += ",format=yuv444p"
	}
	filter += ",extractplanes=y,format=gray"
	args = append(args, "-vf", filter, "-fps_mode", "passthrough", "-f", "rawvideo", "-pix_fmt", "gray", "pipe:1")
	n := from
	err := t.run(ctx, process{
		program: t.FFmpeg, args: append([]string{"-hide_banner", "-v", "level+error", "-nostats", "-nostdin", "-copyts"}, args...),
		what: fmt.Sprintf("media: decoding %s failed", c.Path),
		stdout: eachPicture(c.Path, c.Size.X*c.Size.Y, from, func(k int64, luma []byte) error {
			n = k + 1
			return each(k, luma)
		}),
	})
	if err != nil {
		return err
	}
	if n == from && count != 0 {
		return &Error{Msg: fmt.Sprintf("media: %s has no frame %d", c.Path, from),
			Hint: "the capture ends earlier"}
	}
	return nil
}
