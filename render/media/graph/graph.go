package graph

import (
	"fmt"
	"image"
	"slices"
	"strconv"
	"strings"

	ffmpeg "github.com/u2takey/ffmpeg-go"

	"fairframe/layout"
	"fairframe/render/media"
)

// graph builds a clip's ffmpeg graph and counts what it has built, because the
// library that prints it identifies nodes by a weak hash and may merge two.
type graph struct {
	clip    *Clip
	to      media.Coding // the clip's
	sources Sources
	inputs  int
	filters int
}

// Sources say where a run reads what a clip only describes, and what was found
// out for it before.
type Sources struct {
	Seeks []media.Seek // each input's position
	Sound []media.Seek // that of its sound, where it is heard
	Pages pageFiles
	Gain  float64 // of the sound, in decibels
}

// filter applies a filter with positional arguments, whose order the library
// keeps. The text is the program's own; no user's text ever enters a graph.
func (g *graph) filter(s *ffmpeg.Stream, name string, args ...string) *ffmpeg.Stream {
	g.filters++
	return s.Filter(name, ffmpeg.Args(args))
}

// apply applies one filter after the other.
func (g *graph) apply(s *ffmpeg.Stream, list ...[]string) *ffmpeg.Stream {
	for _, f := range list {
		s = g.filter(s, f[0], f[1:]...)
	}
	return s
}

// tagged marks a stream as being in the clip's coding.
func (g *graph) tagged(s *ffmpeg.Stream) *ffmpeg.Stream { return g.filter(s, "setparams", g.to.Tags()) }

func (g *graph) join(streams []*ffmpeg.Stream, name string, args ...string) *ffmpeg.Stream {
	g.filters++
	return ffmpeg.Filter(streams, name, ffmpeg.Args(args))
}

// input adds input i's capture as input n, read from a position. The queue size, of
// no weight here, makes each input different from all others, so that two inputs
// of one file stay two.
func (g *graph) input(i int, at media.Seek, n int) *ffmpeg.Stream {
	g.inputs++
	options := ffmpeg.KwArgs{
		"protocol_whitelist": media.Protocols,
		"format_whitelist":   media.Containers,
		"noaccurate_seek":    "",
		"err_detect:v":       media.DecoderChecks,
		"err_detect:a":       media.DecoderChecks,
		"thread_queue_size":  strconv.Itoa(64 + n),
	}
	if at > media.FromStart {
		options["ss"] = at.String()
	}
	return ffmpeg.Input(media.FileURL(g.clip.Inputs[i].Capture.Path), options)
}

// CommandLine returns ffmpeg's whole command line for the clip, from the global
// options to the output's name.
func (c *Clip) CommandLine(from Sources, global, output []string, finish [][]string, name string) (args []string, err error) {
	return c.command(from, global, output, name, func(g *graph) ([]*ffmpeg.Stream, error) {
		picture, err := g.picture()
		if err != nil {
			return nil, err
		}
		if finish == nil {
			picture = g.deliver(picture)
		}
		streams := []*ffmpeg.Stream{g.apply(picture, finish...)}
		if c.Sound.Heard() {
			streams = append(streams, g.sound())
		}
		return streams, nil
	})
}

// SoundCommandLine returns ffmpeg's whole command line for the clip's sound, with
// further filters.
func (c *Clip) SoundCommandLine(from Sources, global, output []string, name string, filters ...[]string) ([]string, error) {
	return c.command(from, global, output, name, func(g *graph) ([]*ffmpeg.Stream, error) {
		return []*ffmpeg.Stream{g.apply(g.sound(), filters...)}, nil
	})
}

// command returns the command line of a graph that build makes of the clip.
func (c *Clip) command(from Sources, global, output []string, name string, build func(*graph) ([]*ffmpeg.Stream, error)) (args []string, err error) {
	defer func() {
		if p := recover(); p != nil {
			args, err = nil, fmt.Errorf("media: building the graph: %v", p)
		}
	}()
	g := &graph{clip: c, to: c.Coding(), sources: from}
	streams, err := build(g)
	if err != nil {
		return nil, err
	}
	built := ffmpeg.Output(streams, name).GetArgs()
	if err := g.verify(built); err != nil {
		return nil, err
	}
	// Our own output arguments go before the name, which comes last.
	return slices.Concat(global, built[:len(built)-1], output, built[len(built)-1:]), nil
}

