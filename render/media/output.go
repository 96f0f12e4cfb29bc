package media

import (
	"cmp"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"

	ffmpeg "github.com/u2takey/ffmpeg-go"

	"fairframe/render/pacing"
)

// outputArgs are the arguments of a clip's output, between its graph and its name.
func (c *Clip) outputArgs() []string {
	d := c.Delivery
	args := []string{"-fps_mode", "passthrough"}
	if !c.Sound.heard() {
		// With sound the graph alone ends the clip: ffmpeg 5.1 closes all streams when
		// one of them has its frames, and the sound would lack what is not yet coded.
		args = append(args, "-frames:v", strconv.FormatInt(c.Total(), 10))
	}
	if !d.encoder.upload {
		args = append(args, "-pix_fmt", d.encoder.given(d.quality))
	}
	args = append(args, d.videoArgs(c.Rate)...)
	if !d.rgb() {
		args = append(args, c.Coding().output()...)
	}
	if c.Sound.heard() {
		args = append(args, d.variant.sound...)
	}
	m, light, _ := c.stated()
	if p := params(m, light); p != "" {
		args = merge(args, []string{"-x265-params", p})
	}
	args = merge(append(args, d.variant.muxer...), d.options)
	// Nothing of the captures' own tags or chapters leaks into the clip, and no
	// date or version makes two runs differ.
	args = append(args, c.tagArgs()...)
	return append(args, "-map_metadata", "-1", "-map_chapters", "-1", "-fflags", "+bitexact",
		"-flags:v", "+bitexact", "-flags:a", "+bitexact", "-f", d.variant.format)
}

// lasting is a bitstream filter that says how long a picture is shown where that is not
// known: with ffmpeg 7.1 the last picture of an MP4 or a MOV would be shown for no time,
// because its setpts forgets the rate. Pictures are evenly coded, so one lasts as long as
// the one before it. The first has none before it; what lasts a frame is counted there in
// TB, which before ffmpeg 7 is not the unit that it says.
func (t *Tools) lasting(ctx context.Context, r pacing.Rate) ([]string, error) {
	version, err := t.Version(ctx)
	first := "DURATION"
	if major, _, ok := release(version); !ok || major >= 7 {
		first = fmt.Sprintf("round(1/((%s)*TB))", r)
	}
	expression := fmt.Sprintf(`if(gt(DURATION\,0)\,DURATION\,if(N\,DTS-PREV_INDTS\,%s))`, first)
	return []string{"-bsf:v", "setts=pts=PTS:dts=DTS:duration=" + expression}, err
}

// device are global arguments that an encoder needs.
func (c *Clip) device() []string {
	if c.Delivery.encoder.upload {
		return []string{"-vaapi_device", "/dev/dri/renderD128"}
	}
	return nil
}

// deliver brings the finished picture to the form that the encoder takes.
func (g *graph) deliver(s *ffmpeg.Stream) *ffmpeg.Stream {
	d := g.clip.Delivery
	const flags = "flags=bicubic+accurate_rnd+full_chroma_int+full_chroma_inp"
	switch e := d.encoder; {
	case e.rgb != "":
		s = g.filter(s, "scale", "in_color_matrix=bt709", "in_range=tv", "out_range=pc", flags)
		s = g.filter(s, "format", e.rgb)
		// Codes of BT.709 are shown as sRGB's (common practice).
		s = g.filter(s, "setparams", "color_primaries=bt709:color_trc=iec61966-2-1")
		if d.Name == "gif" {
			s = g.palette(s)
		}
	case e.upload:
		s = g.filter(s, "format", e.pixels)
		s = g.filter(s, "hwupload")
	case e.given(d.quality) != g.clip.drawnIn():
		s = g.filter(s, "scale", flags)
		s = g.filter(s, "format", e.given(d.quality))
	}
	return s
}

// palette chooses the colours of each frame by itself: one choice for the whole
// clip would have to hold all of it in memory. The ordered pattern keeps still
// layers still.
func (g *graph) palette(s *ffmpeg.Stream) *ffmpeg.Stream {
	colours := [3]int{256, 192, 96}[g.clip.Delivery.quality]
	both := g.branches(s, 2)
	colour := g.filter(both[0], "palettegen", fmt.Sprintf("max_colors=%d", colours), "stats_mode=single", "reserve_transparent=0")
	return g.join([]*ffmpeg.Stream{both[1], colour}, "paletteuse", "new=1", "dither=bayer", "bayer_scale=3")
}

