package graph

import (
	"fmt"
	"image"
	"io"

	ffmpeg "github.com/u2takey/ffmpeg-go"
)

// An overlay is what is drawn, alone. Its pictures are put together here and not
// in the graph, so that alpha stays straight and to the code: a layer that lies
// over nothing is copied.

// drawnIn is the pixel format in which the clip's picture is put together.
func (c *Clip) drawnIn() string { return c.Coding().Format(c.Delivery.OverlayOnly) }

// drawOverlay writes the overlay's pictures, one an output frame.
func (c *Clip) drawOverlay(w io.Writer) error {
	whole := make([]byte, LayerBytes(Alpha, c.Size))
	own, drawn := make([][]byte, len(c.Layers)), make([]bool, len(c.Layers))
	for i, p := range c.Layers {
		own[i] = make([]byte, LayerBytes(p.Kind, p.Area.Size()))
	}
	for k := range c.Frames {
		blank(whole, c.Size)
		for i, p := range c.Layers {
			if p.Still && p.Kind == Alpha && (k < p.From || p.To > 0 && k >= p.To) {
				continue
			}
			if !p.Still || !drawn[i] {
				p.Draw(own[i], int(k))
				drawn[i] = true
			}
			lay(whole, c.Size, own[i], p.Kind, p.Area)
		}
		if _, err := w.Write(whole); err != nil {
			return err
		}
	}
	return nil
}

// blank makes a picture of nothing: black, and wholly transparent.
func blank(p []byte, size image.Point) {
	n := size.X * size.Y
	for i := range p[:n] {
		p[i] = 16
	}
	for i := n; i < n*3/2; i++ {
		p[i] = 128
	}
	clear(p[n*3/2:])
}

// lay puts a layer over what is there, both of straight alpha: the new alpha is
// A = a + b (1 - a), and the layer's share of the colour a / A.
func lay(dst []byte, size image.Point, src []byte, k LayerKind, area image.Rectangle) {
	n, m := size.X*size.Y, area.Dx()*area.Dy()
	w := area.Dx()
	share := func(a, b int) (weight, alpha int) {
		sum := 255*a + b*(255-a)
		if sum == 0 {
			return 0, 0
		}
		return (255*255*a + sum/2) / sum, (sum + 127) / 255
	}
	alphaOf := func(x, y int) int {
		if k == Opaque {
			return 255
		}
		return int(src[m*3/2+y*w+x])
	}
	under := func(x, y int) int { return int(dst[n*3/2+(area.Min.Y+y)*size.X+area.Min.X+x]) }
	mix := func(d *byte, s byte, weight int) { *d = byte((int(*d)*(255-weight) + int(s)*weight + 127) / 255) }
	// Colour differences first: they read the alpha that lies below.
	for y := 0; y < area.Dy(); y += 2 {
		for x := 0; x < w; x += 2 {
			a := (alphaOf(x, y) + alphaOf(x+1, y) + alphaOf(x, y+1) + alphaOf(x+1, y+1) + 2) / 4
			b := (under(x, y) + under(x+1, y) + under(x, y+1) + under(x+1, y+1) + 2) / 4
			weight, _ := share(a, b)
			if b == 0 {
				weight = 255
			}
			from, to := m+y/2*(w/2)+x/2, n+(area.Min.Y+y)/2*(size.X/2)+(area.Min.X+x)/2
			mix(&dst[to], src[from], weight)
			mix(&dst[to+n/4], src[from+m/4], weight)
		}
	}
	for y := range area.Dy() {
		for x := range w {
			a, b := alphaOf(x, y), under(x, y)
			weight, alpha := share(a, b)
			if b == 0 {
				weight = 255
			}
			to := (area.Min.Y+y)*size.X + area.Min.X + x
			mix(&dst[to], src[y*w+x], weight)
			dst[n*3/2+to] = byte(alpha)
		}
	}
}

// overlayPicture is the overlay's picture in the graph.
func (g *graph) overlayPicture() (*ffmpeg.Stream, error) {
	c := g.clip
	g.inputs++
	s := ffmpeg.Input("pipe:0", ffmpeg.KwArgs{
		"protocol_whitelist": "pipe",
		"f":                  "rawvideo",
		"pix_fmt":            "yuva420p",
		"video_size":         fmt.Sprintf("%dx%d", c.Size.X, c.Size.Y),
		"framerate":          c.Rate.String(),
	}).Get("v:0")
	s = g.filter(s, "setpts", "N")
	s = g.tagged(s)
	return g.filter(s, "setsar", "1"), nil
}
