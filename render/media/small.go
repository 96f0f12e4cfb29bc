package media

import (
	"context"
	"fmt"
	"image"
	"strings"

	"fairframe/render/pacing"
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
		if at, err = t.Locate(ctx, c, c.at(c.Rate.TimeOf(from))); err != nil {
			return err
		}
	}
	filter := c.stretchChain(from, count)
	if !strings.HasPrefix(c.PixFmt, "yuv") {
		filter += ",format=yuv444p"
	}
	filter += fmt.Sprintf(",extractplanes=y,scale=%d:%d:flags=area,format=gray", size.X, size.Y)
	args := append(t.inputArgs(c, at), "-map", "0:v:0", "-an", "-sn", "-dn",
		"-vf", filter, "-fps_mode", "passthrough", "-f", "rawvideo", "-pix_fmt", "gray", "pipe:1")
	return t.run(ctx, process{
		program: t.FFmpeg, args: append([]string{"-hide_banner", "-v", "level+error", "-nostats", "-nostdin", "-copyts"}, args...),
		what:   fmt.Sprintf("media: decoding %s failed", c.Path),
		stdout: eachPicture(c.Path, size.X*size.Y, from, each),
	})
}

// stretchChain takes count frames (count < 0: all) from frame from on, by their
// stamps: what a recorder dropped is shown once more.
func (c Capture) stretchChain(from, count int64) string {
	if c.timing != nil {
		if count < 0 {
			count = max(1, c.Rate.FramesIn(c.Duration())-from)
		}
		if p, err := c.plan(c.Rate, c.Rate.TimeOf(from), count, pacing.TimeMap{}); err == nil {
			return quotedChain(p.filters(c, "fps", c.Rate))
		}
	}
	chain := c.stampChain() + fmt.Sprintf(",trim=start_pts=%d", from)
	if count >= 0 {
		chain += fmt.Sprintf(":end_pts=%d", from+count)
	}
	return chain + fmt.Sprintf(",setpts=PTS-%d,fps=%s:start_time=0", from, c.Rate)
}

// quotedChain writes filters as ffmpeg reads them from a command line, with
// expressions that hold commas.
func quotedChain(filters [][]string) string {
	var list [][]string
	for _, f := range filters {
		list = append(list, []string{f[0], "'" + strings.Join(f[1:], ":") + "'"})
	}
	return chain(list...)
}
