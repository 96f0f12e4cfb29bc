package media

import (
	"context"
	"fmt"
	"image"
	"slices"
)

// Watch composes the clip as Render does, frame by frame with all that is drawn,
// and hands over every output picture shrunk to size by area averages, as packed
// full-range R'G'B' of 8 bits. Nothing is encoded and no sound decoded. The slice
// passed to each is used again, k counts as Lead says; an error from each ends the run and is returned.
func (t *Tools) Watch(ctx context.Context, c *Clip, size image.Point, each func(k int64, rgb []byte) error) error {
	silent := *c
	silent.Sound = Sound{}
	if err := silent.Check(); err != nil {
		return err
	}
	from, err := t.locate(ctx, &silent, false)
	if err != nil {
		return err
	}
	from.pages, err = silent.writePages()
	defer from.pages.remove()
	if err != nil {
		return err
	}
	shrink := []string{"scale", fmt.Sprint(size.X), fmt.Sprint(size.Y), "flags=area"}
	finish := append(silent.Coding().filters(SDR(), SDR().dense),
		append(shrink, "in_color_matrix=bt709", "in_range=tv", "out_range=pc"), []string{"format", "rgb24"})
	if silent.Coding().HDR() { // what costs most is done to few pixels
		finish = slices.Insert(finish, 0, shrink, []string{"format", silent.Coding().dense})
	}
	args, err := silent.arguments(from, []string{"-hide_banner", "-v", "level+error", "-nostats", "-nostdin", "-copyts"},
		[]string{"-fps_mode", "passthrough", "-f", "rawvideo", "-pix_fmt", "rgb24"}, finish, "pipe:1")
	if err != nil {
		return err
	}
	var got int64
	p := process{program: t.FFmpeg, args: args, what: "media: composing the clip failed",
		stdout: eachPicture("the clip", 3*size.X*size.Y, 0, func(k int64, rgb *[]byte) error {
			got = k + 1
			return each(k-silent.Lead(), *rgb)
		})}
	if silent.drawsLive() {
		p.stdin = silent.draw
	}
	if err := t.run(ctx, p); err != nil {
		return err
	}
	if got != silent.Total() {
		return fmt.Errorf("media: the clip has %s of the %d that it should have", frames(got), silent.Total())
	}
	return nil
}
