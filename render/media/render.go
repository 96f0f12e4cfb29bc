package media

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// Rendered is what is known of a finished clip.
type Rendered struct {
	Arguments []string  // ffmpeg's, as run
	Clip      Capture   // the clip itself, probed
	Digests   Digests   // of the clip; empty for what cannot be read as a video
	Loudness  *Loudness // of the finished clip, where it was brought to one
	Gain      float64   // by which its sound was changed, in decibels
	Warnings  []string  // what could not be as it was asked for
}

// Render encodes the clip into out. The file appears under that name only when
// it is complete and checked; a run that fails or is cancelled leaves nothing.
// progress is told the number of frames encoded so far; it may be nil.
func (t *Tools) Render(ctx context.Context, c *Clip, out string, progress func(frame int64)) (Rendered, error) {
	if err := c.Check(); err != nil {
		return Rendered{}, err
	}
	for _, l := range c.Inputs {
		if SameFile(l.Capture.Path, out) {
			return Rendered{}, &Error{Msg: fmt.Sprintf("media: the output %s is the capture %s", out, l.Name),
				Hint: "choose another name or folder for the output; captures are never overwritten"}
		}
	}
	if err := t.convertible(ctx, c); err != nil {
		return Rendered{}, err
	}
	// Seeks are trusted as far as trying again costs less than trying them first: the
	// frames are counted in any case.
	trusting := c.Total() <= brief
	from, err := t.locate(ctx, c, trusting)
	if err != nil {
		return Rendered{}, err
	}
	done := Rendered{}
	if done.Gain, done.Warnings, err = t.level(ctx, c, from); err != nil {
		return Rendered{}, err
	}
	from.gain = done.Gain
	reserve, give, name := partFor, publish, fileURL
	if c.Delivery.Folder() {
		if err := mayReplace(out); err != nil {
			return Rendered{}, err
		}
		reserve, give, name = folderFor, publishFolder, framesIn
	}
	part, err := reserve(out)
	if err != nil {
		return Rendered{}, err
	}
	defer os.RemoveAll(part)

	from.pages, err = c.writePages()
	defer from.pages.remove()
	if err != nil {
		return Rendered{}, err
	}

	lasting, err := t.lasting(ctx, c.Rate)
	if err != nil {
		return Rendered{}, err
	}
	deaf := ""
	encode := func() error {
		done.Arguments, err = c.arguments(from, slices.Concat([]string{"-y", "-hide_banner", "-v", "level+verbose", "-nostats", "-nostdin",
			"-stats_period", "0.25", "-progress", "pipe:1", "-copyts"}, c.errorRateArgs(), c.device()),
			slices.Concat(c.outputArgs(), lasting), nil, name(part))
		if err != nil {
			return err
		}
		deaf, err = t.encode(ctx, c, done.Arguments, from.seeks, progress)
		return err
	}
	err = encode()
	if err != nil && trusting && ctx.Err() == nil {
		// Did a seek land late?
		if sure, err2 := t.locate(ctx, c, false); err2 == nil && !slices.Equal(sure.seeks, from.seeks) {
			from.seeks = sure.seeks
			err = encode()
		}
	}
	if err == nil {
		done.Clip, done.Digests, err = t.checkOutput(ctx, c, part)
	}
	if err == nil {
		err = t.checkLoudness(ctx, c, part, &done)
	}
	if err != nil {
		return Rendered{}, underName(err, part, out)
	}
	if deaf != "" {
		done.Warnings = append(done.Warnings, c.describeAudioError(deaf))
	}
	if err := give(part, out); err != nil {
		return Rendered{}, err
	}
	done.Clip.Path = out
	return done, nil
}

// brief is as many frames as a clip has that is soon encoded once more.
const brief = 600

