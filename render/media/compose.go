package media

import (
	"fmt"
	"image"
	"slices"
	"strconv"

	ffmpeg "github.com/u2takey/ffmpeg-go"

	"fairframe/layout"
)

// Pane is one window of one leg, placed in the output. Panes are painted in
// their order, so that a later one covers an earlier one where they overlap.
// Several panes may show one leg; a leg that no pane shows is not decoded.
type Pane struct {
	Leg    int // index of the leg
	Shot   layout.Shot
	Kernel string          // "nearest", "bicubic" or "lanczos"
	Area   image.Rectangle // in the output, even, as large as the shot's pane
}

// decoded reports whether any pane shows leg i. An overlay shows no panes.
func (c *Clip) decoded(i int) bool {
	return !c.Delivery.Alone() && slices.ContainsFunc(c.Panes, func(p Pane) bool { return p.Leg == i })
}

// checkPanes makes sure that panes and parts stand inside the output, along even
// edges, and show what there is.
func (c *Clip) checkPanes() error {
	whole := image.Rectangle{Max: c.Size}
	if len(c.Panes) == 0 {
		return fmt.Errorf("media: a clip without panes")
	}
	for i, p := range c.Panes {
		switch {
		case p.Leg < 0 || p.Leg >= len(c.Legs):
			return fmt.Errorf("media: pane %d shows capture %d of %d", i+1, p.Leg+1, len(c.Legs))
		case p.Area.Empty() || !p.Area.In(whole) || !evenly(p.Area) || p.Area.Size() != p.Shot.Pane:
			return fmt.Errorf("media: pane %d of %v stands at %v of %v", i+1, p.Shot.Pane, p.Area, c.Size)
		}
	}
	for i, p := range c.Parts {
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

// panes decodes every leg that is shown and cuts its windows.
func (g *graph) panes(captures []*ffmpeg.Stream) ([]*ffmpeg.Stream, error) {
	c := g.clip
	panes := make([]*ffmpeg.Stream, len(c.Panes))
	for i := range c.Legs {
		var shown []int
		for j, p := range c.Panes {
			if p.Leg == i {
				shown = append(shown, j)
			}
		}
		if len(shown) == 0 {
			continue
		}
		s, err := g.leg(captures[i].Get("v:0"), i)
		if err != nil {
			return nil, err
		}
		for j, s := range g.branches(s, len(shown)) {
			p := c.Panes[shown[j]]
			panes[shown[j]] = g.window(s, c.Legs[i].Capture, p.Shot, p.Kernel)
		}
	}
	return panes, nil
}

// compose joins the panes to one picture. Those that tile a rectangle from its
// upper left corner are stacked, which costs one copy; what follows is laid
// over them.
func (g *graph) compose(panes []*ffmpeg.Stream) *ffmpeg.Stream {
	areas := make([]image.Rectangle, len(panes))
	for i, p := range g.clip.Panes {
		areas[i] = p.Area
	}
	n := len(panes)
	for n > 1 && !tile(areas[:n]) {
		n--
	}
	picture := g.stack(panes[:n], areas[:n])
	base := bounds(areas[:n])
	if all := bounds(areas); base != all || base.Min != (image.Point{}) {
		// What the panes leave free is black.
		all.Min = image.Point{}
		picture = g.filter(picture, "pad", strconv.Itoa(all.Dx()), strconv.Itoa(all.Dy()), strconv.Itoa(base.Min.X), strconv.Itoa(base.Min.Y), "black")
	}
	for i := n; i < len(panes); i++ {
		picture = g.over(picture, panes[i], areas[i].Min)
	}
	return picture
}

// over lays a stream over another one.
func (g *graph) over(under, upper *ffmpeg.Stream, at image.Point) *ffmpeg.Stream {
	return g.join([]*ffmpeg.Stream{under, upper}, "overlay", strconv.Itoa(at.X), strconv.Itoa(at.Y), "shortest=1")
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

// cut parts areas into two or more groups that lie side by side (across), or
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
