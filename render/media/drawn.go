package media

import (
	"fmt"
	"image"
	"io"
	"strconv"

	ffmpeg "github.com/u2takey/ffmpeg-go"
)

// Kind says how a part joins the picture, and how its pixels are drawn.
type Kind int

const (
	Opaque Kind = iota // yuv420p, in place of what is there
	Alpha              // yuva420p with straight alpha, over what is there
)

// Part is a piece of the picture that Go draws. Parts are laid over the panes in
// their order; an opaque one as wide as the output that begins where the panes
// end is joined to them from below, which costs nothing.
//
// However many parts there are, ffmpeg reads one generated input: the parts are
// packed into one sheet, and cut apart in the graph.
type Part struct {
	Kind Kind
	Area image.Rectangle // in the output, even
	// Draw writes the part at output frame k, all of it, into dst, which holds
	// PartBytes(Kind, Area.Size()) bytes: packed planes in ffmpeg's order. It is
	// called for one frame after the other, by one goroutine.
	Draw func(dst []byte, k int)
	// Still says that the part looks the same in all frames: it is drawn once.
	Still bool
	// From and To bound the output frames in which a part that is still and not
	// opaque stands, [From, To); 0 is the scene's start and its end.
	From, To int64

	plain bool // its codes are no colours, see Map
}

// filed reports whether a part comes from a file, which spares the pipe a picture
// a frame.
func (p Part) filed() bool { return p.Still && p.Kind == Alpha }

// sorted parts the live from the filed, in their order. The map, if there is one,
// is the first of the live. The parts of an overlay are all live.
func (c *Clip) sorted() (live, filed []Part) {
	if c.Delivery.Alone() {
		return c.Parts, nil
	}
	parts := c.parts()
	if c.Map != nil {
		live = append(live, c.Map.part(c.Panes[0].Area))
	}
	for _, p := range parts {
		if p.filed() {
			filed = append(filed, p)
		} else {
			live = append(live, p)
		}
	}
	return live, filed
}

// parts are the clip's parts, and before them, where ffmpeg cannot draw them, its
// dividers: drawbox knows 8 bits alone.
func (c *Clip) parts() []Part {
	if c.coding().bytes == 1 {
		return c.Parts
	}
	var list []Part
	for _, bar := range c.Dividers {
		list = append(list, divider(bar))
	}
	return append(list, c.Parts...)
}

