package deliver

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"io"
	"math"
	"os"
	"time"

	"fairframe/render/media"
	"fairframe/render/media/graph"
	"fairframe/render/pacing"
)

// loop is what a finished loop says of itself.
type loop struct {
	size   image.Point
	stamps []time.Duration // when each frame is shown
	length time.Duration
	times  int // how often it is shown; 0: for ever
}

// checkLoop compares a finished loop with what was asked. Frames that are the
// same may have become one longer one in WebP.
func checkLoop(c *graph.Clip, path string) (media.Capture, error) {
	read := readGIF
	if c.Delivery.Name == "webp" {
		read = readWebP
	}
	f, err := os.Open(path)
	if err != nil {
		return media.Capture{}, fmt.Errorf("media: %w", err)
	}
	defer f.Close()
	l, err := read(bufio.NewReader(f))
	if err != nil {
		return media.Capture{}, fmt.Errorf("media: the finished loop cannot be read: %w", err)
	}
	var wrong []string
	if words := l.differs(c.Rate, c.Total(), c.Delivery.Name == "webp"); words != "" {
		wrong = append(wrong, words)
	}
	if l.size != c.Size {
		wrong = append(wrong, fmt.Sprintf("size %v instead of %v", l.size, c.Size))
	}
	if l.times != 0 {
		wrong = append(wrong, fmt.Sprintf("shown %d times instead of for ever", l.times))
	}
	if len(wrong) > 0 {
		return media.Capture{}, notAsked(c.Delivery, "loop", wrong)
	}
	e := c.Delivery.Encoder
	return media.Capture{Path: path, Format: c.Delivery.Format, Codec: e.Codec, PixFmt: e.Pixels, Size: l.size, Rate: c.Rate, Frames: c.Total(),
		Colour: media.Colour{Matrix: "rgb", Full: true}}, nil
}

// differs tells in words how a loop's frames differ from n at rate r, one after the
// other; "" if they do not. Where frames that are the same may have become a longer one,
// those that are there have to be shown when one begins.
func (l *loop) differs(r pacing.Rate, n int64, merged bool) string {
	count := int64(len(l.stamps))
	if count < 1 || count > n || count < n && !merged {
		return fmt.Sprintf("it has %s instead of %d", media.Frames(count), n)
	}
	// Stamps are cut to the format's unit, or rounded.
	unit, slack := 10*time.Millisecond, 15*time.Millisecond // the last frame is as long as the one before it
	if merged {
		unit, slack = time.Millisecond, 2*time.Millisecond
	}
	last := int64(-1)
	for k, at := range l.stamps {
		frame := int64(math.Round(at.Seconds() * r.Hz()))
		if (at-r.TimeOf(frame)).Abs() > unit || frame <= last || !merged && frame != int64(k) {
			return fmt.Sprintf("its frame %d is shown after %.3f s, when none begins or another one does", k, at.Seconds())
		}
		last = frame
	}
	if n == 1 {
		return "" // it may be a still picture, which has no length
	}
	if want := r.TimeOf(n); (l.length - want).Abs() > slack {
		return fmt.Sprintf("length %v instead of %v", l.length, want)
	}
	return ""
}

// readGIF walks through the blocks of a GIF (GIF89a, CompuServe 1990).
func readGIF(r *bufio.Reader) (loop, error) {
	l := loop{times: 1}
	var begin time.Duration
	head := make([]byte, 13)
	if _, err := io.ReadFull(r, head); err != nil {
		return l, err
	}
	if string(head[:3]) != "GIF" {
		return l, errors.New("media: no GIF")
	}
	l.size = image.Pt(int(binary.LittleEndian.Uint16(head[6:])), int(binary.LittleEndian.Uint16(head[8:])))
	table := func(flags byte) error {
		if flags&0x80 == 0 {
			return nil
		}
		_, err := r.Discard(3 << (flags&7 + 1))
		return err
	}
	// blocks reads sub-blocks to the empty one and returns the first two.
	blocks := func() (first, second []byte, err error) {
		for i := 0; ; i++ {
			n, err := r.ReadByte()
			if err != nil || n == 0 {
				return first, second, err
			}
			b := make([]byte, n)
			if _, err := io.ReadFull(r, b); err != nil {
				return first, second, err
			}
			switch i {
			case 0:
				first = b
			case 1:
				second = b
			}
		}
	}
	if err := table(head[10]); err != nil {
		return l, err
	}
	for {
		kind, err := r.ReadByte()
		if err != nil {
			return l, err
		}
		switch kind {
		case 0x3b:
			return l, nil
		case 0x21:
			label, err := r.ReadByte()
			if err != nil {
				return l, err
			}
			first, second, err := blocks()
			if err != nil {
				return l, err
			}
			switch {
			case label == 0xf9 && len(first) == 4:
				l.length += time.Duration(binary.LittleEndian.Uint16(first[1:])) * 10 * time.Millisecond
			case label == 0xff && string(first) == "NETSCAPE2.0" && len(second) == 3:
				l.times = int(binary.LittleEndian.Uint16(second[1:]))
			}
		case 0x2c:
			l.stamps = append(l.stamps, begin)
			begin = l.length
			d := make([]byte, 9)
			if _, err := io.ReadFull(r, d); err != nil {
				return l, err
			}
			if err := table(d[8]); err != nil {
				return l, err
			}
			if _, err := r.ReadByte(); err != nil {
				return l, err
			}
			if _, _, err := blocks(); err != nil {
				return l, err
			}
		default:
			return l, fmt.Errorf("media: a block of kind %#x", kind)
		}
	}
}

// readWebP walks through the chunks of an animated WebP (WebP Container Specification,
// in RFC 9649: VP8X, ANIM, ANMF). A loop of one frame may be a still picture, whose size
// stands in its own head (RFC 6386, 9.1, for VP8; RFC 9649, 3.4, for VP8L).
func readWebP(r *bufio.Reader) (loop, error) {
	var l loop
	head := make([]byte, 12)
	if _, err := io.ReadFull(r, head); err != nil {
		return l, err
	}
	if string(head[:4]) != "RIFF" || string(head[8:]) != "WEBP" {
		return l, errors.New("media: no WebP")
	}
	three := func(b []byte) int { return int(b[0]) | int(b[1])<<8 | int(b[2])<<16 }
	for {
		if _, err := io.ReadFull(r, head[:8]); errors.Is(err, io.EOF) {
			return l, nil
		} else if err != nil {
			return l, err
		}
		size := int(binary.LittleEndian.Uint32(head[4:]))
		size += size & 1
		known := min(size, 16)
		b := make([]byte, 16)
		if _, err := io.ReadFull(r, b[:known]); err != nil {
			return l, err
		}
		if _, err := r.Discard(size - known); err != nil {
			return l, err
		}
		switch string(head[:4]) {
		case "VP8X":
			l.size = image.Pt(three(b[4:])+1, three(b[7:])+1)
		case "VP8 ":
			l.stamps = append(l.stamps, 0)
			l.size = image.Pt(int(binary.LittleEndian.Uint16(b[6:])&0x3fff), int(binary.LittleEndian.Uint16(b[8:])&0x3fff))
		case "VP8L":
			bits := binary.LittleEndian.Uint32(b[1:])
			l.stamps = append(l.stamps, 0)
			l.size = image.Pt(int(bits&0x3fff)+1, int(bits>>14&0x3fff)+1)
		case "ANIM":
			l.times = int(binary.LittleEndian.Uint16(b[4:]))
		case "ANMF":
			l.stamps = append(l.stamps, l.length)
			l.length += time.Duration(three(b[12:])) * time.Millisecond
		}
	}
}
