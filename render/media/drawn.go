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
}

// PartBytes returns the size of a drawn part.
func PartBytes(k Kind, size image.Point) int {
	n := size.X * size.Y
	if k == Alpha {
		return n * 5 / 2
	}
	return n * 3 / 2
}

// sheet is the one generated picture. A lone part is its own sheet.
type sheet struct {
	size  image.Point
	alpha bool
	at    []image.Rectangle // of each part
}

// sheetOf packs parts into rows, in their order. The sheet is as wide as the
// widest of them.
func sheetOf(parts []Part) sheet {
	var s sheet
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

func (s sheet) format() string {
	if s.alpha {
		return "yuva420p"
	}
	return "yuv420p"
}

func (s sheet) bytes() int {
	if s.alpha {
		return PartBytes(Alpha, s.size)
	}
	return PartBytes(Opaque, s.size)
}

// put copies a drawn part to its place in the sheet.
func (s sheet) put(dst []byte, i int, k Kind, src []byte) {
	n := s.size.X * s.size.Y
	r := s.at[i]
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
	if k == Alpha {
		plane(dst[n+n/2:], s.size.X, r.Min.X, r.Min.Y, r.Dx(), r.Dy())
	}
}

// draw writes the sheet's pictures, one an output frame.
func (c *Clip) draw(w io.Writer) error {
	s := sheetOf(c.Parts)
	buf := make([]byte, s.bytes())
	own := make([][]byte, len(c.Parts))
	if len(c.Parts) > 1 {
		for i, p := range c.Parts {
			own[i] = make([]byte, PartBytes(p.Kind, p.Area.Size()))
		}
	}
	for k := range c.Frames {
		for i, p := range c.Parts {
			switch {
			case p.Still && k > 0:
			case own[i] == nil:
				p.Draw(buf, int(k))
			default:
				p.Draw(own[i], int(k))
				s.put(buf, i, p.Kind, own[i])
			}
		}
		if _, err := w.Write(buf); err != nil {
			return err
		}
	}
	return nil
}

// parts joins what Go draws to the picture.
func (g *graph) parts(picture *ffmpeg.Stream) *ffmpeg.Stream {
	c := g.clip
	if len(c.Parts) == 0 {
		return picture
	}
	s := sheetOf(c.Parts)
	g.inputs++
	drawn := ffmpeg.Input("pipe:0", ffmpeg.KwArgs{
		"protocol_whitelist": "pipe",
		"f":                  "rawvideo",
		"pix_fmt":            s.format(),
		"video_size":         fmt.Sprintf("%dx%d", s.size.X, s.size.Y),
		"framerate":          c.Rate.String(),
	}).Get("v:0")
	drawn = g.filter(drawn, "setpts", "N")
	drawn = g.filter(drawn, "setparams", tags)
	drawn = g.filter(drawn, "setsar", "1")
	var areas []image.Rectangle
	for _, p := range c.Panes {
		areas = append(areas, p.Area)
	}
	whole := bounds(areas)
	for i, one := range g.branches(drawn, len(c.Parts)) {
		p := c.Parts[i]
		if s.at[i].Size() != s.size {
			one = g.filter(one, "crop", crop(s.at[i])...)
		}
		if p.Kind == Opaque && s.alpha {
			one = g.filter(one, "format", "yuv420p")
		}
		if p.Kind == Opaque && p.Area.Min == (image.Point{0, whole.Max.Y}) && p.Area.Dx() == whole.Dx() {
			picture = g.join([]*ffmpeg.Stream{picture, one}, "vstack", "inputs=2", "shortest=1")
			whole = whole.Union(p.Area)
			continue
		}
		picture = g.over(picture, one, p.Area.Min)
	}
	return picture
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
