package media

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"strings"
)

// Survey streams a capture's pictures shrunk to size by area averages, as packed
// full-range R'G'B' of 8 bits, converted as a clip's pictures are: frames from,
// from+1, …, count of them. Like DecodeSmall it goes by the stamps. trouble is
// the first complaint of the decoder, "" without one; it may concern frames
// before the stretch, see Damage. The slice passed to each is used again.
func (t *Tools) Survey(ctx context.Context, c Capture, size image.Point, from, count int64, each func(n int64, rgb []byte) error) (trouble string, err error) {
	in := "tv"
	if c.Colour.Full {
		in = "pc"
	}
	filter := fmt.Sprintf("%s,trim=start_pts=%d:end_pts=%d,setpts=PTS-%d,fps=%s:start_time=0,scale=%d:%d:flags=area:in_color_matrix=%s:in_range=%s:out_range=pc,format=rgb24",
		c.stampChain(), from, from+count, from, c.Rate, size.X, size.Y, c.Colour.Matrix, in)
	if strings.HasPrefix(c.PixFmt, "rgb") || strings.HasPrefix(c.PixFmt, "gbr") || strings.HasPrefix(c.PixFmt, "bgr") {
		filter = fmt.Sprintf("%s,trim=start_pts=%d:end_pts=%d,setpts=PTS-%d,fps=%s:start_time=0,scale=%d:%d:flags=area,format=rgb24",
			c.stampChain(), from, from+count, from, c.Rate, size.X, size.Y)
	}
	args := append([]string{"-hide_banner", "-v", "level+error", "-nostats", "-nostdin", "-copyts"}, t.inputArgs(c, c.seekTo(from))...)
	args = append(args, "-map", "0:v:0", "-an", "-sn", "-dn", "-vf", filter, "-fps_mode", "passthrough", "-f", "rawvideo", "-pix_fmt", "rgb24", "pipe:1")
	err = t.run(ctx, process{
		program: t.FFmpeg, args: args, what: fmt.Sprintf("media: decoding %s failed", c.Path),
		line: func(line string) {
			if trouble == "" && isDecodeTrouble(line) {
				trouble = strings.TrimSpace(line)
			}
		},
		stdout: func(r io.Reader) error {
			buf := make([]byte, 3*size.X*size.Y)
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
	return trouble, err
}

// Damage decodes frames from, from+1, …, count of them, one at a time, and
// returns an Error that names the first frame that the decoder had to make up,
// nil when there is none. It is slow: run it where Survey or Complaint found
// trouble.
func (t *Tools) Damage(ctx context.Context, name string, c Capture, from, count int64) error {
	plan, err := PlanOf(c.Rate, c.Rate, c.Rate.TimeOf(from), count)
	if err != nil {
		return err
	}
	at, err := t.Locate(ctx, c, from)
	if err != nil {
		return err
	}
	return t.inspect(ctx, Leg{Name: name, Capture: c}, plan, at)
}

// Complaint decodes a whole capture and returns the first complaint of the
// decoder, "" without one.
func (t *Tools) Complaint(ctx context.Context, c Capture) (trouble string, err error) {
	args := append([]string{"-hide_banner", "-v", "level+error", "-nostats", "-nostdin"}, t.inputArgs(c, fromStart)...)
	err = t.run(ctx, process{
		program: t.FFmpeg, args: append(args, "-map", "0:v:0", "-an", "-sn", "-dn", "-f", "null", "-"),
		what: fmt.Sprintf("media: decoding %s failed", c.Path),
		line: func(line string) {
			if trouble == "" && isDecodeTrouble(line) {
				trouble = strings.TrimSpace(line)
			}
		},
	})
	return trouble, err
}
