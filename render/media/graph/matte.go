package graph

import (
	"fmt"
	"image"
	"strings"

	ffmpeg "github.com/u2takey/ffmpeg-go"
)

// Matte says which of a clip's panes, which all stand in the same place, is seen
// where, and where the lines between them run. Go draws it, as a plane of codes
// as large as the panes: with n panes, pane i is seen where the code is i*254/(n-1), rounded.
// Across a line the code grows evenly from one pane's to the next one's, over
// Reach() pixels on each side of the line's middle.
type Matte struct {
	Half  int // half the width of the lines, in pixels; 0: no lines
	Draw  func(dst []byte, k int)
	Still bool // it looks the same in all frames
}

// Reach is how far from a line's middle its slope reaches, in pixels.
func (m *Matte) Reach() int { return m.Half + 1 }

// MatteCode is the code of pane i of n.
func MatteCode(i, n int) int { return (2*254*i + n - 1) / (2 * (n - 1)) }

// layer is the map as something drawn: codes in the place of luma.
func (m *Matte) layer(area image.Rectangle) Layer {
	n := area.Dx() * area.Dy()
	return Layer{Kind: Opaque, Area: area, Still: m.Still, plain: true, Draw: func(dst []byte, k int) {
		m.Draw(dst[:n], k)
		for i := range dst[n:] {
			dst[n+i] = 128
		}
	}}
}

// matted lays the panes over each other through masks made of the map, and the
// lines over them. It is alpha and overlay because maskedmerge divides by a power
// of two and so would change what the mask shows fully.
func (g *graph) matted(panes []*ffmpeg.Stream, codes *ffmpeg.Stream) *ffmpeg.Stream {
	m, n := g.clip.Matte, len(panes)
	reach := m.Reach()
	deep := g.to.Bytes == 2
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
		from, to := g.to.Code(MatteCode(i, n)), g.to.Code(MatteCode(i+1, n))
		return fmt.Sprintf("((val-%d)*%d/%d-%d)", from, 2*reach, to-from, reach)
	}
	first := g.branches(panes[0], 1+lines)
	picture := first[0]
	lay := func(upper, mask *ffmpeg.Stream, alpha string) {
		if deep { // which alphamerge does not know
			mask = g.filter(mask, "lutyuv", "y="+alpha+"*1023+0.5")
			upper = g.join([]*ffmpeg.Stream{upper, mask}, "mergeplanes", "format="+g.to.Alpha, "map1p=1", "map2p=2", "map3s=1")
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
		grey := g.filter(first[1], "lutyuv", fmt.Sprintf("y=%d", newHDRPalette(g.to).of(dividerLuma, 128, 128).y), "u=(minval+maxval)/2", "v=(minval+maxval)/2")
		lay(grey, masks[n-1], "min(1,"+strings.Join(all, "+")+")")
	}
	return g.tagged(picture)
}
