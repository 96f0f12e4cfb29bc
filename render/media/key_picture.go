package media

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"time"
)

// KeyPicture decodes the luma of the last picture from a capture time to another that is
// coded by itself, since such a picture keeps most of what was recorded. Where there is
// none it is the picture on screen at the second time. It returns the capture time from
// which the picture is shown.
func (t *Tools) KeyPicture(ctx context.Context, c Capture, from, at time.Duration) (shown time.Duration, luma []byte, err error) {
	seek := FromStart
	if n := c.StampAt(at); n > 0 {
		seek = c.SeekTo(n)
	}
	stamp := int64(math.MaxInt64)
	trim := fmt.Sprintf(",trim=start_pts=%d:end_pts=%d,showinfo,", c.StampAt(from), c.StampAt(at)+1)
	args := append(Globals("info", "-copyts", "-skip_frame", "nokey"), t.InputArgs(c, seek)...)
	args = append(args, "-map", "0:v:0", "-an", "-sn", "-dn", "-vf", c.StampChain()+trim+Request{}.filters(c),
		"-fps_mode", "passthrough", "-f", "yuv4mpegpipe", "-pix_fmt", "gray", "pipe:1")
	take := func(_ int64, picture *[]byte) error { luma = append(luma[:0], *picture...); return nil }
	err = t.Run(ctx, Process{
		Args: args, What: fmt.Sprintf("media: decoding %s failed", c.Path),
		Line: func(line string) {
			if m := anyPTS.FindStringSubmatch(line); m != nil {
				stamp, _ = strconv.ParseInt(m[1], 10, 64)
			}
		},
		Stdout: eachMono(c.Path, c.Size.X*c.Size.Y, 0, take),
	})
	if err != nil || luma != nil {
		return c.Clock().TimeOf(stamp), luma, err
	}
	n := c.FrameAt(at)
	_, err = t.DecodeVideo(ctx, c, Request{From: n, Count: 1}, func(_ int64, picture *[]byte) error {
		luma = slices.Clone(*picture)
		return nil
	})
	if err == nil && luma == nil {
		err = &Error{Msg: fmt.Sprintf("media: %s shows no picture at %s", c.Path, at), Hint: "the capture ends earlier"}
	}
	return c.TimeOf(n), luma, err
}
