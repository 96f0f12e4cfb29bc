package graph

import (
	"fmt"
	"image"
	"slices"
	"strconv"

	ffmpeg "github.com/u2takey/ffmpeg-go"

	"fairframe/layout"
)

// Pane is one window of one input, placed in the output. Panes are painted in
// their order, so that a later one covers an earlier one where they overlap.
// Several panes may show one input; an input that no pane shows is not decoded.
type Pane struct {
	Input      int // index of the input
	Shot       layout.Shot
	Kernel     string          // "nearest", "bicubic" or "lanczos"
	Area       image.Rectangle // in the output, even, as large as the shot's pane
	Subtrahend *Subtrahend     // what is taken from it; nil: nothing
	Turn       *Turn           // when it is shown; nil: always
	// Glide moves the window over the clip's frames; nil: it stands as Shot says,
	// of which otherwise the pane alone counts.
	Glide *layout.Glide
}

// inputs are the inputs that a pane shows.
func (p Pane) inputs() []int {
	if p.Subtrahend == nil {
		return []int{p.Input}
	}
	return []int{p.Input, p.Subtrahend.Input}
}

// Decodes reports whether any pane shows input i. An overlay shows no panes.
func (c *Clip) Decodes(i int) bool {
	return !c.Delivery.OverlayOnly && slices.ContainsFunc(c.Panes, func(p Pane) bool { return slices.Contains(p.inputs(), i) })
}

// checkPanes makes sure that panes and layers stand inside the output, along even
// edges, and show what there is.
func (c *Clip) checkPanes() error {
	whole := image.Rectangle{Max: c.Size}
	if len(c.Panes) == 0 {
		return fmt.Errorf("media: a clip without panes")
	}
	for i, p := range c.Panes {
		for _, leg := range p.inputs() {
			if leg < 0 || leg >= len(c.Inputs) {
				return fmt.Errorf("media: pane %d shows capture %d of %d", i+1, leg+1, len(c.Inputs))
			}
		}
		switch {
		case p.Subtrahend != nil && p.Subtrahend.Shot.Pane != p.Shot.Pane:
			return fmt.Errorf("media: pane %d compares pictures of %v and %v", i+1, p.Shot.Pane, p.Subtrahend.Shot.Pane)
		case p.Area.Empty() || !p.Area.In(whole) || !evenly(p.Area) || p.Area.Size() != p.Shot.Pane:
			return fmt.Errorf("media: pane %d of %v stands at %v of %v", i+1, p.Shot.Pane, p.Area, c.Size)
		}
	}
	if err := c.checkTurns(); err != nil {
		return err
	}
	if c.Matte != nil && (len(c.Panes) < 2 || slices.ContainsFunc(c.Panes, func(p Pane) bool { return p.Area != c.Panes[0].Area })) {
		return fmt.Errorf("media: a map of %d panes that do not share one place", len(c.Panes))
	}
	for i, p := range c.Layers {
		if p.Area.Empty() || !p.Area.In(whole) || !evenly(p.Area) {
			return fmt.Errorf("media: part %d stands at %v of %v", i+1, p.Area, c.Size)
		}
		if p.From < 0 || p.From >= c.Frames || p.To != 0 && p.To <= p.From {
			return fmt.Errorf("media: part %d stands from frame %d to %d of %d", i+1, p.From, p.To, c.Frames)
		}
	}
	return nil
}

// evenly reports whether r lies along the grid of 4:2:0 colour.
func evenly(r image.Rectangle) bool { return (r.Min.X|r.Min.Y|r.Max.X|r.Max.Y)&1 == 0 }

// branches returns n streams of one: itself, or the outputs of a split.
func (g *graph) branches(s *ffmpeg.Stream, n int) []*ffmpeg.Stream {
	if n == 1 {
		return []*ffmpeg.Stream{s}
	}
	g.filters++
	node := s.Split()
	list := make([]*ffmpeg.Stream, n)
	for i := range list {
		// The library tells nodes apart by a sum of weak hashes, which labels that
		// differ in their last character alone would defeat.
		list[i] = node.Get(strconv.Itoa(i) + "branch")
	}
	return list
}

