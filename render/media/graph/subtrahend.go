package graph

import (
	"fmt"

	ffmpeg "github.com/u2takey/ffmpeg-go"

	"fairframe/layout"
)

// The ways in which panes of several captures become one picture.

// Subtrahend is what is taken from a pane's window: another input's window of the same
// size. The pane shows the absolute difference, times the gain; what does not
// fit the range is cut.
type Subtrahend struct {
	Input  int
	Glide  *layout.Glide // as of a Pane
	Shot   layout.Shot
	Kernel string
	Gain   layout.Fraction
	// Colour takes the difference of each of R'G'B'; otherwise it is of the luma
	// alone, and grey.
	Colour bool
}

// subtract builds a difference.
func (g *graph) subtract(a, b *ffmpeg.Stream, l *Subtrahend) *ffmpeg.Stream {
	gain := fmt.Sprintf("val*%d/%d", l.Gain.Num, l.Gain.Den)
	pair := []*ffmpeg.Stream{a, b}
	if !l.Colour {
		s := g.join(pair, "blend", "all_mode=difference", "shortest=1")
		// minval and maxval are the ends of the limited range.
		return g.filter(s, "lutyuv", "y=min(maxval,minval+"+gain+")", "u=(minval+maxval)/2", "v=(minval+maxval)/2")
	}
	for i := range pair {
		pair[i] = g.filter(pair[i], "scale", "in_color_matrix="+g.to.Matrix, "in_range=tv", "out_range=pc", "flags=bicubic+accurate_rnd+full_chroma_int+full_chroma_inp")
		pair[i] = g.filter(pair[i], "format", g.to.RGBPixels)
	}
	s := g.join(pair, "blend", "all_mode=difference", "shortest=1")
	s = g.filter(s, "lutrgb", "r=min(maxval,"+gain+")", "g=min(maxval,"+gain+")", "b=min(maxval,"+gain+")")
	s = g.filter(s, "scale", "in_range=pc", "out_color_matrix="+g.to.Matrix, "out_range=tv", "flags=bicubic+accurate_rnd+full_chroma_int+full_chroma_inp")
	s = g.filter(s, "format", g.to.Pixels)
	return g.tagged(s)
}