// divider draws a bar, whose edges need not be even.
func divider(bar image.Rectangle) Part {
	area := image.Rect(bar.Min.X&^1, bar.Min.Y&^1, (bar.Max.X+1)&^1, (bar.Max.Y+1)&^1)
	return Part{Kind: Alpha, Area: area, Still: true, Draw: func(dst []byte, _ int) {
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

// drawsLive reports whether ffmpeg reads from its standard input.
func (c *Clip) drawsLive() bool {
	live, _ := c.sorted()
	return len(live) > 0
}

// PartBytes returns the size of a part as it is drawn.
func PartBytes(k Kind, size image.Point) int {
	n := size.X * size.Y
	if k == Alpha {
		return n * 5 / 2
	}
	return n * 3 / 2
}

// sheet is the one generated picture. A lone part is its own sheet.
type sheet struct {
	to    coding
	inks  *inks // nil: the parts' own codes are the sheet's
	size  image.Point
	alpha bool
	at    []image.Rectangle // of each part
}

// sheetOf packs parts into rows, in their order. The sheet is as wide as the
// widest of them.
func sheetOf(parts []Part, to coding) sheet {
	s := sheet{to: to}
	if to.bytes > 1 {
		s.inks = newInks(to)
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

func (s sheet) bytes() int {
	k := Opaque
	if s.alpha {
		k = Alpha
	}
	return PartBytes(k, s.size) * s.to.bytes
}

// put brings a drawn part to its place in the sheet.
func (s sheet) put(dst []byte, i int, p Part, src []byte) {
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

// draw writes the sheet's pictures, one an output frame.
func (c *Clip) draw(w io.Writer) error {
	if c.Delivery.Alone() {
		return c.drawAlone(w)
	}
	parts, _ := c.sorted()
	s := sheetOf(parts, c.coding())
	buf := make([]byte, s.bytes())
	own := make([][]byte, len(parts))
	if len(parts) > 1 || s.inks != nil {
		for i, p := range parts {
			own[i] = make([]byte, PartBytes(p.Kind, p.Area.Size()))
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

// drawn are the streams of what Go draws: of the map, if there is one, and of each
// of the clip's parts.
type drawn struct {
	codes *ffmpeg.Stream
	parts []*ffmpeg.Stream
}

// draws reads what Go draws and cuts it apart.
func (g *graph) draws() drawn {
	var d drawn
	live, filed := g.clip.sorted()
	s, streams := g.sheet("pipe:0", "pipe", live)
	for i, p := range live {
		if s.at[i].Size() != s.size {
			streams[i] = g.filter(streams[i], "crop", crop(s.at[i])...)
		}
		if p.Kind == Opaque && s.alpha {
			streams[i] = g.filter(streams[i], "format", g.to.pixels)
		}
	}
	if g.clip.Map != nil {
		d.codes, streams = streams[0], streams[1:]
	}
	f, stills := g.sheet(fileURL(g.sources.pages.parts), protocols, filed)
	for _, p := range g.clip.parts() {
		if p.filed() {
			n := len(filed) - len(stills)
			d.parts = append(d.parts, g.filter(stills[0], "crop", crop(f.at[n])...))
			stills = stills[1:]
			continue
		}
		d.parts = append(d.parts, streams[0])
		streams = streams[1:]
	}
	return d
}

// lay lays a part over the picture.
func (g *graph) lay(picture, one *ffmpeg.Stream, p Part) *ffmpeg.Stream {
	if !p.filed() {
		return g.over(picture, one, p.Area.Min)
	}
	return g.standing(picture, one, p)
}

// sheet adds the input from which parts are cut, and a branch of it for each.
func (g *graph) sheet(path, protocols string, parts []Part) (sheet, []*ffmpeg.Stream) {
	s := sheetOf(parts, g.to)
	if len(parts) == 0 {
		return s, nil
	}
	g.inputs++
	drawn := ffmpeg.Input(path, ffmpeg.KwArgs{
		"protocol_whitelist": protocols,
		"f":                  "rawvideo",
		"pix_fmt":            s.to.format(s.alpha),
		"video_size":         fmt.Sprintf("%dx%d", s.size.X, s.size.Y),
		"framerate":          g.clip.Rate.String(),
	}).Get("v:0")
	drawn = g.filter(drawn, "setpts", "N")
	drawn = g.tagged(drawn)
	drawn = g.filter(drawn, "setsar", "1")
	return s, g.branches(drawn, len(parts))
}

// standing lays a part from a file over the picture for its stretch of the scene:
// its stream begins and ends there.
func (g *graph) standing(picture, one *ffmpeg.Stream, p Part) *ffmpeg.Stream {
	from, to := p.From, p.To
	if to == 0 || to > g.clip.Frames {
		to = g.clip.Frames
	}
	one = g.filter(one, "loop", fmt.Sprintf("loop=%d", to-from-1), "size=1")
	one = g.filter(one, "setpts", fmt.Sprintf("N+%d", from))
	return g.overlay(picture, one, p.Area.Min, "eof_action=pass")
}

// filedPicture is the sheet of the parts that come from a file.
func (c *Clip) filedPicture() []byte {
	_, parts := c.sorted()
	if len(parts) == 0 {
		return nil
	}
	s := sheetOf(parts, c.coding())
	buf := make([]byte, s.bytes())
	for i, p := range parts {
		own := make([]byte, PartBytes(p.Kind, p.Area.Size()))
		p.Draw(own, 0)
		s.put(buf, i, p, own)
	}
	return buf
}

// at returns the part that draws at frame 0 what p draws at frame k; ok says that
// p stands there.
func (p Part) at(k int64) (moved Part, ok bool) {
	if p.filed() && (k < p.From || p.To > 0 && k >= p.To) {
		return p, false
	}
	p.Still, p.From, p.To = false, 0, 0
	return p.moved(k), true
}

// moved returns the part that draws at frame 0 what p draws at frame k.
func (p Part) moved(k int64) Part {
	draw := p.Draw
	p.Draw = func(dst []byte, _ int) { draw(dst, int(k)) }
	return p
}

func crop(r image.Rectangle) []string {
	return []string{strconv.Itoa(r.Dx()), strconv.Itoa(r.Dy()), strconv.Itoa(r.Min.X), strconv.Itoa(r.Min.Y)}
}
