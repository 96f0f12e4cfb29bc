package graph

import (
	"fmt"
	"image"
	"os"

	ffmpeg "github.com/u2takey/ffmpeg-go"

	"fairframe/render/media"
	"fairframe/render/scratch"
)

// pageFiles are where ffmpeg reads the still pictures of a clip, its pages and the
// layers that stand; "" where there is none.
type pageFiles struct{ opening, closing, layers string }

// WritePages writes the pages where ffmpeg can read them. What it wrote is to be
// removed, also after an error.
func (c *Clip) WritePages() (files pageFiles, err error) {
	for _, one := range []struct {
		picture []byte
		path    *string
	}{{c.PagePicture(c.Opening), &files.opening}, {c.PagePicture(c.Closing), &files.closing}, {c.fileAtlas(), &files.layers}} {
		if one.picture == nil || err != nil {
			continue
		}
		var f *os.File
		if f, err = scratch.Create("", "fairframe-page-*.part"); err != nil {
			continue
		}
		*one.path = f.Name()
		_, err = f.Write(one.picture)
		if cerr := f.Close(); err == nil {
			err = cerr
		}
	}
	if err != nil {
		err = fmt.Errorf("media: %w", err)
	}
	return files, err
}

// PagePicture is what a page shows, in the clip's codes; nil of one that is not
// there.
func (c *Clip) PagePicture(p *Page) []byte {
	if p == nil || c.Coding().Bytes == 1 {
		return p.picture()
	}
	part := Layer{Kind: Opaque, Area: image.Rectangle{Max: c.Size}}
	s := atlasOf([]Layer{part}, c.Coding())
	picture := make([]byte, s.bytes())
	s.put(picture, 0, part, p.Picture)
	return picture
}

func (p pageFiles) Remove() {
	for _, path := range []string{p.opening, p.closing, p.layers} {
		if path != "" {
			os.Remove(path)
		}
	}
}

// pages puts the opening page before the picture and the closing page after it.
// They come from files and not from a pipe: of generated inputs there can be only
// one.
func (g *graph) pages(picture *ffmpeg.Stream) *ffmpeg.Stream {
	c := g.clip
	if c.Opening == nil && c.Closing == nil {
		return picture
	}
	var all []*ffmpeg.Stream
	if c.Opening != nil {
		all = append(all, g.page(c.Opening, g.sources.Pages.opening))
	}
	all = append(all, picture)
	if c.Closing != nil {
		all = append(all, g.page(c.Closing, g.sources.Pages.closing))
	}
	picture = g.join(all, "concat", fmt.Sprintf("n=%d", len(all)), "v=1", "a=0")
	// concat counts in microseconds; frames are counted again.
	picture = g.filter(picture, "settb", fmt.Sprintf("%d/%d", c.Rate.Den, c.Rate.Num))
	return g.filter(picture, "setpts", "N")
}

func (g *graph) page(p *Page, path string) *ffmpeg.Stream {
	g.inputs++
	c := g.clip
	s := ffmpeg.Input(media.FileURL(path), ffmpeg.KwArgs{
		"protocol_whitelist": media.Protocols,
		"f":                  "rawvideo",
		"pix_fmt":            g.to.Pixels,
		"video_size":         fmt.Sprintf("%dx%d", c.Size.X, c.Size.Y),
		"framerate":          c.Rate.String(),
	}).Get("v:0")
	if c.drawnIn() != g.to.Pixels {
		s = g.filter(s, "format", c.drawnIn())
	}
	s = g.filter(s, "loop", fmt.Sprintf("loop=%d", p.Frames-1), "size=1")
	s = g.tagged(s)
	return g.filter(s, "setsar", "1")
}
