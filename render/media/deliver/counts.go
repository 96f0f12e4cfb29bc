package deliver

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"

	"fairframe/render/media"
	"fairframe/render/media/graph"
)

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
		w.trouble = w.trouble || media.IsDecodeTrouble(s)
		if m := sizeLine.FindStringSubmatch(s); m != nil {
			if was, known := w.sizes[m[1]]; known && was != m[2] {
				w.resized = [2]string{was, m[2]}
			} else if !known {
				w.sizes[m[1]] = m[2]
			}
		}
		if w.audioError == "" && media.IsSoundTrouble(s) {
			w.audioError = media.PlainWords(s)
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
func checkInputs(ctx context.Context, t *media.Tools, c *graph.Clip, w *watcher, seeks []media.Seek) error {
	if err := checkSizes(c, w); err != nil {
		return err
	}
	if err := checkCounts(c, w); err != nil || !w.trouble {
		return err
	}
	for i, l := range c.Inputs {
		if !c.Decodes(i) || c.Tolerates(l.Name) {
			continue
		}
		p, err := c.FrameMap(i)
		if err != nil {
			return err
		}
		if err := t.Inspect(ctx, l.Name, l.Capture, p, seeks[i]); err != nil {
			return err
		}
	}
	return nil
}

// checkSizes refuses a capture whose pictures change their size where they are read.
func checkSizes(c *graph.Clip, w *watcher) error {
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
	return &media.Error{
		Msg:  fmt.Sprintf("media: %s changes its pictures from %s to %s pixels in the scene or just before it", which, by.Replace(w.resized[0]), by.Replace(w.resized[1])),
		Hint: "choose a stretch farther from the change, or convert the capture to one size",
	}
}

// checkCounts compares the frames that each input took with those it had to take.
func checkCounts(c *graph.Clip, w *watcher) error {
	for i, l := range c.Inputs {
		if !c.Decodes(i) {
			continue
		}
		p, err := c.FrameMap(i)
		if err != nil {
			return err
		}
		in, dropped := p.Taken()
		got, first, last := w.inputs[i], l.Capture.NumberOf(p.First), l.Capture.NumberOf(p.Last())
		switch {
		case !got.known:
			return fmt.Errorf("media: capture %s: ffmpeg did not say how many frames it took", l.Name)
		case got.in < in && l.Capture.Frames > 0 && last >= l.Capture.Frames:
			return graph.TooShort(l, p, first+got.in)
		case got.in < in:
			return &media.Error{
				Msg: fmt.Sprintf("media: capture %s lacks %s of the %d that the scene shows (its frames %d to %d): it ends early, skips time, or does not decode there",
					l.Name, media.Frames(in-got.in), in, first, last),
				Hint: "play the capture at that place; copy it again, or choose another stretch",
			}
		case got.in > in || got.dropped != dropped:
			return &media.Error{
				Msg: fmt.Sprintf("media: capture %s has time stamps that do not fit %s frames a second (%d frames where %d belong, %d of them dropped where %d should be)",
					l.Name, l.Capture.Rate, got.in, in, got.dropped, dropped),
				Hint: media.ConvertHint(l.Capture),
			}
		}
	}
	return nil
}
