package media

import (
	"fmt"
	"image"
	"slices"
	"strings"

	ffmpeg "github.com/u2takey/ffmpeg-go"

	"fairframe/layout"
)

// The ways in which panes of several captures become one picture.

// Less is what is taken from a pane's window: another leg's window of the same
// size. The pane shows the absolute difference, times the gain; what does not
// fit the range is cut.
type Less struct {
	Leg    int
	Glide  *layout.Glide // as of a Pane
	Shot   layout.Shot
	Kernel string
	Gain   layout.Fraction
	// Colour takes the difference of each of R'G'B'; otherwise it is of the luma
	// alone, and grey.
	Colour bool
}

// less builds a difference.
func (g *graph) less(a, b *ffmpeg.Stream, l *Less) *ffmpeg.Stream {
	gain := fmt.Sprintf("val*%d/%d", l.Gain.Num, l.Gain.Den)
	pair := []*ffmpeg.Stream{a, b}
	if !l.Colour {
		s := g.join(pair, "blend", "all_mode=difference", "shortest=1")
		// minval and maxval are the ends of the limited range.
		return g.filter(s, "lutyuv", "y=min(maxval,minval+"+gain+")", "u=(minval+maxval)/2", "v=(minval+maxval)/2")
	}
	for i := range pair {
		pair[i] = g.filter(pair[i], "scale", "in_color_matrix="+g.to.Matrix, "in_range=tv", "out_range=pc", "flags=bicubic+accurate_rnd+full_chroma_int+full_chroma_inp")
		pair[i] = g.filter(pair[i], "format", g.to.rgb)
	}
	s := g.join(pair, "blend", "all_mode=difference", "shortest=1")
	s = g.filter(s, "lutrgb", "r=min(maxval,"+gain+")", "g=min(maxval,"+gain+")", "b=min(maxval,"+gain+")")
	s = g.filter(s, "scale", "in_range=pc", "out_color_matrix="+g.to.Matrix, "out_range=tv", "flags=bicubic+accurate_rnd+full_chroma_int+full_chroma_inp")
	s = g.filter(s, "format", g.to.pixels)
	return g.tagged(s)
}

// Turn says in which output frames a pane is shown. The panes of a clip that
// have turns share one place, and at any time it is one pane's turn.
type Turn struct {
	Spans []Span
	Cycle int64 // frames after which it all begins anew; 0: never
}

// Span is the output frames from From up to, but not including, To.
type Span struct{ From, To int64 }

// Shown reports whether the pane is shown at frame k.
func (t *Turn) Shown(k int64) bool {
	if t == nil {
		return true
	}
	if t.Cycle > 0 {
		k %= t.Cycle
	}
	return slices.ContainsFunc(t.Spans, func(s Span) bool { return s.From <= k && k < s.To })
}

// expression is the same for ffmpeg, in whole numbers.
func (t *Turn) expression() string {
	n := "n"
	if t.Cycle > 0 {
		n = fmt.Sprintf("mod(n,%d)", t.Cycle)
	}
	var list []string
	for _, s := range t.Spans {
		list = append(list, fmt.Sprintf("between(%s,%d,%d)", n, s.From, s.To-1))
	}
	return strings.Join(list, "+")
}

// checkTurns makes sure that of the panes with turns one is shown at any time,
// and that each has a turn within the clip.
func (c *Clip) checkTurns() error {
	var list []Pane
	for _, p := range c.Panes {
		if p.Turn != nil {
			list = append(list, p)
		}
	}
	if len(list) == 0 {
		return nil
	}
	end := c.Frames
	for _, p := range list {
		if p.Area != list[0].Area {
			return fmt.Errorf("media: panes at %v and %v take turns", p.Area, list[0].Area)
		}
		if p.Turn.Cycle > 0 {
			end = min(end, p.Turn.Cycle)
		}
	}
	for k := range end {
		n := 0
		for _, p := range list {
			if p.Turn.Shown(k) {
				n++
			}
		}
		if n != 1 {
			return fmt.Errorf("media: it is the turn of %d panes at frame %d", n, k)
		}
	}
	return nil
}

