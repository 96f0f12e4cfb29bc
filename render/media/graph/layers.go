package graph

import (
	"fmt"
	"image"
	"io"
	"strconv"

	ffmpeg "github.com/u2takey/ffmpeg-go"

	"fairframe/render/media"
)

// LayerKind says how a layer joins the picture, and how its pixels are drawn.
type LayerKind int

const (
	Opaque LayerKind = iota // yuv420p, in place of what is there
	Alpha                   // yuva420p with straight alpha, over what is there
)

// Layer is a piece of the picture that Go draws. Layers are laid over the panes in
// their order; an opaque one as wide as the output that begins where the panes
// end is joined to them from below, which costs nothing.
//
// However many layers there are, ffmpeg reads one generated input: the layers are
// packed into one atlas, and cut apart in the graph.
type Layer struct {
	Kind LayerKind
	Area image.Rectangle // in the output, even
	// Draw writes the layer at output frame k, all of it, into dst, which holds
	// PartBytes(Kind, Area.Size()) bytes: packed planes in ffmpeg's order. It is
	// called for one frame after the other, by one goroutine.
	Draw func(dst []byte, k int)
	// Still says that the layer looks the same in all frames: it is drawn once.
	Still bool
	// From and To bound the output frames in which a layer that is still and not
	// opaque stands, [From, To); 0 is the scene's start and its end.
	From, To int64

	plain bool // its codes are no colours, see Matte
}

// fromFile reports whether a layer comes from a file, which spares the pipe a picture
// a frame.
func (p Layer) fromFile() bool { return p.Still && p.Kind == Alpha }

// layersBySource separates the live from those in a file, in their order. The matte, if there is one,
// is the first of the live. The layers of an overlay are all live.
func (c *Clip) layersBySource() (live, filed []Layer) {
	if c.Delivery.OverlayOnly {
		return c.Layers, nil
	}
	parts := c.allLayers()
	if c.Matte != nil {
		live = append(live, c.Matte.layer(c.Panes[0].Area))
	}
	for _, p := range parts {
		if p.fromFile() {
			filed = append(filed, p)
		} else {
			live = append(live, p)
		}
	}
	return live, filed
}

// allLayers are the clip's layers, and before them, where ffmpeg cannot draw them, its
// dividers: drawbox knows 8 bits alone.
func (c *Clip) allLayers() []Layer {
	if c.Coding().Bytes == 1 {
		return c.Layers
	}
	var list []Layer
	for _, bar := range c.Dividers {
		list = append(list, divider(bar))
	}
	return append(list, c.Layers...)
}

// divider draws a bar, whose edges need not be even.
func divider(bar image.Rectangle) Layer {
	area := image.Rect(bar.Min.X&^1, bar.Min.Y&^1, (bar.Max.X+1)&^1, (bar.Max.Y+1)&^1)
	return Layer{Kind: Alpha, Area: area, Still: true, Draw: func(dst []byte, _ int) {
		n := area.Dx() * area.Dy()
		for i := range n {
			dst[i], dst[n*3/2+i] = dividerLuma, 0
			if image.Pt(i%area.Dx(), i/area.Dx()).Add(area.Min).In(bar) {
				dst[n*3/2+i] = 255
			}
		}
		for i := n; i < n*3/2; i++ {
			dst[i] = 128
		}
	}}
}

// DrawsLive reports whether ffmpeg reads from its standard input.
func (c *Clip) DrawsLive() bool {
	live, _ := c.layersBySource()
	return len(live) > 0
}

// LayerBytes returns the size of a layer as it is drawn.
func LayerBytes(k LayerKind, size image.Point) int {
	n := size.X * size.Y
	if k == Alpha {
		return n * 5 / 2
	}
	return n * 3 / 2
}

// atlas is the one generated picture. A lone layer is its own atlas.
type atlas struct {
	to    media.Coding
	inks  *hdrPalette // nil: the layers' own codes are the atlas's
	size  image.Point
	alpha bool
	at    []image.Rectangle // of each layer
}

// atlasOf packs layers into rows, in their order. The atlas is as wide as the
// widest of them.
func atlasOf(parts []Layer, to media.Coding) atlas {
	s := atlas{to: to}
	if to.Bytes > 1 {
		s.inks = newHDRPalette(to)
	}
	for _, p := range parts {
		s.size.X = max(s.size.X, p.Area.Dx())
		s.alpha = s.alpha || p.Kind == Alpha
	}
	at := image.Point{}
	for _, p := range parts {
		size := p.Area.Size()
		if at.X+size.X > s.size.X {
			at = image.Pt(0, s.size.Y)
		}
		s.at = append(s.at, image.Rectangle{at, at.Add(size)})
		at.X += size.X
		s.size.Y = max(s.size.Y, at.Y+size.Y)
	}
	return s
}

func (s atlas) bytes() int {
	k := Opaque
	if s.alpha {
		k = Alpha
	}
	return LayerBytes(k, s.size) * s.to.Bytes
}

// put brings a drawn layer to its place in the atlas.
func (s atlas) put(dst []byte, i int, p Layer, src []byte) {
	n := s.size.X * s.size.Y
	r := s.at[i]
	if s.inks != nil {
		s.inks.write(dst, s.size, r.Min, src, p)
		return
	}
	plane := func(dst []byte, stride, x, y, w, h int) {
		for row := range h {
			copy(dst[(y+row)*stride+x:][:w], src)
			src = src[w:]
		}
	}
	plane(dst, s.size.X, r.Min.X, r.Min.Y, r.Dx(), r.Dy())
	for c := range 2 {
		plane(dst[n+c*n/4:], s.size.X/2, r.Min.X/2, r.Min.Y/2, r.Dx()/2, r.Dy()/2)
	}
	if p.Kind == Alpha {
		plane(dst[n+n/2:], s.size.X, r.Min.X, r.Min.Y, r.Dx(), r.Dy())
	}
}