// encode runs ffmpeg and makes sure that it took and gave all frames. deaf is what a
// decoder of sound complained of first.
func (t *Tools) encode(ctx context.Context, c *Clip, args []string, seeks []seek, progress func(frame int64)) (deaf string, err error) {
	watch := newWatcher(len(c.Inputs))
	var last lastProgress
	p := process{program: t.FFmpeg, args: args, line: watch.line, what: "media: ffmpeg failed",
		stdout: func(r io.Reader) error { return last.read(r, progress) }}
	if c.drawsLive() {
		p.stdin = c.draw
	}
	if err := t.run(ctx, p); err != nil {
		return "", c.Delivery.blame(err)
	}
	if err := t.checkInputs(ctx, c, watch, seeks); err != nil {
		return "", err
	}
	// A newer ffmpeg counts packets, and a whole WebP is one: its frames are counted in it.
	if !last.ended || last.frame != c.Total() && c.Delivery.Name != "webp" {
		return "", fmt.Errorf("media: ffmpeg stopped after %d of %s", last.frame, frames(c.Total()))
	}
	return watch.audioError, nil
}

// Still renders output frame k alone, the very picture that Render encodes, as
// PNG in full-range RGB. Frames of the pages count as Lead says.
func (t *Tools) Still(ctx context.Context, c *Clip, k int64) ([]byte, error) {
	if err := c.Check(); err != nil {
		return nil, err
	}
	if k < -c.Lead() || k >= c.Total()-c.Lead() {
		return nil, fmt.Errorf("media: no output frame %d of %s", k, frames(c.Total()))
	}
	if page := c.page(k); page != nil {
		return t.stillPage(ctx, c, page)
	}
	one, err := c.at(k)
	if err != nil {
		return nil, err
	}
	// A still trusts the seek and counts the frame; only when it is missing is
	// the way to it searched. That is what keeps a preview quick.
	seeks := make([]seek, len(one.Inputs))
	for i, l := range one.Inputs {
		seeks[i] = l.Capture.seekTo(l.Capture.at(l.Start))
	}
	png, err := t.still(ctx, one, seeks)
	if err == nil || ctx.Err() != nil {
		return png, err
	}
	from, err := t.locate(ctx, one, false)
	if err != nil {
		return nil, err
	}
	return t.still(ctx, one, from.seeks)
}

// toPNG are the output arguments of a still. Little compression: a preview is
// looked at and thrown away.
var toPNG = []string{"-frames:v", "1", "-fps_mode", "passthrough", "-c:v", "png", "-compression_level", "20", "-pred", "none", "-f", "image2pipe"}

// toRGB are the filters that turn a picture in SDR into full-range RGB.
func toRGB() [][]string {
	return [][]string{
		{"scale", "in_color_matrix=bt709", "in_range=tv", "out_range=pc", "flags=bicubic+accurate_rnd+full_chroma_int+full_chroma_inp"},
		{"format", "rgb24"},
	}
}

// toPicture turns the composed picture into that of a PNG.
func (c *Clip) toPicture() [][]string {
	if c.Delivery.OverlayOnly() {
		return [][]string{toRGB()[0], {"format", "rgba"}}
	}
	return c.toRGB()
}

// toRGB turns the composed picture into full-range RGB for a PNG. HDR is tone-mapped
// as a whole, so that all that is in it keeps its relations.
func (c *Clip) toRGB() [][]string { return append(c.Coding().filters(SDR(), SDR().dense), toRGB()...) }

func (t *Tools) still(ctx context.Context, one *Clip, seeks []seek) ([]byte, error) {
	args, err := one.arguments(sources{seeks: seeks}, append([]string{"-hide_banner", "-v", "level+verbose", "-nostats", "-nostdin", "-copyts"}, one.errorRateArgs()...),
		toPNG, one.toPicture(), "pipe:1")
	if err != nil {
		return nil, err
	}
	watch := newWatcher(len(one.Inputs))
	var png strings.Builder
	p := process{program: t.FFmpeg, args: args, line: watch.line, stdout: readAllInto(&png), what: "media: ffmpeg failed"}
	if one.drawsLive() {
		p.stdin = one.draw
	}
	if err := t.run(ctx, p); err != nil {
		return nil, err
	}
	if err := t.checkInputs(ctx, one, watch, seeks); err != nil {
		return nil, err
	}
	return []byte(png.String()), nil
}

