package media

import (
	"cmp"
	"context"
	"fmt"
	"image"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"time"

	"fairframe/render/pacing"
)

// Decoded says how a stretch of a capture came out of its decoder.
type Decoded struct {
	Lost    int64  // pictures that another of the same time slot took the place of
	Filled  int64  // slots without a picture, which show the one before
	Trouble string // what the decoder complained of first; "": nothing

	cut string // that it missed the end of a packet, which may be there
}

var slotLine = regexp.MustCompile(`^\[Parsed_fps.* frames in, \d+ frames out; (\d+) frames dropped, (\d+) frames duplicated`)

func (d *Decoded) line(s string) {
	if m := slotLine.FindStringSubmatch(s); m != nil {
		d.Lost, _ = strconv.ParseInt(m[1], 10, 64)
		d.Filled, _ = strconv.ParseInt(m[2], 10, 64)
	} else if missingEOI.MatchString(s) {
		d.cut = strings.TrimSpace(s)
	} else if d.Trouble == "" && IsDecodeTrouble(s) {
		d.Trouble = strings.TrimSpace(s)
	}
}

// spareThreads is how many threads DecodeVideo's decoder has beyond one a core.
// Each holds a picture.
const spareThreads = 4

// everyPicture is the chain of filters that gives every captured frame from frame
// from on, count of them (count < 0: all). first is the number of the first that
// comes out, and want how many there are; -1: that is not known.
func (c Capture) everyPicture(from, count int64) (filters string, first, want int64) {
	t := c.timing
	if t == nil {
		return c.stretchChain(from, count), from, -1
	}
	to := int64(len(t.ticks))
	if count >= 0 {
		to = min(to, from+count)
	}
	for first = from; first > 0 && c.Stamp(first) == c.Stamp(first-1); first-- {
	}
	filters = c.StampChain() + fmt.Sprintf(",trim=start_pts=%d", c.Stamp(first))
	if count >= 0 {
		for to > from && to < int64(len(t.ticks)) && t.ticks[to] == t.ticks[to-1] {
			to++
		}
		filters += fmt.Sprintf(":end_pts=%d", c.Stamp(to))
	}
	return filters, first, max(0, to-from)
}

// Request says which pictures of a capture are wanted, and in what form. The zero
// value asks for the luma of none; with Count -1 it asks for that of all.
type Request struct {
	From, Count int64 // captured frames From, From+1, …, Count of them; less than 0: to the end
	// Size is what pictures are shrunk to, by area averages. They then go by the
	// capture's Rate: picture k is the one on screen at (From+k)/Rate. The zero size
	// leaves them as they are, and those of a capture of variable rate come once each.
	Size image.Point
	// RGB asks for packed full-range R'G'B' of BT.709 instead of luma. Light and gamut
	// are converted as for a clip in this coding, and what is HDR after that is
	// tone-mapped.
	RGB *Coding
}

// filters are those that follow the ones that choose the pictures.
func (r Request) filters(c Capture) (filters string) {
	if r.RGB != nil {
		convert, format, _ := c.CodeOptions(*r.RGB)
		list := [][]string{{"scale", strconv.Itoa(r.Size.X), strconv.Itoa(r.Size.Y), "flags=area", convert}, {"format", format}}
		list = append(append(list, c.Colour.Filters(*r.RGB, r.RGB.Dense)...), r.RGB.Filters(SDR(), SDR().Dense)...)
		return Chain(append(list, ToRGB()...)...)
	}
	if !strings.HasPrefix(c.PixFmt, "yuv") {
		filters = "format=yuv444p,"
	}
	filters += "extractplanes=y"
	if r.Size != (image.Point{}) {
		filters += fmt.Sprintf(",scale=%d:%d:flags=area", r.Size.X, r.Size.Y)
	}
	return filters + ",format=gray"
}

