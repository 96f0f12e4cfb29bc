package media

import (
	"context"
	"fmt"
	"math"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"fairframe/render/pacing"
)

// Seek is where reading of a capture starts, in seconds on ffmpeg's own clock
// of that file; fromStart reads it from its beginning.
type Seek float64

const FromStart Seek = 0

// SeekTo returns a position from which the picture with stamp n should be decoded:
// half a frame before it. It need not be right: stamps tell which frame is which, and Locate
// finds another where this one lands late.
func (c Capture) SeekTo(n int64) Seek {
	at := c.FirstStamp - c.SeekOrigin + float64(n)/c.Clock().Hz() - 0.5/c.Rate.Hz()
	if n <= 0 || at <= 0 {
		return FromStart
	}
	return Seek(at)
}

// InputArgs are the arguments of one capture as an input, up to -i. The
// process's global arguments must hold -copyts.
func (t *Tools) InputArgs(c Capture, at Seek) []string {
	args := append(InputGuard(), "-noaccurate_seek", "-err_detect:v", DecoderChecks)
	if at > FromStart {
		args = append(args, "-ss", at.String())
	}
	return append(args, "-i", FileURL(c.Path))
}

// DecoderChecks has a decoder compare pictures with the checksums that some streams carry:
// the hashes in HEVC's SEI messages (ITU-T H.265, D.2.19) are passed over otherwise. In
// graph.input it does so for sound as well, such as FLAC.
const DecoderChecks = "crccheck"

// String prints seconds the way ffmpeg reads them: never in exponents.
func (s Seek) String() string { return strconv.FormatFloat(float64(s), 'f', 6, 64) }

// StampChain turns stamps into frame numbers: the time base becomes one frame, or
// one tick of a capture's own clock, and the first frame's stamp zero. Rounding is to the nearest frame, so that a
// container may be off by anything less than half a frame.
func (c Capture) StampChain() string {
	return fmt.Sprintf("setpts=%s,settb=%d/%d", c.zeroed(), c.Clock().Den, c.Clock().Num)
}

func (c Capture) zeroed() string {
	return fmt.Sprintf("round(PTS-(%s)/TB)", strconv.FormatFloat(c.FirstStamp, 'f', 9, 64))
}

// backwards are the steps by which Locate goes back, in seconds. A fraction of a
// second steps over frames that are shown before the key frame they follow in the
// stream. Ten seconds is the longest distance between key frames in common use;
// from the last one it goes to the start, where a decoder always begins right.
var backwards = [...]float64{0, 0.3, 1.5, 4, 11, 31}

// selfContained are codecs whose key frames need nothing that came before them.
var selfContained = []string{"ffv1", "prores", "dnxhd", "cfhd", "mjpeg", "huffyuv", "ffvhuff", "utvideo", "magicyuv", "rawvideo", "v210"}

// Indexed reports whether the container keeps an index of its key frames.
func (c Capture) Indexed() bool {
	return strings.HasPrefix(c.Format, "matroska") || strings.HasPrefix(c.Format, "mov,")
}

// seeksWell reports whether a seek is known to land at or before the frame that
// was asked for, so that starting a decoder to see is waste. An index that lies
// makes the frames that were taken too few, which Render counts.
func (c Capture) seeksWell() bool { return c.Indexed() && slices.Contains(selfContained, c.Codec) }

// Locate finds a position from which the picture of c with stamp n really gets decoded. A seek
// in MPEG-TS may land a group of pictures late, and a stream that refreshes
// itself little by little decodes only some time after the seek.
func (t *Tools) Locate(ctx context.Context, c Capture, n int64) (Seek, error) {
	want := c.SeekTo(n)
	if c.seeksWell() {
		return want, nil
	}
	for _, back := range backwards {
		at := want - Seek(back)
		if at <= FromStart {
			break
		}
		first, err := t.firstDecoded(ctx, c, at)
		if err != nil {
			return 0, err
		}
		if first <= n {
			return at, nil
		}
	}
	return FromStart, nil
}

// LocateSound finds a position from which the sound at a capture time really gets
// decoded.
func (t *Tools) LocateSound(ctx context.Context, c Capture, from time.Duration) (Seek, error) {
	n := c.StampAt(from - SoundLead)
	if n <= 0 {
		return FromStart, nil
	}
	if c.Indexed() {
		// Where a decoder of pictures begins is of no matter to sound.
		return c.SeekTo(n), nil
	}
	return t.Locate(ctx, c, n)
}

// landings are the first frames after the seeks that were tried: a check decodes
// the same stretch for several reasons.
type landings struct {
	mu    sync.Mutex
	known map[landing]int64
}

// landing is a seek in a file as it is.
type landing struct {
	path     string
	bytes    int64
	modified time.Time
	at       Seek
	clock    pacing.Rate
}

// firstDecoded returns the number of the first frame that comes out of a
// decoder after a seek; a very large number when none does.
func (t *Tools) firstDecoded(ctx context.Context, c Capture, at Seek) (int64, error) {
	info, err := os.Stat(c.Path)
	if err != nil {
		return t.decodeFirst(ctx, c, at) // whose error says what is wrong
	}
	key := landing{c.Path, info.Size(), info.ModTime(), at, c.Clock()}
	t.landings.mu.Lock()
	first, known := t.landings.known[key]
	t.landings.mu.Unlock()
	if known {
		return first, nil
	}
	if first, err = t.decodeFirst(ctx, c, at); err != nil {
		return first, err
	}
	t.landings.mu.Lock()
	defer t.landings.mu.Unlock()
	if t.landings.known == nil {
		t.landings.known = map[landing]int64{}
	}
	t.landings.known[key] = first
	return first, nil
}

func (t *Tools) decodeFirst(ctx context.Context, c Capture, at Seek) (int64, error) {
	args := append(Globals("info", "-copyts"), t.InputArgs(c, at)...)
	args = append(args, "-map", "0:v:0", "-an", "-sn", "-dn", "-vf", c.StampChain()+",showinfo", "-frames:v", "1",
		"-fps_mode", "passthrough", "-f", "null", "-")
	first := int64(math.MaxInt64)
	err := t.Run(ctx, Process{
		Args: args, What: fmt.Sprintf("media: seeking in %s failed", c.Path),
		Line: func(line string) {
			if m := shownPTS.FindStringSubmatch(line); m != nil && first == math.MaxInt64 {
				if n, err := strconv.ParseInt(m[1], 10, 64); err == nil {
					first = n
				}
			}
		},
	})
	return first, err
}

// shownPTS is showinfo's line for a frame: its stamp in units of the time base,
// which stampChain has made the frame's number.
var shownPTS = regexp.MustCompile(`showinfo.*\] n: *0 pts: *(-?\d+) `)

// anyPTS is that of every frame.
var anyPTS = regexp.MustCompile(`showinfo.*\] n: *\d+ pts: *(-?\d+) `)
