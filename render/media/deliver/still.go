package deliver

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"

	"fairframe/render/media"
	"fairframe/render/media/graph"
)

// stillPage is a page of the clip as PNG.
func stillPage(ctx context.Context, t *media.Tools, c *graph.Clip, page *graph.Page) ([]byte, error) {
	var chain []string
	to := c.Coding()
	for _, f := range imageFilters(c) {
		chain = append(chain, f[0]+"="+strings.Join(f[1:], ":"))
	}
	args := []string{"-hide_banner", "-v", "level+error", "-nostats", "-nostdin", "-protocol_whitelist", "pipe", "-f", "rawvideo", "-pix_fmt", to.Pixels,
		"-video_size", fmt.Sprintf("%dx%d", c.Size.X, c.Size.Y), "-i", "pipe:0", "-vf", "setparams=" + to.Tags() + "," + strings.Join(chain, ",")}
	var png strings.Builder
	err := t.Run(ctx, media.Process{Args: slices.Concat(args, toPNG, []string{"pipe:1"}), What: "media: ffmpeg failed",
		Stdin:  func(w io.Writer) error { _, err := w.Write(c.PagePicture(page)); return err },
		Stdout: media.ReadInto(&png)})
	return []byte(png.String()), err
}

// Still renders output frame k alone, the very picture that Render encodes, as
// PNG in full-range RGB. Frames of the pages count as Lead says.
func Still(ctx context.Context, t *media.Tools, c *graph.Clip, k int64) ([]byte, error) {
	if err := c.Check(); err != nil {
		return nil, err
	}
	if k < -c.Lead() || k >= c.Total()-c.Lead() {
		return nil, fmt.Errorf("media: no output frame %d of %s", k, media.Frames(c.Total()))
	}
	if page := c.PageAt(k); page != nil {
		return stillPage(ctx, t, c, page)
	}
	one, err := c.OnlyFrame(k)
	if err != nil {
		return nil, err
	}
	// A still trusts the seek and counts the frame; only when it is missing is
	// the way to it searched. That is what keeps a preview quick.
	seeks := make([]media.Seek, len(one.Inputs))
	for i, l := range one.Inputs {
		seeks[i] = l.Capture.SeekTo(l.Capture.StampAt(l.Start))
	}
	png, err := renderStill(ctx, t, one, seeks)
	if err == nil || ctx.Err() != nil {
		return png, err
	}
	from, err := locateInputs(ctx, t, one, false)
	if err != nil {
		return nil, err
	}
	return renderStill(ctx, t, one, from.Seeks)
}

// toPNG are the output arguments of a still. Little compression: a preview is
// looked at and thrown away.
var toPNG = []string{"-frames:v", "1", "-fps_mode", "passthrough", "-c:v", "png", "-compression_level", "20", "-pred", "none", "-f", "image2pipe"}

// stillFilters turns the composed picture into that of a PNG.
func stillFilters(c *graph.Clip) [][]string {
	if c.Delivery.OverlayOnly {
		return [][]string{media.ToRGB()[0], {"format", "rgba"}}
	}
	return imageFilters(c)
}

// imageFilters turns the composed picture into full-range RGB for a PNG. HDR is tone-mapped
// as a whole, so that all that is in it keeps its relations.
func imageFilters(c *graph.Clip) [][]string {
	return append(c.Coding().Filters(media.SDR(), media.SDR().Dense), media.ToRGB()...)
}

func renderStill(ctx context.Context, t *media.Tools, one *graph.Clip, seeks []media.Seek) ([]byte, error) {
	args, err := one.CommandLine(graph.Sources{Seeks: seeks}, append(media.Globals("verbose", "-copyts"), one.ErrorRateArgs()...),
		toPNG, stillFilters(one), "pipe:1")
	if err != nil {
		return nil, err
	}
	watch := newWatcher(len(one.Inputs))
	var png strings.Builder
	p := media.Process{Args: args, Line: watch.line, Stdout: media.ReadInto(&png), What: "media: ffmpeg failed"}
	if one.DrawsLive() {
		p.Stdin = one.Draw
	}
	if err := t.Run(ctx, p); err != nil {
		return nil, err
	}
	if err := checkInputs(ctx, t, one, watch, seeks); err != nil {
		return nil, err
	}
	return []byte(png.String()), nil
}