// checkOutput reads the finished file back: its pictures are counted, its size,
// rate, streams and form compared with what was asked.
func (t *Tools) checkOutput(ctx context.Context, c *Clip, part string) (Capture, Digests, error) {
	d := c.Delivery
	switch {
	case d.Folder():
		made, err := c.checkFolder(part)
		return made, Digests{}, err
	case d.Name == "gif" || d.Name == "webp":
		made, err := c.checkLoop(part)
		return made, Digests{}, err
	}
	var made Capture
	var probing error
	var beside sync.WaitGroup
	beside.Go(func() { made, probing = t.probeAs(ctx, part, c.Rate) })
	digests, shown, err := t.readThrough(ctx, part)
	beside.Wait()
	if err := cmp.Or(probing, err); err != nil {
		return Capture{}, Digests{}, unreadable(ctx, err)
	}
	made.Frames = c.Total()
	var wrong []string
	if words := shown.differs(c.Rate, c.Total(), c.Sound.heard()); words != "" {
		wrong = append(wrong, words)
	}
	if want := c.Rate.TimeOf(c.Total()).Seconds(); made.shown >= 0 && math.Abs(made.shown-want) > told {
		wrong = append(wrong, fmt.Sprintf("its picture lasts %.3f s instead of %.3f s", made.shown, want))
	}
	if made.Size != c.Size {
		wrong = append(wrong, fmt.Sprintf("size %v instead of %v", made.Size, c.Size))
	}
	if made.Audio != c.Sound.heard() {
		wrong = append(wrong, "sound missing or unwanted")
	} else if want := c.Rate.TimeOf(c.Total()).Seconds(); made.Audio && made.sound >= 0 && math.Abs(made.sound-want) > told {
		wrong = append(wrong, fmt.Sprintf("%.3f s of sound instead of %.3f s", made.sound, want))
	}
	if made.Codec != d.encoder.codec {
		wrong = append(wrong, fmt.Sprintf("codec %s instead of %s", made.Codec, d.encoder.codec))
	}
	if seen := d.encoder.finished(d.quality); !slices.Contains(strings.Fields(seen), made.PixFmt) {
		wrong = append(wrong, fmt.Sprintf("pixels %s instead of %s", made.PixFmt, seen))
	}
	if to := c.Coding(); to.HDR() && made.Colour != to.Colour {
		wrong = append(wrong, fmt.Sprintf("colours %+v instead of %+v", made.Colour, to.Colour))
	}
	if len(wrong) == 0 && (d.variant.format == "mp4" || d.variant.format == "mov") {
		if boxes, err := topBoxes(part); err != nil || slices.Index(boxes, "moov") > slices.Index(boxes, "mdat") {
			wrong = append(wrong, "its index is not at the beginning")
		}
	}
	if len(wrong) > 0 {
		return Capture{}, Digests{}, c.Delivery.notAsked("clip", wrong)
	}
	return made, digests, nil
}

// told is how far, in seconds, a length that a container tells may be off: Matroska
// tells milliseconds.
const told = 0.002

// ownFault is the hint of a finished clip that is not what it has to be. Its captures
// can do nothing about it.
const ownFault = "the captures are not the cause: render it again; if it fails again, try another delivery or another version of ffmpeg"

// notAsked is the error of a finished clip, reel or loop.
func (d Delivery) notAsked(what string, wrong []string) error {
	e := &Error{Msg: fmt.Sprintf("media: the finished %s is not as requested: %s", what, strings.Join(wrong, ", ")), Hint: ownFault}
	if len(d.options) > 0 {
		e.Hint = "remove the options under output: ffmpeg:"
	}
	return e
}

// unreadable is the error of a finished clip that cannot be read back.
func unreadable(ctx context.Context, err error) error {
	if ctx.Err() != nil {
		return ctx.Err()
	}
	return &Error{Msg: "media: the finished clip cannot be read back", Err: err, Hint: ownFault}
}

// underName gives an error of a file that has only its temporary name yet the name that
// the file was to have.
func underName(err error, part, out string) error {
	by := strings.NewReplacer(part, out, filepath.Base(part), filepath.Base(out))
	if e := (*Error)(nil); errors.As(err, &e) {
		named := *e
		named.Msg, named.Log = by.Replace(e.Msg), by.Replace(e.Log)
		if e.Err != nil {
			named.Err = underName(e.Err, part, out)
		}
		return &named
	}
	if text := by.Replace(err.Error()); text != err.Error() {
		return errors.New(text)
	}
	return err
}

// topBoxes returns the types of the boxes at the top of an MP4 or MOV file
// (ISO/IEC 14496-12, 4.2), in their order.
func topBoxes(path string) ([]string, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	var list []string
	for at := int64(0); ; {
		var head [16]byte
		n, err := f.ReadAt(head[:], at)
		if err == io.EOF && n == 0 {
			return list, nil
		}
		if n < 8 {
			return list, fmt.Errorf("media: half a box at %d", at)
		}
		size := int64(binary.BigEndian.Uint32(head[:]))
		list = append(list, string(head[4:8]))
		switch {
		case size == 0:
			return list, nil // to the end of the file
		case size == 1 && n == 16:
			size = int64(binary.BigEndian.Uint64(head[8:]))
		}
		if size < 8 {
			return list, fmt.Errorf("media: a box of %d bytes at %d", size, at)
		}
		at += size
	}
}