// DecodeVideo streams the pictures of a capture that a request names, in order. It
// goes by the stamps: where the recorder dropped a frame, the one before it is given
// again. Luma is packed, 8 bit, as coded (a limited-range capture keeps its limited
// range); deeper captures are reduced to 8 bit. each may keep the slice it is given,
// if it puts another of that length in its place; otherwise it is used again for the
// next picture. An error from each ends the decoding and is returned.
func (t *Tools) DecodeVideo(ctx context.Context, c Capture, r Request, each func(n int64, picture *[]byte) error) (d Decoded, err error) {
	whole := r.Size == (image.Point{})
	size, stamp := r.Size, c.StampAt(c.Rate.TimeOf(r.From))
	filter, first, want := c.stretchChain(r.From, r.Count), r.From, int64(-1)
	if whole {
		size, stamp = c.Size, c.Stamp(r.From)
		filter, first, want = c.everyPicture(r.From, r.Count)
	}
	start := FromStart
	if r.From > 0 {
		if start, err = t.Locate(ctx, c, stamp); err != nil {
			return d, err
		}
	}
	n := r.From
	take := func(k int64, picture *[]byte) error {
		if k < r.From {
			return nil // shares its stamp with the first one that is asked for
		}
		n = k + 1
		return each(k, picture)
	}
	read, form := eachMono(c.Path, size.X*size.Y, first, take), []string{"yuv4mpegpipe", "gray"}
	if r.RGB != nil {
		read, form = EachPicture(c.Path, 3*size.X*size.Y, first, take), []string{"rawvideo", "rgb24"}
	}
	// The decoder goes on while pictures pass through the pipe, if it has threads
	// to spare: its own choice, one a core and one more, stands still then.
	args := Globals("verbose", "-copyts", "-threads", strconv.Itoa(runtime.NumCPU()+spareThreads))
	args = append(append(args, t.InputArgs(c, start)...), "-map", "0:v:0", "-an", "-sn", "-dn", "-vf", filter+","+r.filters(c),
		"-fps_mode", "passthrough", "-f", form[0], "-pix_fmt", form[1], "pipe:1")
	err = t.Run(ctx, Process{Args: args, What: fmt.Sprintf("media: decoding %s failed", c.Path), Line: d.line, Stdout: read})
	if err == nil && d.Trouble == "" && d.cut != "" {
		until := c.StampAt(c.Duration() + time.Second)
		if r.Count >= 0 {
			until = c.Stamp(r.From + r.Count)
		}
		var cut bool
		if cut, err = t.cutShort(ctx, c, start, until); cut {
			d.Trouble = d.cut
		}
	}
	switch {
	case err != nil || !whole:
		return d, err
	case want >= 0 && n-r.From != want && n > r.From:
		// Which of them is missing, and so when the others are shown, nobody knows.
		return d, &Error{Msg: fmt.Sprintf("media: %s: %s can be decoded of the %d that its stamps name", c.Path, Frames(n-r.From), want),
			Hint: ConvertHint(c)}
	case n == r.From && r.Count != 0:
		return d, &Error{Msg: fmt.Sprintf("media: %s has no frame %d", c.Path, r.From), Hint: "the capture ends earlier"}
	}
	return d, nil
}

// stretchChain takes count frames (count < 0: all) from frame from on, by their
// stamps: what a recorder dropped is shown once more.
func (c Capture) stretchChain(from, count int64) string {
	if c.timing != nil {
		if count < 0 {
			count = max(1, c.Rate.FramesIn(c.Duration())-from)
		}
		if p, err := c.FrameMap(c.Rate, c.Rate.TimeOf(from), count, pacing.TimeMap{}); err == nil {
			return quotedChain(p.Filters(c, "fps", c.Rate))
		}
	}
	chain := c.StampChain() + fmt.Sprintf(",trim=start_pts=%d", from)
	if count >= 0 {
		chain += fmt.Sprintf(":end_pts=%d", from+count)
	}
	return chain + fmt.Sprintf(",setpts=PTS-%d,fps=%s:start_time=0", from, c.Rate)
}

// quotedChain writes filters as ffmpeg reads them from a command line, with
// expressions that hold commas.
func quotedChain(filters [][]string) string {
	var list [][]string
	for _, f := range filters {
		list = append(list, []string{f[0], "'" + strings.Join(f[1:], ":") + "'"})
	}
	return Chain(list...)
}

// Damage decodes frames from, from+1, …, count of them, one at a time, and
// returns a *Damaged if the decoder had to make up pictures, nil otherwise. It is
// slow: run it where DecodeVideo or Complaint found trouble.
func (t *Tools) Damage(ctx context.Context, name string, c Capture, from, count int64) error {
	plan, err := c.FrameMap(c.Rate, c.Rate.TimeOf(from), count, pacing.TimeMap{})
	if err != nil {
		return err
	}
	at, err := t.Locate(ctx, c, plan.First)
	if err != nil {
		return err
	}
	return t.Inspect(ctx, name, c, plan, at)
}

// Complaint decodes a whole capture and returns the first complaint of the
// decoder, "" without one.
func (t *Tools) Complaint(ctx context.Context, c Capture) (trouble string, err error) {
	return t.ComplaintFrom(ctx, c, FromStart, nil, nil)
}

// ComplaintFrom decodes a capture's pictures from a position, with further global
// arguments and filters, and returns the first complaint of the decoder.
func (t *Tools) ComplaintFrom(ctx context.Context, c Capture, at Seek, global, filters []string) (trouble string, err error) {
	args := append(append(Globals("info"), global...), t.InputArgs(c, at)...)
	args = append(append(args, "-map", "0:v:0", "-an", "-sn", "-dn"), filters...)
	var d Decoded
	err = t.Run(ctx, Process{Args: append(args, "-f", "null", "-"), What: fmt.Sprintf("media: decoding %s failed", c.Path), Line: d.line})
	return cmp.Or(d.Trouble, d.cut), err
}