// Draw writes the atlas's pictures, one an output frame.
func (c *Clip) Draw(w io.Writer) error {
	if c.Delivery.OverlayOnly {
		return c.drawOverlay(w)
	}
	parts, _ := c.layersBySource()
	s := atlasOf(parts, c.Coding())
	buf := make([]byte, s.bytes())
	own := make([][]byte, len(parts))
	if len(parts) > 1 || s.inks != nil {
		for i, p := range parts {
			own[i] = make([]byte, LayerBytes(p.Kind, p.Area.Size()))
		}
	}
	for k := range c.Frames {
		for i, p := range parts {
			switch {
			case p.Still && k > 0:
			case own[i] == nil:
				p.Draw(buf, int(k))
			default:
				p.Draw(own[i], int(k))
				s.put(buf, i, p, own[i])
			}
		}
		if _, err := w.Write(buf); err != nil {
			return err
		}
	}
	return nil
}

// drawnStreams are the streams of what Go draws: of the matte, if there is one, and of each
// of the clip's layers.
type drawnStreams struct {
	matte  *ffmpeg.Stream
	layers []*ffmpeg.Stream
}

// draws reads what Go draws and cuts it apart.
func (g *graph) draws() drawnStreams {
	var d drawnStreams
	live, filed := g.clip.layersBySource()
	s, streams := g.atlas("pipe:0", "pipe", live)
	for i, p := range live {
		if s.at[i].Size() != s.size {
			streams[i] = g.filter(streams[i], "crop", crop(s.at[i])...)
		}
		if p.Kind == Opaque && s.alpha {
			streams[i] = g.filter(streams[i], "format", g.to.Pixels)
		}
	}
	if g.clip.Matte != nil {
		d.matte, streams = streams[0], streams[1:]
	}
	f, stills := g.atlas(media.FileURL(g.sources.Pages.layers), media.Protocols, filed)
	for _, p := range g.clip.allLayers() {
		if p.fromFile() {
			n := len(filed) - len(stills)
			d.layers = append(d.layers, g.filter(stills[0], "crop", crop(f.at[n])...))
			stills = stills[1:]
			continue
		}
		d.layers = append(d.layers, streams[0])
		streams = streams[1:]
	}
	return d
}

// lay lays a layer over the picture.
func (g *graph) lay(picture, one *ffmpeg.Stream, p Layer) *ffmpeg.Stream {
	if !p.fromFile() {
		return g.over(picture, one, p.Area.Min)
	}
	return g.standing(picture, one, p)
}

// atlas adds the input from which layers are cut, and a branch of it for each.
func (g *graph) atlas(path, protocols string, parts []Layer) (atlas, []*ffmpeg.Stream) {
	s := atlasOf(parts, g.to)
	if len(parts) == 0 {
		return s, nil
	}
	g.inputs++
	drawn := ffmpeg.Input(path, ffmpeg.KwArgs{
		"protocol_whitelist": protocols,
		"f":                  "rawvideo",
		"pix_fmt":            s.to.Format(s.alpha),
		"video_size":         fmt.Sprintf("%dx%d", s.size.X, s.size.Y),
		"framerate":          g.clip.Rate.String(),
	}).Get("v:0")
	drawn = g.filter(drawn, "setpts", "N")
	drawn = g.tagged(drawn)
	drawn = g.filter(drawn, "setsar", "1")
	return s, g.branches(drawn, len(parts))
}

// standing lays a layer from a file over the picture for its stretch of the scene:
// its stream begins and ends there.
func (g *graph) standing(picture, one *ffmpeg.Stream, p Layer) *ffmpeg.Stream {
	from, to := p.From, p.To
	if to == 0 || to > g.clip.Frames {
		to = g.clip.Frames
	}
	one = g.filter(one, "loop", fmt.Sprintf("loop=%d", to-from-1), "size=1")
	one = g.filter(one, "setpts", fmt.Sprintf("N+%d", from))
	return g.overlay(picture, one, p.Area.Min, "eof_action=pass")
}

// fileAtlas is the atlas of the layers that come from a file.
func (c *Clip) fileAtlas() []byte {
	_, parts := c.layersBySource()
	if len(parts) == 0 {
		return nil
	}
	s := atlasOf(parts, c.Coding())
	buf := make([]byte, s.bytes())
	for i, p := range parts {
		own := make([]byte, LayerBytes(p.Kind, p.Area.Size()))
		p.Draw(own, 0)
		s.put(buf, i, p, own)
	}
	return buf
}

// at returns the layer that draws at frame 0 what p draws at frame k; ok says that
// p stands there.
func (p Layer) at(k int64) (moved Layer, ok bool) {
	if p.fromFile() && (k < p.From || p.To > 0 && k >= p.To) {
		return p, false
	}
	p.Still, p.From, p.To = false, 0, 0
	return p.moved(k), true
}

// moved returns the layer that draws at frame 0 what p draws at frame k.
func (p Layer) moved(k int64) Layer {
	draw := p.Draw
	p.Draw = func(dst []byte, _ int) { draw(dst, int(k)) }
	return p
}

func crop(r image.Rectangle) []string {
	return []string{strconv.Itoa(r.Dx()), strconv.Itoa(r.Dy()), strconv.Itoa(r.Min.X), strconv.Itoa(r.Min.Y)}
}
