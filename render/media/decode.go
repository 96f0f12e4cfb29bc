package media

import (
	"context"
	"fmt"
	"image"
	"regexp"
	"runtime"
	"strconv"
	"strings"

	"fairframe/render/pacing"
)

// Decoded says how a stretch of a capture came out of its decoder.
type Decoded struct {
	Lost    int64  // pictures that another of the same time slot took the place of
	Filled  int64  // slots without a picture, which show the one before
	Trouble string // what the decoder complained of first; "": nothing
}

var slotLine = regexp.MustCompile(`^\[Parsed_fps.* frames in, \d+ frames out; (\d+) frames dropped, (\d+) frames duplicated`)

func (d *Decoded) line(s string) {
	if m := slotLine.FindStringSubmatch(s); m != nil {
		d.Lost, _ = strconv.ParseInt(m[1], 10, 64)
		d.Filled, _ = strconv.ParseInt(m[2], 10, 64)
	} else if d.Trouble == "" && isDecodeTrouble(s) {
		d.Trouble = strings.TrimSpace(s)
	}
}

// spareThreads is how many threads DecodeLuma's decoder has beyond one a core.
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
	for first = from; first > 0 && c.tick(first) == c.tick(first-1); first-- {
	}
	filters = c.stampChain() + fmt.Sprintf(",trim=start_pts=%d", c.tick(first))
	if count >= 0 {
		for to > from && to < int64(len(t.ticks)) && t.ticks[to] == t.ticks[to-1] {
			to++
		}
		filters += fmt.Sprintf(":end_pts=%d", c.tick(to))
	}
	return filters, first, max(0, to-from)
}

// DecodeLuma streams the luma of a capture, every captured frame in order:
// frames from, from+1, … to the end, or count of them when count >= 0. It goes by
// the stamps: where the recorder dropped a frame, the one before it is given
// again, except in captures of variable rate, of which every picture is given once. Each picture is c.Size.X*c.Size.Y bytes, packed, 8 bit, as coded (a
// limited-range capture keeps its limited range); deeper captures are reduced to
// 8 bit. The slice passed to each is used again for the next frame. An error from
// each ends the decoding and is returned.
func (t *Tools) DecodeLuma(ctx context.Context, c Capture, from, count int64, each func(n int64, luma []byte) error) (Decoded, error) {
	return t.ExchangeLuma(ctx, c, from, count, func(n int64, luma *[]byte) error { return each(n, *luma) })
}

// ExchangeLuma is DecodeLuma for a receiver that keeps pictures: each may keep the
// slice it is given, if it puts another of that length in its place.
func (t *Tools) ExchangeLuma(ctx context.Context, c Capture, from, count int64, each func(n int64, luma *[]byte) error) (d Decoded, err error) {
	start := fromStart
	if from > 0 {
		if start, err = t.Locate(ctx, c, c.tick(from)); err != nil {
			return d, err
		}
	}
	// The decoder goes on while pictures pass through the pipe, if it has threads
	// to spare: its own choice, one a core and one more, stands still then.
	threads := strconv.Itoa(runtime.NumCPU() + spareThreads)
	args := append([]string{"-threads", threads}, t.inputArgs(c, start)...)
	args = append(args, "-map", "0:v:0", "-an", "-sn", "-dn")
	filter, first, want := c.everyPicture(from, count)
	if !strings.HasPrefix(c.PixFmt, "yuv") {
		filter += ",format=yuv444p"
	}
	filter += ",extractplanes=y,format=gray"
	args = append(args, "-vf", filter, "-fps_mode", "passthrough", "-f", "yuv4mpegpipe", "-pix_fmt", "gray", "pipe:1")
	n := from
	err = t.run(ctx, process{
		program: t.FFmpeg, args: append([]string{"-hide_banner", "-v", "level+verbose", "-nostats", "-nostdin", "-copyts"}, args...),
		what: fmt.Sprintf("media: decoding %s failed", c.Path),
		line: d.line,
		stdout: eachMono(c.Path, c.Size.X*c.Size.Y, first, func(k int64, luma *[]byte) error {
			if k < from {
				return nil // shares its stamp with the first one that is asked for
			}
			n = k + 1
			return each(k, luma)
		}),
	})
	if err != nil {
		return d, err
	}
	if want >= 0 && n-from != want && n > from {
		// Which of them is missing, and so when the others are shown, nobody knows.
		return d, &Error{Msg: fmt.Sprintf("media: %s: %s can be decoded of the %d that its stamps name", c.Path, frames(n-from), want),
			Hint: convertHint(c)}
	}
	if n == from && count != 0 {
		return d, &Error{Msg: fmt.Sprintf("media: %s has no frame %d", c.Path, from),
			Hint: "the capture ends earlier"}
	}
	return d, nil
}

