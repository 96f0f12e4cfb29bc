package media

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"math"
	"net/textproto"
	"regexp"
	"strconv"
	"strings"
	"time"

	"fairframe/render/pacing"
)

// decodeTrouble is a line of ffmpeg's log that a decoder writes about damaged
// data. A decoder then makes up what it lacks, and no frame is missing.
var decodeTrouble = regexp.MustCompile(`^\[[a-z0-9_]+ @ [^]]*\] \[(error|fatal|warning)\]|corrupt decoded frame|Error while decoding|concealing \d+ DC`)

// harmless are lines of the same kind that say nothing about the pictures, and why not.
var harmless = []struct {
	words *regexp.Regexp
	why   string
}{
	{regexp.MustCompile(`^\[ffv1 @ [^]]*\] \[warning\]`), "the encoder of FFV1 warns; its decoder's complaints are errors"},
	{regexp.MustCompile(`\[(aac|mp3|opus|vorbis|ac3|eac3|flac|pcm_\w+)( @|@)`), "sound is judged by itself"},
	{regexp.MustCompile(`\[(mp4|matroska|mpegts|rawvideo|image2pipe)( @|@)`), "what a container loses is counted"},
	{regexp.MustCompile(`\[(libx264|swscaler|auto_\w+|fps\w*|null)( @|@)`), "encoders and filters do not decode"},
	{regexp.MustCompile(`deprecated pixel format|No accelerated colorspace`), "the scaler says how, not what"},
}

// soundTrouble is a line that a decoder writes about damaged sound.
var soundTrouble = regexp.MustCompile(`^\[(aac|aac_latm|mp[123]\w*|opus|libopus|vorbis|ac3|eac3|dca|truehd|flac|alac|pcm_\w+) @ [^]]*\] \[(error|fatal)\]`)

func IsSoundTrouble(line string) bool { return soundTrouble.MatchString(line) }

func IsDecodeTrouble(line string) bool {
	if !decodeTrouble.MatchString(line) {
		return false
	}
	for _, h := range harmless {
		if h.words.MatchString(line) {
			return false
		}
	}
	return true
}

// missingEOI is what ffmpeg before 8 says of pictures of MJPEG whose last scan ends in
// few bits, as that of a black one does, although their EOI is there. It is harmless where
// no packet is cut short.
var missingEOI = regexp.MustCompile(`^\[mjpeg @ [^]]*\] \[warning\] EOI missing, emulating`)

// cutShort reports whether a packet of MJPEG between a position and a stamp ends without
// its EOI (ITU-T T.81, table B.1: FF D9).
func (t *Tools) cutShort(ctx context.Context, c Capture, at Seek, until int64) (cut bool, err error) {
	args := append(Globals("error"), InputGuard()...)
	if at > FromStart {
		args = append(args, "-ss", at.String())
	}
	args = append(args, "-t", (c.SeekTo(until) - at).String(), "-i", FileURL(c.Path), "-map", "0:v:0", "-c", "copy", "-f", "mpjpeg", "pipe:1")
	err = t.Run(ctx, Process{Args: args, What: fmt.Sprintf("media: reading %s failed", c.Path), Stdout: func(r io.Reader) error {
		body := bufio.NewReader(r)
		for head := textproto.NewReader(body); ; {
			// Each packet has a head that says how long it is.
			line, err := head.ReadLine()
			if err == io.EOF {
				return nil
			}
			if err != nil {
				return err
			}
			size, ok := strings.CutPrefix(strings.ToLower(line), "content-length: ")
			if !ok {
				continue
			}
			n, err := strconv.Atoi(strings.TrimSpace(size))
			if err != nil || n < 0 {
				return fmt.Errorf("media: packet of %q bytes", size)
			}
			packet := make([]byte, n+2) // after an empty line
			if _, err := io.ReadFull(body, packet); err != nil {
				return err
			}
			cut = cut || !bytes.HasSuffix(bytes.TrimRight(packet, "\x00"), []byte{0xff, 0xd9})
		}
	}})
	return cut, err
}

// Damaged is the error of a capture whose decoder had to make up pictures that a
// scene shows.
type Damaged struct {
	Capture     string // its name in the clip
	First, Last int64  // those of its frames that may be wrong, as far as the scene shows them
	Rate        pacing.Rate
	Complaints  int // of the decoder
	timing      *timing
	Words       string // its first complaint, the same in every run
}

// From returns where the damage begins, in capture time.
func (d *Damaged) From() time.Duration { return d.capture().TimeOf(d.First) }

