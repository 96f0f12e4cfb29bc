package deliver

import (
	"context"
	"fmt"
	"image"
	"slices"

	"fairframe/render/media"
	"fairframe/render/media/graph"
)

// EachPicture composes the clip as Render does, frame by frame with all that is drawn,
// and hands over every output picture shrunk to size by area averages, as packed
// full-range R'G'B' of 8 bits. Nothing is encoded and no sound decoded. The slice
// passed to each is used again, k counts as Lead says; an error from each ends the run and is returned.
func EachPicture(ctx context.Context, t *media.Tools, c *graph.Clip, size image.Point, each func(k int64, rgb []byte) error) error {
	silent := *c
	silent.Sound = graph.Sound{}
	if err := silent.Check(); err != nil {
		return err
	}
	from, err := locateInputs(ctx, t, &silent, false)
	if err != nil {
		return err
	}
	from.Pages, err = silent.WritePages()
	defer from.Pages.Remove()
	if err != nil {
		return err
	}
	shrink := []string{"scale", fmt.Sprint(size.X), fmt.Sprint(size.Y), "flags=area"}
	finish := append(silent.Coding().Filters(media.SDR(), media.SDR().Dense),
		append(shrink, "in_color_matrix=bt709", "in_range=tv", "out_range=pc"), []string{"format", "rgb24"})
	if silent.Coding().HDR() { // what costs most is done to few pixels
		finish = slices.Insert(finish, 0, shrink, []string{"format", silent.Coding().Dense})
	}
	args, err := silent.CommandLine(from, media.Globals("error", "-copyts"),
		[]string{"-fps_mode", "passthrough", "-f", "rawvideo", "-pix_fmt", "rgb24"}, finish, "pipe:1")
	if err != nil {
		return err
	}
	var got int64
	p := media.Process{Args: args, What: "media: composing the clip failed",
		Stdout: media.EachPicture("the clip", 3*size.X*size.Y, 0, func(k int64, rgb *[]byte) error {
			got = k + 1
			return each(k-silent.Lead(), *rgb)
		})}
	if silent.DrawsLive() {
		p.Stdin = silent.Draw
	}
	if err := t.Run(ctx, p); err != nil {
		return err
	}
	if got != silent.Total() {
		return fmt.Errorf("media: the clip has %s of the %d that it should have", media.Frames(got), silent.Total())
	}
	return nil
}