// DecodeSmall streams the luma of a capture shrunk to size by area averages,
// one picture for each captured frame from, from+1, … to the end, or count of
// them when count >= 0. Unlike DecodeLuma it goes by the stamps: where the
// recorder dropped a frame, the one before it is given again, so that picture k
// is what is on screen at (from+k)/c.Rate. The slice passed to each is used
// again. An error from each ends the decoding and is returned.
func (t *Tools) DecodeSmall(ctx context.Context, c Capture, size image.Point, from, count int64, each func(n int64, luma []byte) error) error {
	at := fromStart
	if from > 0 {
		var err error
		if at, err = t.Locate(ctx, c, c.at(c.Rate.TimeOf(from))); err != nil {
			return err
		}
	}
	filter := c.stretchChain(from, count)
	if !strings.HasPrefix(c.PixFmt, "yuv") {
		filter += ",format=yuv444p"
	}
	filter += fmt.Sprintf(",extractplanes=y,scale=%d:%d:flags=area,format=gray", size.X, size.Y)
	args := append(t.inputArgs(c, at), "-map", "0:v:0", "-an", "-sn", "-dn",
		"-vf", filter, "-fps_mode", "passthrough", "-f", "rawvideo", "-pix_fmt", "gray", "pipe:1")
	return t.run(ctx, process{
		program: t.FFmpeg, args: append([]string{"-hide_banner", "-v", "level+error", "-nostats", "-nostdin", "-copyts"}, args...),
		what:   fmt.Sprintf("media: decoding %s failed", c.Path),
		stdout: eachPicture(c.Path, size.X*size.Y, from, each),
	})
}

// stretchChain takes count frames (count < 0: all) from frame from on, by their
// stamps: what a recorder dropped is shown once more.
func (c Capture) stretchChain(from, count int64) string {
	if c.timing != nil {
		if count < 0 {
			count = max(1, c.Rate.FramesIn(c.Duration())-from)
		}
		if p, err := c.frameMap(c.Rate, c.Rate.TimeOf(from), count, pacing.TimeMap{}); err == nil {
			return quotedChain(p.filters(c, "fps", c.Rate))
		}
	}
	chain := c.stampChain() + fmt.Sprintf(",trim=start_pts=%d", from)
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
	return chain(list...)
}

// Survey streams a capture's pictures shrunk to size by area averages, as packed
// full-range R'G'B' of 8 bits of BT.709: frames from, from+1, …, count of them. Their
// light and gamut are converted as for the clip named, or for one in SDR if that is
// nil; what is HDR after that is tone-mapped. Like DecodeSmall it goes by the stamps. trouble is
// the first complaint of the decoder, "" without one; it may concern frames
// before the stretch, see Damage. The slice passed to each is used again.
func (t *Tools) Survey(ctx context.Context, c Capture, clip *Clip, size image.Point, from, count int64, each func(n int64, rgb []byte) error) (trouble string, err error) {
	at, err := t.Locate(ctx, c, c.at(c.Rate.TimeOf(from)))
	if err != nil {
		return "", err
	}
	to := sdr()
	if clip != nil {
		to = clip.coding()
	}
	convert, format, _ := c.codeOptions(to)
	filter := fmt.Sprintf("%s,scale=%d:%d:flags=area:%s,format=%s", c.stretchChain(from, count), size.X, size.Y, convert, format)
	for _, f := range append(append(c.Colour.filters(to, to.dense), to.filters(sdr(), sdr().dense)...), toRGB...) {
		filter += "," + f[0] + "=" + strings.Join(f[1:], ":")
	}
	args := append([]string{"-hide_banner", "-v", "level+info", "-nostats", "-nostdin", "-copyts"}, t.inputArgs(c, at)...)
	args = append(args, "-map", "0:v:0", "-an", "-sn", "-dn", "-vf", filter, "-fps_mode", "passthrough", "-f", "rawvideo", "-pix_fmt", "rgb24", "pipe:1")
	err = t.run(ctx, process{
		program: t.FFmpeg, args: args, what: fmt.Sprintf("media: decoding %s failed", c.Path),
		line: func(line string) {
			if trouble == "" && isDecodeTrouble(line) {
				trouble = strings.TrimSpace(line)
			}
		},
		stdout: eachPicture(c.Path, 3*size.X*size.Y, from, each),
	})
	return trouble, err
}

// Damage decodes frames from, from+1, …, count of them, one at a time, and
// returns a *Damaged if the decoder had to make up pictures, nil otherwise. It is
// slow: run it where Survey or Complaint found trouble.
func (t *Tools) Damage(ctx context.Context, name string, c Capture, from, count int64) error {
	plan, err := c.frameMap(c.Rate, c.Rate.TimeOf(from), count, pacing.TimeMap{})
	if err != nil {
		return err
	}
	at, err := t.Locate(ctx, c, plan.first)
	if err != nil {
		return err
	}
	return t.inspect(ctx, Input{Name: name, Capture: c}, plan, at)
}

// Complaint decodes a whole capture and returns the first complaint of the
// decoder, "" without one.
func (t *Tools) Complaint(ctx context.Context, c Capture) (trouble string, err error) {
	return t.complaint(ctx, c, fromStart, nil, nil)
}

// complaint decodes a capture's pictures from a position, with further global
// arguments and filters, and returns the first complaint of the decoder.
func (t *Tools) complaint(ctx context.Context, c Capture, at seek, global, filters []string) (trouble string, err error) {
	args := append(append([]string{"-hide_banner", "-v", "level+info", "-nostats", "-nostdin"}, global...), t.inputArgs(c, at)...)
	args = append(append(args, "-map", "0:v:0", "-an", "-sn", "-dn"), filters...)
	err = t.run(ctx, process{
		program: t.FFmpeg, args: append(args, "-f", "null", "-"),
		what: fmt.Sprintf("media: decoding %s failed", c.Path),
		line: func(line string) {
			if trouble == "" && isDecodeTrouble(line) {
				trouble = strings.TrimSpace(line)
			}
		},
	})
	return trouble, err
}
