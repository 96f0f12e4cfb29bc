package media

import (
	"context"
	"fmt"
	"image"
	"strings"

	"fairframe/render/pacing"
)

// Survey streams a capture's pictures shrunk to size by area averages, as packed
// full-range R'G'B' of 8 bits of BT.709: frames from, from+1, …, count of them. Their
// light and gamut are converted as for the clip named, or for one in SDR if that is
// nil; what is HDR after that is tone-mapped. Like DecodeSmall it goes by the stamps. trouble is
// the first complaint of the decoder, "" without one; it may concern frames
// before the stretch, see Damage. The slice passed to each is used again.
func (t *Tools) Survey(ctx context.Context, c Capture, clip *Clip, size image.Point, from, count int64, each func(n int64, rgb []byte) error) (trouble string, err error) {
	at, err := t.Locate(ctx, c, c.at(c.Rate.TimeOf(from)))
	if err != nil {
		return "", err
	}
	to := sdr()
	if clip != nil {
		to = clip.coding()
	}
	convert, format, _ := c.coded(to)
	filter := fmt.Sprintf("%s,scale=%d:%d:flags=area:%s,format=%s", c.stretchChain(from, count), size.X, size.Y, convert, format)
	for _, f := range append(append(c.Colour.into(to, to.dense), to.into(sdr(), sdr().dense)...), toRGB...) {
		filter += "," + f[0] + "=" + strings.Join(f[1:], ":")
	}
	args := append([]string{"-hide_banner", "-v", "level+info", "-nostats", "-nostdin", "-copyts"}, t.inputArgs(c, at)...)
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
// returns a *Damaged if the decoder had to make up pictures, nil otherwise. It is
// slow: run it where Survey or Complaint found trouble.
func (t *Tools) Damage(ctx context.Context, name string, c Capture, from, count int64) error {
	plan, err := c.plan(c.Rate, c.Rate.TimeOf(from), count, pacing.TimeMap{})
	if err != nil {
		return err
	}
	at, err := t.Locate(ctx, c, plan.first)
	if err != nil {
		return err
	}
	return t.inspect(ctx, Leg{Name: name, Capture: c}, plan, at)
}

// Complaint decodes a whole capture and returns the first complaint of the
// decoder, "" without one.
func (t *Tools) Complaint(ctx context.Context, c Capture) (trouble string, err error) {
	return t.complaint(ctx, c, fromStart, nil, nil)
}

// complaint decodes a capture's pictures from a position, with further global
// arguments and filters, and returns the first complaint of the decoder.
func (t *Tools) complaint(ctx context.Context, c Capture, at seek, global, filters []string) (trouble string, err error) {
	args := append(append([]string{"-hide_banner", "-v", "level+info", "-nostats", "-nostdin"}, global...), t.inputArgs(c, at)...)
	args = append(append(args, "-map", "0:v:0", "-an", "-sn", "-dn"), filters...)
	err = t.run(ctx, process{
		program: t.FFmpeg, args: append(args, "-f", "null", "-"),
		what: fmt.Sprintf("media: decoding %s failed", c.Path),
		line: func(line string) {
			if trouble == "" && isDecodeTrouble(line) {
				trouble = strings.TrimSpace(line)
			}
		},
	})
	return trouble, err
}