// panes decodes every input that is shown, once, and cuts its windows.
func (g *graph) panes(captures []*ffmpeg.Stream) ([]*ffmpeg.Stream, error) {
	c := g.clip
	type use struct {
		pane int
		less bool
	}
	panes, less := make([]*ffmpeg.Stream, len(c.Panes)), make([]*ffmpeg.Stream, len(c.Panes))
	for i := range c.Inputs {
		var uses []use
		for j, p := range c.Panes {
			if p.Input == i {
				uses = append(uses, use{j, false})
			}
			if p.Subtrahend != nil && p.Subtrahend.Input == i {
				uses = append(uses, use{j, true})
			}
		}
		if len(uses) == 0 {
			continue
		}
		s, err := g.frames(captures[i].Get("v:0"), i)
		if err != nil {
			return nil, err
		}
		for n, s := range g.branches(s, len(uses)) {
			j := uses[n].pane
			p := c.Panes[j]
			take, into := p, panes
			if uses[n].less {
				take, into = Pane{Shot: p.Subtrahend.Shot, Glide: p.Subtrahend.Glide, Kernel: p.Subtrahend.Kernel}, less
			}
			if take.Glide != nil { // it counts its frames, so none may be missing yet
				s = g.gliding(s, c.Inputs[i].Capture, take)
			}
			if p.Turn != nil {
				s = g.filter(s, "select", p.Turn.expression())
			}
			if take.Glide == nil {
				s = g.window(s, c.Inputs[i].Capture, take.Shot, take.Kernel)
			}
			into[j] = s
		}
	}
	for j, p := range c.Panes {
		if p.Subtrahend != nil {
			panes[j] = g.subtract(panes[j], less[j], p.Subtrahend)
		}
	}
	return panes, nil
}

// compose joins the panes and what is drawn to one picture. Those that tile a
// rectangle from its upper left corner are stacked, which costs one copy; what
// follows is laid over them.
func (g *graph) compose(panes []*ffmpeg.Stream, d drawnStreams) *ffmpeg.Stream {
	c := g.clip
	parts := c.allLayers()
	areas := make([]image.Rectangle, len(panes))
	for i, p := range c.Panes {
		areas[i] = p.Area
	}
	if c.Matte != nil {
		panes, areas = []*ffmpeg.Stream{g.matted(panes, d.matte)}, areas[:1]
	}
	panes, areas = g.turns(panes, areas)

	// Opaque layers that no pane lies under are tiles like the panes.
	var tiles, over []int
	for i, p := range parts {
		if p.Kind == Opaque && !slices.ContainsFunc(areas, p.Area.Overlaps) {
			tiles = append(tiles, i)
		} else {
			over = append(over, i)
		}
	}
	base := func(n int) ([]*ffmpeg.Stream, []image.Rectangle) {
		list, where := slices.Clone(panes[:n]), slices.Clone(areas[:n])
		for _, i := range tiles {
			list, where = append(list, d.layers[i]), append(where, parts[i].Area)
		}
		return list, where
	}
	n := len(panes)
	list, where := base(n)
	for n > 1 && !tile(where) {
		n--
		list, where = base(n)
	}
	if !tile(where) { // the layers do not fit to the panes
		over, tiles = make([]int, len(parts)), nil
		for i := range over {
			over[i] = i
		}
		for n = len(panes); n > 1 && !tile(areas[:n]); n-- {
		}
		list, where = base(n)
	}
	picture := g.stack(list, where)
	all, stood := bounds(append(slices.Clone(areas), where...)), bounds(where)
	if stood != all || stood.Min != (image.Point{}) {
		// What the panes leave free is black.
		all.Min = image.Point{}
		picture = g.filter(picture, "pad", strconv.Itoa(all.Dx()), strconv.Itoa(all.Dy()), strconv.Itoa(stood.Min.X), strconv.Itoa(stood.Min.Y), "black")
	}
	for i := n; i < len(panes); i++ {
		picture = g.over(picture, panes[i], areas[i].Min)
	}
	for _, bar := range c.Dividers {
		if g.to.Bytes > 1 {
			break // they are layers
		}
		// Grey has the same code in every matrix; drawbox knows only BT.601.
		picture = g.filter(picture, "drawbox", strconv.Itoa(bar.Min.X), strconv.Itoa(bar.Min.Y),
			strconv.Itoa(bar.Dx()), strconv.Itoa(bar.Dy()), "0x161616", "fill")
	}
	for _, i := range over {
		picture = g.lay(picture, d.layers[i], parts[i])
	}
	return picture
}