// picture puts the pictures of a clip together.
func (g *graph) picture() (*ffmpeg.Stream, error) {
	picture := g.overlayPicture
	if !g.clip.Delivery.OverlayOnly {
		picture = g.composed
	}
	s, err := picture()
	if err != nil {
		return nil, err
	}
	return g.tagged(g.pages(s)), nil
}

// composed is the scene's picture: the panes, and what is drawn over them.
func (g *graph) composed() (*ffmpeg.Stream, error) {
	c := g.clip
	captures := make([]*ffmpeg.Stream, len(c.Inputs))
	for i := range c.Inputs {
		if c.Decodes(i) {
			captures[i] = g.input(i, g.sources.Seeks[i], i)
		}
	}
	panes, err := g.panes(captures)
	if err != nil {
		return nil, err
	}
	return g.compose(panes, g.draws()), nil
}

// frames takes a capture's frames by number and spreads them over the output's
// frames.
func (g *graph) frames(s *ffmpeg.Stream, i int) (*ffmpeg.Stream, error) {
	l := g.clip.Inputs[i]
	p, err := g.clip.FrameMap(i)
	if err != nil {
		return nil, err
	}
	return g.apply(s, p.Filters(l.Capture, "fps@"+fpsFilter(i), g.clip.Rate)...), nil
}

// fpsFilter is the name of an input's frame-rate filter, by which its counts are
// found in the log.
func fpsFilter(i int) string { return "leg" + strconv.Itoa(i) }

// window cuts and scales what a shot shows of a capture. The order is crop,
// scale, crop: the first keeps the work small, the last takes off the margin
// that the kernel needed. What costs most, the conversion of wide gamut and high
// dynamic range, comes after them.
func (g *graph) window(s *ffmpeg.Stream, c media.Capture, shot layout.Shot, kernel string) *ffmpeg.Stream {
	convert, format, needed := c.CodeOptions(g.to)
	s = g.square(s, c, kernel)
	scaled := shot.Scaled != shot.Crop.Size()
	canvas := image.Rectangle{Max: layout.Canvas(c.DisplaySize())}
	there := shot.Crop.Intersect(canvas)
	if there != canvas {
		s = g.filter(s, "crop", crop(there)...)
	}
	if there != shot.Crop {
		s = g.lengthened(s, there.Size(), shot.Crop.Size())
	}
	if scaled || needed {
		s = g.filter(s, "scale", strconv.Itoa(shot.Scaled.X), strconv.Itoa(shot.Scaled.Y),
			"flags="+kernels[kernel]+"+accurate_rnd+full_chroma_int+full_chroma_inp", convert)
		s = g.filter(s, "format", format)
	}
	if shot.Keep.Size() != shot.Scaled {
		s = g.filter(s, "crop", crop(shot.Keep)...)
	}
	s = g.apply(s, c.Colour.Filters(g.to, g.to.Pixels)...)
	if shot.Bars() {
		s = g.filter(s, "pad", strconv.Itoa(shot.Pane.X), strconv.Itoa(shot.Pane.Y), strconv.Itoa(shot.At.X), strconv.Itoa(shot.At.Y), "black")
	}
	s = g.filter(s, "setsar", "1")
	return g.tagged(s)
}

// kernels are ffmpeg's words for the resampling kernels.
var kernels = map[string]string{"nearest": "neighbor", "bicubic": "bicubic", "lanczos": "lanczos"}

// verify compares what the library printed with what was built.
func (g *graph) verify(args []string) error {
	inputs, chains := 0, 0
	for i, a := range args {
		switch a {
		case "-i":
			inputs++
		case "-filter_complex":
			chains = strings.Count(args[i+1], ";") + 1
		}
	}
	if inputs != g.inputs || chains != g.filters {
		return fmt.Errorf("media: the graph has %d inputs and %d filters instead of %d and %d", inputs, chains, g.inputs, g.filters)
	}
	return nil
}