// turns joins the panes that take turns to one, in the place of the first of
// them. Each has only the frames of its turns, so that the windows of the others
// cost nothing; an overlay that is switched on and off would scale them all and
// copy the picture.
func (g *graph) turns(panes []*ffmpeg.Stream, areas []image.Rectangle) ([]*ffmpeg.Stream, []image.Rectangle) {
	var taking []*ffmpeg.Stream
	var list []*ffmpeg.Stream
	var where []image.Rectangle
	at := -1
	for i := range panes {
		if len(panes) == len(g.clip.Panes) && g.clip.Panes[i].Turn != nil {
			if at < 0 {
				at = len(list)
				list, where = append(list, nil), append(where, areas[i])
			}
			taking = append(taking, panes[i])
			continue
		}
		list, where = append(list, panes[i]), append(where, areas[i])
	}
	if at < 0 {
		return panes, areas
	}
	s := taking[0]
	if len(taking) > 1 {
		s = g.join(taking, "interleave", fmt.Sprintf("nb_inputs=%d", len(taking)))
		// It counts in microseconds; frames are counted again.
		s = g.filter(s, "settb", fmt.Sprintf("%d/%d", g.clip.Rate.Den, g.clip.Rate.Num))
		s = g.filter(s, "setpts", "N")
		// It has also lost the rate, without which the last frame has no length.
		s = g.filter(s, "fps", g.clip.Rate.String(), "start_time=0")
	}
	list[at] = s
	return list, where
}

// Map says which of a clip's panes, which all stand in the same place, is seen
// where, and where the lines between them run. Go draws it, as a plane of codes
// as large as the panes: with n panes, pane i is seen where the code is i*254/(n-1), rounded.
// Across a line the code grows evenly from one pane's to the next one's, over
// Reach() pixels on each side of the line's middle.
type Map struct {
	Half  int // half the width of the lines, in pixels; 0: no lines
	Draw  func(dst []byte, k int)
	Still bool // it looks the same in all frames
}

// Reach is how far from a line's middle its slope reaches, in pixels.
func (m *Map) Reach() int { return m.Half + 1 }

// MapCode is the code of pane i of n.
func MapCode(i, n int) int { return (2*254*i + n - 1) / (2 * (n - 1)) }

// part is the map as something drawn: codes in the place of luma.
func (m *Map) part(area image.Rectangle) Part {
	n := area.Dx() * area.Dy()
	return Part{Kind: Opaque, Area: area, Still: m.Still, plain: true, Draw: func(dst []byte, k int) {
		m.Draw(dst[:n], k)
		for i := range dst[n:] {
			dst[n+i] = 128
		}
	}}
}

// mapped lays the panes over each other through masks made of the map, and the
// lines over them. It is alpha and overlay because maskedmerge divides by a power
// of two and so would change what the mask shows fully.
func (g *graph) mapped(panes []*ffmpeg.Stream, codes *ffmpeg.Stream) *ffmpeg.Stream {
	m, n := g.clip.Map, len(panes)
	reach := m.Reach()
	deep := g.to.bytes == 2
	if !deep {
		codes = g.filter(codes, "extractplanes", "y")
	}
	lines := 0
	if m.Half > 0 {
		lines = 1
	}
	masks := g.branches(codes, n-1+lines)
	// distance from line i in pixels, -reach to reach within its slope
	distance := func(i int) string {
		from, to := g.to.code(MapCode(i, n)), g.to.code(MapCode(i+1, n))
		return fmt.Sprintf("((val-%d)*%d/%d-%d)", from, 2*reach, to-from, reach)
	}
	first := g.branches(panes[0], 1+lines)
	picture := first[0]
	lay := func(upper, mask *ffmpeg.Stream, alpha string) {
		if deep { // which alphamerge does not know
			mask = g.filter(mask, "lutyuv", "y="+alpha+"*1023+0.5")
			upper = g.join([]*ffmpeg.Stream{upper, mask}, "mergeplanes", "format="+g.to.alpha, "map1p=1", "map2p=2", "map3s=1")
			upper = g.tagged(upper)
		} else {
			mask = g.filter(mask, "lut", "c0="+alpha+"*255+0.5")
			upper = g.join([]*ffmpeg.Stream{upper, mask}, "alphamerge")
		}
		picture = g.over(picture, upper, image.Point{})
	}
	for i := 1; i < n; i++ {
		lay(panes[i], masks[i-1], "clip("+distance(i-1)+"+0.5,0,1)")
	}
	if lines > 0 {
		var all []string
		for i := range n - 1 {
			all = append(all, fmt.Sprintf("clip(%d.5-abs(%s),0,1)", m.Half, distance(i)))
		}
		grey := g.filter(first[1], "lutyuv", fmt.Sprintf("y=%d", newInks(g.to).of(dividerLuma, 128, 128).y), "u=(minval+maxval)/2", "v=(minval+maxval)/2")
		lay(grey, masks[n-1], "min(1,"+strings.Join(all, "+")+")")
	}
	return g.tagged(picture)
}