// To returns where it ends.
func (d *Damaged) To() time.Duration { return d.capture().TimeOf(d.Last + 1) }

// capture is what tells when a frame is shown.
func (d *Damaged) capture() Capture { return Capture{Rate: d.Rate, timing: d.timing} }

// Error says which capture, where, and what the decoder said.
func (d *Damaged) Error() string {
	return fmt.Sprintf("media: capture %s is damaged near its frame %d (%.2f s): the decoder had to make up pictures, up to frame %d (%.2f s)\n%s",
		d.Capture, d.First, d.From().Seconds(), d.Last, d.To().Seconds(), indent(d.Words))
}

// Hints returns what to do about it.
func (d *Damaged) Hints() []string {
	return []string{"play the capture at that place; copy it again, or choose another stretch; tolerate: decode-errors shows it as it is, and says so"}
}

// Inspect decodes a stretch of a capture, which name is for messages, once more, one frame at a time, and returns a
// *Damaged if the decoder complained of what the scene shows. It is run only when
// the log of a finished clip holds complaints: a decoder that starts in the middle
// of a stream may complain about frames that the scene does not show, and the two
// cannot be told apart afterwards.
//
// A complaint comes when a picture is decoded, up to the decoder's delay before it
// comes out, and the picture lies up to as much again from its place in the
// stream. What is made up lasts to the next key frame, because pictures are
// predicted from it. What a decoder says before its first picture may only mean
// that it was dropped into the middle; where that would reach into the scene, it
// is heard again from farther back.
func (t *Tools) Inspect(ctx context.Context, name string, c Capture, p FrameMap, at Seek) error {
	for _, back := range [...]Seek{0, 1.5, 11, Seek(math.Inf(1))} {
		from := max(at-back, FromStart)
		entire := false
		if c.Codec == "mjpeg" {
			cut, err := t.cutShort(ctx, c, from, p.Last()+1)
			if err != nil {
				return err
			}
			entire = !cut
		}
		w := inspection{entire: entire, first: c.NumberOf(p.First), last: c.NumberOf(p.Last()), number: c.NumberOf, reach: 2 * c.delay, whole: from == FromStart}
		if err := t.follow(ctx, c, p, from, &w); err != nil {
			return err
		}
		d, sure := w.damage()
		if d == nil {
			return nil
		}
		if sure || from == FromStart {
			d.Capture, d.Rate, d.timing = name, c.Rate, c.timing
			return d
		}
	}
	return nil
}

// follow decodes from there to the end of what p shows.
func (t *Tools) follow(ctx context.Context, c Capture, p FrameMap, from Seek, w *inspection) error {
	args := Globals("info", "-copyts", "-max_error_rate", "1", "-debug_ts", "-threads", "1", "-thread_queue_size", "1")
	if c.Indexed() {
		// A parser reads ahead, and says before its time what the decoder will say.
		args = append(args, "-fflags", "+noparse")
	}
	args = append(args, t.InputArgs(c, from)...)
	args = append(args, "-map", "0:v:0", "-an", "-sn", "-dn",
		"-vf", fmt.Sprintf("%s,trim=end_pts=%d,%s", c.StampChain(), p.Last()+1, printNumber),
		"-fps_mode", "passthrough", "-f", "null", "-")
	return t.Run(ctx, Process{Args: args, What: fmt.Sprintf("media: decoding %s failed", c.Path), Line: w.line})
}

// inspection follows the log of a decoder and its pictures. From ffmpeg 7 on a decoder
// runs ahead of the filters, so the log tells twice of a picture: when it leaves the
// decoder, among its complaints, and when the filters have given it its number. The k-th
// of the one is the k-th of the other, because nothing in between drops any.
type inspection struct {
	first, last int64 // of the scene
	reach       int64 // how far behind the last picture a complaint may lie
	number      func(stamp int64) int64
	whole       bool // the capture is decoded from its beginning
	entire      bool // no packet of MJPEG is cut short

	waiting []string // what the decoder said, up to pictures that have no number yet

	shown int64 // the last frame that came out
	seen  bool  // one did
	open  *corruptSpan
	all   []corruptSpan
}

// corruptSpan is damage between two key frames.
type corruptSpan struct {
	Damaged
	early bool  // the decoder complained before its first picture
	least int64 // up to where the complaints themselves reach
}