// locate finds, for all inputs at once, where their pictures and their sound are
// read from. Trusting takes an index of the container at its word for pictures,
// which the caller then counts.
func (t *Tools) locate(ctx context.Context, c *Clip, trusting bool) (sources, error) {
	from := sources{seeks: make([]seek, len(c.Inputs)), sound: make([]seek, len(c.Inputs))}
	errs := make([]error, 2*len(c.Inputs))
	var wg sync.WaitGroup
	for i, l := range c.Inputs {
		n := l.Capture.at(l.Start)
		switch {
		case !c.decoded(i):
		case trusting && l.Capture.indexed():
			from.seeks[i] = l.Capture.seekTo(n)
		default:
			wg.Go(func() { from.seeks[i], errs[2*i] = t.Locate(ctx, l.Capture, n) })
		}
		if c.Sound.hears(i) {
			wg.Go(func() { from.sound[i], errs[2*i+1] = t.locateSound(ctx, l.Capture, l.Start) })
		}
	}
	wg.Wait()
	for _, err := range errs {
		if err != nil {
			return sources{}, err
		}
	}
	return from, nil
}

// lastProgress is where ffmpeg said it stood.
type lastProgress struct {
	frame int64
	ended bool
}

// read follows ffmpeg's progress: lines of key=value, a block ending with
// progress=continue or progress=end.
func (l *lastProgress) read(r io.Reader, tell func(int64)) error {
	lines := bufio.NewScanner(r)
	for lines.Scan() {
		key, value, _ := strings.Cut(lines.Text(), "=")
		switch key {
		case "frame":
			if n, err := strconv.ParseInt(strings.TrimSpace(value), 10, 64); err == nil {
				l.frame = n
			}
		case "progress":
			l.ended = value == "end"
			if tell != nil {
				tell(l.frame)
			}
		}
	}
	return lines.Err()
}

// watcher reads from the log what each input took.
type watcher struct {
	inputs     []counts
	trouble    bool              // a decoder complained
	audioError string            // the first complaint of a decoder of sound
	sizes      map[string]string // of the pictures that each input began with
	resized    [2]string         // sizes of pictures before and after a change within an input
}

// counts are an input's frames: taken from the capture, and dropped because the
// output is slower. known is false until the log has said so.
type counts struct {
	in, dropped int64
	known       bool
}

func newWatcher(legs int) *watcher {
	return &watcher{inputs: make([]counts, legs), sizes: map[string]string{}}
}

var fpsLine = regexp.MustCompile(`^\[fps@leg(\d+) @ [^]]*\].* (\d+) frames in, \d+ frames out; (\d+) frames dropped`)

// sizeLine is what the graph says of an input whenever it is set up, which a change of
// the pictures' size makes it do again, all counts with it.
var sizeLine = regexp.MustCompile(`^\[graph 0 input from stream (\d+:\d+) @ [^]]*\].* w:(\d+ h:\d+) `)

func (w *watcher) line(s string) {
	m := fpsLine.FindStringSubmatch(s)
	if m == nil {
		w.trouble = w.trouble || isDecodeTrouble(s)
		if m := sizeLine.FindStringSubmatch(s); m != nil {
			if was, known := w.sizes[m[1]]; known && was != m[2] {
				w.resized = [2]string{was, m[2]}
			} else if !known {
				w.sizes[m[1]] = m[2]
			}
		}
		if w.audioError == "" && isSoundTrouble(s) {
			w.audioError = plainWords(s)
		}
		return
	}
	i, err1 := strconv.Atoi(m[1])
	in, err2 := strconv.ParseInt(m[2], 10, 64)
	dropped, err3 := strconv.ParseInt(m[3], 10, 64)
	if err1 == nil && err2 == nil && err3 == nil && i < len(w.inputs) {
		w.inputs[i] = counts{in, dropped, true}
	}
}