// over lays a stream over another one.
func (g *graph) over(under, upper *ffmpeg.Stream, at image.Point) *ffmpeg.Stream {
	return g.overlay(under, upper, at, "shortest=1")
}

// overlay is the filter of that name, in the clip's depth.
func (g *graph) overlay(under, upper *ffmpeg.Stream, at image.Point, end string) *ffmpeg.Stream {
	args := []string{strconv.Itoa(at.X), strconv.Itoa(at.Y), end}
	if g.to.Over != "" {
		args = append(args, "format="+g.to.Over)
	}
	return g.join([]*ffmpeg.Stream{under, upper}, "overlay", args...)
}

// stack joins streams whose areas tile a rectangle.
func (g *graph) stack(s []*ffmpeg.Stream, areas []image.Rectangle) *ffmpeg.Stream {
	if len(s) == 1 {
		return s[0]
	}
	groups, across := cut(areas)
	list := make([]*ffmpeg.Stream, len(groups))
	for i, group := range groups {
		var streams []*ffmpeg.Stream
		var rest []image.Rectangle
		for _, j := range group {
			streams, rest = append(streams, s[j]), append(rest, areas[j])
		}
		list[i] = g.stack(streams, rest)
	}
	name := "vstack"
	if across {
		name = "hstack"
	}
	return g.join(list, name, fmt.Sprintf("inputs=%d", len(list)), "shortest=1")
}

func bounds(areas []image.Rectangle) (all image.Rectangle) {
	for _, r := range areas {
		all = all.Union(r)
	}
	return all
}

// tile reports whether the areas fill their bounds without overlap, in rows and
// columns of rows and columns.
func tile(areas []image.Rectangle) bool {
	if len(areas) == 1 {
		return true
	}
	groups, _ := cut(areas)
	if groups == nil {
		return false
	}
	filled := 0
	all := bounds(areas)
	for _, group := range groups {
		var rest []image.Rectangle
		for _, j := range group {
			rest = append(rest, areas[j])
		}
		part := bounds(rest)
		filled += part.Dx() * part.Dy()
		if !tile(rest) || part.Dx() != all.Dx() && part.Dy() != all.Dy() {
			return false
		}
	}
	return filled == all.Dx()*all.Dy()
}

// cut divides areas into two or more groups that lie side by side (across), or
// one under the other, by straight cuts through all of them. It returns nil
// where there is no such cut.
func cut(areas []image.Rectangle) (groups [][]int, across bool) {
	for _, across := range []bool{true, false} {
		span := func(i int) (from, to int) {
			if across {
				return areas[i].Min.X, areas[i].Max.X
			}
			return areas[i].Min.Y, areas[i].Max.Y
		}
		order := make([]int, len(areas))
		for i := range order {
			order[i] = i
		}
		slices.SortStableFunc(order, func(a, b int) int {
			x, _ := span(a)
			y, _ := span(b)
			return x - y
		})
		groups, end := [][]int{}, 0
		for i, j := range order {
			from, to := span(j)
			if i == 0 || from >= end {
				groups = append(groups, nil)
			}
			groups[len(groups)-1] = append(groups[len(groups)-1], j)
			end = max(end, to)
		}
		if len(groups) > 1 {
			return groups, across
		}
	}
	return nil, false
}