// line takes one line of the log.
func (w *inspection) line(line string) {
	if w.entire && missingEOI.MatchString(line) {
		return
	}
	if decodedFrame.MatchString(line) || IsDecodeTrouble(line) {
		w.waiting = append(w.waiting, line)
		return
	}
	m := numberedFrame.FindStringSubmatch(line)
	if m == nil {
		return
	}
	if key := w.complaints(); key != nil {
		if n, err := strconv.ParseInt(m[1], 10, 64); err == nil {
			w.picture(n, key[1] == "1")
		}
		w.waiting = w.waiting[1:]
	}
}

// complaints takes what the decoder said before its next picture, and returns what it
// says of that; nil: no more came out.
func (w *inspection) complaints() (picture []string) {
	for ; len(w.waiting) > 0; w.waiting = w.waiting[1:] {
		if m := decodedFrame.FindStringSubmatch(w.waiting[0]); m != nil {
			return m
		}
		w.complaint(w.waiting[0])
	}
	return nil
}

// picture takes a picture by the number of its stamp.
func (w *inspection) picture(n int64, key bool) {
	if w.number != nil {
		n = w.number(n)
	}
	if !w.seen && w.open != nil {
		w.open.First, w.open.least = n, n+w.reach
	}
	if w.open != nil && key && n > w.open.least {
		w.close(n - 1)
	}
	w.shown, w.seen = n, true
}

// complaint takes what a decoder says before the picture that comes out next.
func (w *inspection) complaint(line string) {
	if !w.seen && w.whole && waiting.MatchString(line) {
		return
	}
	if w.open == nil {
		w.open = &corruptSpan{early: !w.seen}
		w.open.First, w.open.Words = w.shown+1, PlainWords(line)
		if late.MatchString(line) {
			w.open.First = max(0, w.open.First-w.reach)
		}
	}
	w.open.Complaints++
	w.open.least = w.shown + 1 + w.reach
}

// close ends the open stain with frame n.
func (w *inspection) close(n int64) {
	w.open.Last = n
	w.all = append(w.all, *w.open)
	w.open = nil
}

// damage returns what of the damage lies in the scene, as one; nil: none. It is
// not sure if the decoder may only have been finding its way.
func (w *inspection) damage() (d *Damaged, sure bool) {
	w.complaints()
	if w.open != nil {
		w.close(w.last)
	}
	sure = true
	for _, s := range w.all {
		if s.Last < w.first || s.First > w.last {
			continue
		}
		sure = sure && !s.early
		if d == nil {
			d = &Damaged{First: max(s.First, w.first), Words: s.Words}
		}
		d.Complaints += s.Complaints
		d.Last = min(s.Last, w.last)
	}
	return d, sure
}

// waiting is what a decoder says while it waits for the first key frame of a
// capture that begins without one; capture time begins with that key frame.
var waiting = regexp.MustCompile(`non-existing [A-Z]PS|no frame!|decode_slice_header error|PS id out of range|Could not find ref|First slice in a frame missing|Error parsing NAL unit|(?i:missing reference picture|reference picture missing)|co located POCs|mmco: unref|illegal short term`)

// late is what ffmpeg says of a picture that comes out, after those that are shown
// before it and may be predicted from it.
var late = regexp.MustCompile(`corrupt decoded frame`)

// printNumber are filters that print a picture's stamp, which stampChain has made its
// number. Other than showinfo they print whole lines, into which no other thread writes.
const printNumber = "metadata=mode=add:key=fairframe:value=1,metadata=mode=print"

// numberedFrame is the line that they print.
var numberedFrame = regexp.MustCompile(`^\[Parsed_metadata_\d+ @ [^]]*\] \[info\] frame: *\d+ +pts: *(-?\d+|NOPTS) `)

// decodedFrame is what -debug_ts says of a picture that leaves the decoder.
var decodedFrame = regexp.MustCompile(`decoder -> .*keyframe:([01]) `)

// address is where ffmpeg keeps something in memory, which tells nobody anything.
var address = regexp.MustCompile(` @ (0x)?[0-9a-fA-F]+\]`)

// ofFile is how ffmpeg itself names the file that a picture came from.
var ofFile = regexp.MustCompile(`^(\[\w+\] )?.*: (corrupt decoded frame)`)

// mostWords is how much of a complaint is kept.
const mostWords = 200

// PlainWords is a line of the log without what differs from run to run, and without
// the folders of this machine.
func PlainWords(line string) string {
	line = ofFile.ReplaceAllString(address.ReplaceAllString(strings.TrimSpace(line), "]"), "$1$2")
	line = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || r == '\uFFFD' {
			return '?'
		}
		return r
	}, strings.ToValidUTF8(line, "?"))
	if len(line) > mostWords {
		line = strings.ToValidUTF8(line[:mostWords], "") + "…"
	}
	return line
}
