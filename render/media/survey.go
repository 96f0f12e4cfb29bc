package media

import (
	"context"
	"fmt"
	"image"
	"strings"

	"fairframe/render/pacing"
)

// Survey streams a capture's pictures shrunk to size by area averages, as packed
// full-range R'G'B' of 8 bits, converted as a clip's pictures are: frames from,
// from+1, …, count of them. Like DecodeSmall it goes by the stamps. trouble is
// the first complaint of the decoder, "" without one; it may concern frames
// before the stretch, see Damage. The slice passed to each is used again.
func (t *Tools) Survey(ctx context.Context, c Capture, size image.Point, from, count int64, each func(n int64, rgb []byte) error) (trouble string, err error) {
	at, err := t.Locate(ctx, c, from)
	if err != nil {
		return "", err
	}
	in := "tv"
	if c.Colour.Full {
		in = "pc"
	}
	filter := fmt.Sprintf("%s,scale=%d:%d:flags=area", c.stretchChain(from, count), size.X, size.Y)
	if !strings.HasPrefix(c.PixFmt, "rgb") && !strings.HasPrefix(c.PixFmt, "gbr") && !strings.HasPrefix(c.PixFmt, "bgr") {
		filter += fmt.Sprintf(":in_color_matrix=%s:in_range=%s:out_range=pc", c.Colour.Matrix, in)
	}
	filter += ",format=rgb24"
	args := append([]string{"-hide_banner", "-v", "level+error", "-nostats", "-nostdin", "-copyts"}, t.inputArgs(c, at)...)
	args = append(args, "-map", "0:v:0", "-an", "-sn", "-dn", "-vf", filter, "-fps_mode", "passthrough", "-f", "rawvideo", "-pix_fmt", "rgb24", "pipe:1")
	err = t.run(ctx, process{
		program: t.FFmpeg, args: args, what: fmt.Sprintf("media: decoding %s failed", c.Path),
		line: func(line string) {
			if trouble == "" && isDecodeTrouble(line) {
				trouble = strings.TrimSpace(line)
			}
		},
		stdout: eachPicture(c.Path, 3*size.X*size.Y, from, each),
	})
	return trouble, err
}

// Damage decodes frames from, from+1, …, count of them, one at a time, and
// returns an Error that names the first frame that the decoder had to make up,
// nil when there is none. It is slow: run it where Survey or Complaint found
// trouble.
func (t *Tools) Damage(ctx context.Context, name string, c Capture, from, count int64) error {
	plan, err := PlanOf(c.Rate, c.Rate, c.Rate.TimeOf(from), count, pacing.TimeMap{})
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
