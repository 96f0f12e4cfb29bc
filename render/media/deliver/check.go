package deliver

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
	"strings"
	"sync"

	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/media/graph"
)

// checkOutput reads the finished file back: its pictures are counted, its size,
// rate, streams and form compared with what was asked.
func checkOutput(ctx context.Context, t *media.Tools, c *graph.Clip, part string) (media.Capture, Digests, error) {
	d := c.Delivery
	switch {
	case d.Folder():
		made, err := checkFolder(c, part)
		return made, Digests{}, err
	case d.Name == "gif" || d.Name == "webp":
		made, err := checkLoop(c, part)
		return made, Digests{}, err
	}
	var made media.Capture
	var probing error
	var beside sync.WaitGroup
	beside.Go(func() { made, probing = t.ProbeAs(ctx, part, c.Rate) })
	digests, shown, err := readThrough(ctx, t, part)
	beside.Wait()
	if err := cmp.Or(probing, err); err != nil {
		return media.Capture{}, Digests{}, unreadable(ctx, err)
	}
	made.Frames = c.Total()
	var wrong []string
	if words := shown.differs(c.Rate, c.Total(), c.Sound.Heard()); words != "" {
		wrong = append(wrong, words)
	}
	if want := c.Rate.TimeOf(c.Total()).Seconds(); made.PictureLength >= 0 && math.Abs(made.PictureLength-want) > told {
		wrong = append(wrong, fmt.Sprintf("its picture lasts %.3f s instead of %.3f s", made.PictureLength, want))
	}
	if made.Size != c.Size {
		wrong = append(wrong, fmt.Sprintf("size %v instead of %v", made.Size, c.Size))
	}
	if made.Audio != c.Sound.Heard() {
		wrong = append(wrong, "sound missing or unwanted")
	} else if want := c.Rate.TimeOf(c.Total()).Seconds(); made.Audio && made.SoundLength >= 0 && math.Abs(made.SoundLength-want) > told {
		wrong = append(wrong, fmt.Sprintf("%.3f s of sound instead of %.3f s", made.SoundLength, want))
	}
	if made.Codec != d.Encoder.Codec {
		wrong = append(wrong, fmt.Sprintf("codec %s instead of %s", made.Codec, d.Encoder.Codec))
	}
	if seen := d.Encoder.Seen; !slices.Contains(strings.Fields(seen), made.PixFmt) {
		wrong = append(wrong, fmt.Sprintf("pixels %s instead of %s", made.PixFmt, seen))
	}
	if to := c.Coding(); to.HDR() && made.Colour != to.Colour {
		wrong = append(wrong, fmt.Sprintf("colours %+v instead of %+v", made.Colour, to.Colour))
	}
	if len(wrong) == 0 && (d.Format == "mp4" || d.Format == "mov") {
		if boxes, err := topBoxes(part); err != nil || slices.Index(boxes, "moov") > slices.Index(boxes, "mdat") {
			wrong = append(wrong, "its index is not at the beginning")
		}
	}
	if len(wrong) > 0 {
		return media.Capture{}, Digests{}, notAsked(c.Delivery, "clip", wrong)
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
func notAsked(d graph.Delivery, what string, wrong []string) error {
	e := &media.Error{Msg: fmt.Sprintf("media: the finished %s is not as requested: %s", what, strings.Join(wrong, ", ")), Hint: ownFault}
	if len(d.Options) > 0 {
		e.Hint = "remove the options under output: ffmpeg:"
	}
	return e
}

// unreadable is the error of a finished clip that cannot be read back.
func unreadable(ctx context.Context, err error) error {
	if ctx.Err() != nil {
		return ctx.Err()
	}
	return &media.Error{Msg: "media: the finished clip cannot be read back", Err: err, Hint: ownFault}
}

// underName gives an error of a file that has only its temporary name yet the name that
// the file was to have.
func underName(err error, part, out string) error {
	if p := (*finding.Passing)(nil); errors.As(err, &p) {
		return &finding.Passing{Err: underName(p.Err, part, out)}
	}
	by := strings.NewReplacer(part, out, filepath.Base(part), filepath.Base(out))
	if e := (*media.Error)(nil); errors.As(err, &e) {
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