// checkInputs makes sure that every input took its frames, and that none of them is
// a decoder's invention.
func (t *Tools) checkInputs(ctx context.Context, c *Clip, w *watcher, seeks []seek) error {
	if err := c.checkSizes(w); err != nil {
		return err
	}
	if err := c.checkCounts(w); err != nil || !w.trouble {
		return err
	}
	for i, l := range c.Inputs {
		if !c.decoded(i) || c.Tolerates(l.Name) {
			continue
		}
		p, err := c.frameMap(i)
		if err != nil {
			return err
		}
		if err := t.inspect(ctx, l.Name, l.Capture, p, seeks[i]); err != nil {
			return err
		}
	}
	return nil
}

// checkSizes refuses a capture whose pictures change their size where they are read.
func (c *Clip) checkSizes(w *watcher) error {
	if w.resized[0] == "" {
		return nil
	}
	var names, all []string
	for _, l := range c.Inputs {
		if size := fmt.Sprintf("%d h:%d", l.Capture.Size.X, l.Capture.Size.Y); size == w.resized[0] || size == w.resized[1] {
			names = append(names, l.Name)
		}
		all = append(all, l.Name)
	}
	which := "one of the captures " + strings.Join(all, ", ")
	if len(names) == 1 {
		which = "capture " + names[0]
	}
	by := strings.NewReplacer(" h:", "x")
	return &Error{
		Msg:  fmt.Sprintf("media: %s changes its pictures from %s to %s pixels in the scene or just before it", which, by.Replace(w.resized[0]), by.Replace(w.resized[1])),
		Hint: "choose a stretch farther from the change, or convert the capture to one size",
	}
}

// checkCounts compares the frames that each input took with those it had to take.
func (c *Clip) checkCounts(w *watcher) error {
	for i, l := range c.Inputs {
		if !c.decoded(i) {
			continue
		}
		p, err := c.frameMap(i)
		if err != nil {
			return err
		}
		in, dropped := p.taken()
		got, first, last := w.inputs[i], l.Capture.number(p.first), l.Capture.number(p.Last())
		switch {
		case !got.known:
			return fmt.Errorf("media: capture %s: ffmpeg did not say how many frames it took", l.Name)
		case got.in < in && l.Capture.Frames > 0 && last >= l.Capture.Frames:
			return short(l, p, first+got.in)
		case got.in < in:
			return &Error{
				Msg: fmt.Sprintf("media: capture %s lacks %s of the %d that the scene shows (its frames %d to %d): it ends early, skips time, or does not decode there",
					l.Name, frames(in-got.in), in, first, last),
				Hint: "play the capture at that place; copy it again, or choose another stretch",
			}
		case got.in > in || got.dropped != dropped:
			return &Error{
				Msg: fmt.Sprintf("media: capture %s has time stamps that do not fit %s frames a second (%d frames where %d belong, %d of them dropped where %d should be)",
					l.Name, l.Capture.Rate, got.in, in, got.dropped, dropped),
				Hint: convertHint(l.Capture),
			}
		}
	}
	return nil
}

// SameFile reports whether two paths lead to one file, by whatever links.
func SameFile(a, b string) bool {
	if filepath.Clean(a) == filepath.Clean(b) {
		return true
	}
	x, errX := os.Stat(a)
	y, errY := os.Stat(b)
	return errX == nil && errY == nil && os.SameFile(x, y)
}

// Arguments returns the command line that Render would run, for the floor that
// speed is measured against and for the curious. Captures are read from where
// their frames are looked for first, and the sound is left at its level.
func (c *Clip) Arguments(out string) ([]string, error) {
	from := sources{}
	for _, l := range c.Inputs {
		from.seeks = append(from.seeks, l.Capture.seekTo(l.Capture.at(l.Start)))
		from.sound = append(from.sound, l.Capture.seekTo(l.Capture.at(l.Start-lead)))
	}
	args, err := c.arguments(from, []string{"-y", "-hide_banner", "-v", "level+error", "-nostats", "-nostdin", "-copyts"}, c.outputArgs(), nil, fileURL(out))
	return slices.Clip(args), err
}
