package media

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"

	"fairframe/render/pacing"
)

// sampled is how many packets are looked at, to see whether a capture keeps to the
// rate that its container names: some three seconds. Containers such as Matroska name
// the rate that the recorder was set to, whatever it wrote.
const sampled = "%+#180"

// soonRead is how large a file is all of whose packets are read as soon as some.
const soonRead = 32 << 20

// readTiming reads the table of a capture's stamps, where something says that it does
// not keep to one rate: the container's own figures, its first packets, or what a
// stretch of it showed before (Reread). Reading all packets of a long capture takes
// as long as copying it.
func (t *Tools) readTiming(ctx context.Context, c *Capture, s *probedStream) error {
	base, err := fraction(s.TimeBase)
	if err != nil || base <= 0 {
		return c.constant(fmt.Errorf("media: %s has no time base", c.Path))
	}
	var list *stamps
	all := t.suspects.has(c.Path) || c.uneven != nil || !common(c.Rate) || !c.evenBy(s)
	if !all {
		if strings.HasPrefix(c.Format, "mov,") {
			return nil // its index was asked
		}
		interval := sampled
		if info, err := os.Stat(c.Path); err == nil && info.Size() <= soonRead {
			interval = ""
		}
		c.sampled = interval != ""
		if list, err = t.readStamps(ctx, c, s, interval); err != nil || list.even(c.Rate) {
			return err
		}
	}
	if list == nil || c.sampled {
		if list, err = t.readStamps(ctx, c, s, ""); err != nil {
			return err
		}
	}
	c.sampled = false
	if list.missing > 0 || len(list.list) < 2 {
		return c.constant(fmt.Errorf("%d of its %d pictures have no time stamp", list.missing, list.missing+len(list.list)))
	}
	c.timing, c.Rate = list.timing(c.saidRates(s))
	c.uneven = nil
	c.Frames = int64(len(list.list))
	return nil
}

// constant takes the capture at the rate that its container names, if it does.
func (c *Capture) constant(why error) error {
	if c.uneven == nil {
		return nil
	}
	return &Error{Msg: fmt.Sprintf("media: %s: it %v, and %v", c.Path, c.uneven, why), Hint: ConvertHint(*c)}
}

// evenBy reports whether a container's own figures are those of a constant rate.
func (c *Capture) evenBy(s *probedStream) bool {
	average, err1 := fraction(s.AvgRate)
	base, err2 := fraction(s.RFrameRate)
	if err1 != nil || err2 != nil {
		return true
	}
	// Two fields make a frame.
	if same := func(x float64) bool { return math.Abs(x-average) <= 0.002*average }; !same(base) && !same(base/2) {
		return false
	}
	n, err := strconv.ParseInt(s.Frames, 10, 64)
	span := Seconds(s.Span)
	return err != nil || n <= 0 || span <= 0 || math.Abs(span*c.Rate.Hz()-float64(n)) < 0.75
}

// saidRates are the rates that a container names, those in common use first.
func (c *Capture) saidRates(s *probedStream) (list []pacing.Rate) {
	for _, text := range []string{s.AvgRate, s.RFrameRate} {
		if hz, err := fraction(text); err == nil {
			if r, ok := inUse(hz); ok && !slices.Contains(list, r) {
				list = append(list, r)
			}
		}
	}
	if c.Rate.Valid() && !slices.Contains(list, c.Rate) {
		list = append(list, c.Rate) // an odd one
	}
	return list
}

// readStamps reads the stamps of a capture's pictures from its packets: those of an
// interval of ffprobe's, "" for all.
func (t *Tools) readStamps(ctx context.Context, c *Capture, s *probedStream, interval string) (*stamps, error) {
	num, den, _ := strings.Cut(s.TimeBase, "/")
	n, _ := strconv.ParseInt(num, 10, 64)
	d, _ := strconv.ParseInt(den, 10, 64)
	base, err := pacing.NewRate(d, n)
	if err != nil {
		return nil, fmt.Errorf("media: %s: time base %q", c.Path, s.TimeBase)
	}
	out := &stamps{base: base}
	first := int64(math.Round(c.FirstStamp * base.Hz()))
	latest := int64(math.MinInt64)
	err = t.eachPacket(ctx, c.Path, interval, "pts,duration,flags", func(fields []string) error {
		if len(fields) > 2 && strings.Contains(fields[2], "D") {
			return nil // an edit list hides it
		}
		pts, err := strconv.ParseInt(fields[0], 10, 64)
		switch {
		case err != nil:
			out.missing++
		case pts < first: // shown before the first picture that decodes
		default:
			out.list = append(out.list, pts)
			if pts > latest && len(fields) > 1 {
				latest = pts
				out.last, _ = strconv.ParseInt(fields[1], 10, 64)
			}
		}
		return nil
	})
	slices.Sort(out.list)
	if interval != "" && len(out.list) > mostDelay {
		// Pictures that are shown among the last of these may be coded after them.
		out.list = out.list[:len(out.list)-mostDelay]
	}
	return out, err
}

// eachPacket tells the given entries of each packet of a capture's pictures, in
// coding order, without decoding any.
func (t *Tools) eachPacket(ctx context.Context, path, interval, entries string, each func(fields []string) error) error {
	args := append([]string{"-hide_banner", "-v", "level+error"}, InputGuard()...)
	args = append(args, "-select_streams", "v:0", "-show_entries", "packet="+entries, "-print_format", "csv=print_section=0")
	if interval != "" {
		args = append(args, "-read_intervals", interval)
	}
	return t.Run(ctx, Process{
		Program: t.FFprobe, What: fmt.Sprintf("media: reading the time stamps of %s failed", path),
		Args: append(args, FileURL(path)),
		Stdout: func(r io.Reader) error {
			lines := bufio.NewScanner(r)
			for lines.Scan() {
				if text := lines.Text(); text != "" {
					if err := each(strings.Split(text, ",")); err != nil {
						return err
					}
				}
			}
			return lines.Err()
		},
	})
}

// suspects are captures that do not keep to the rate that their containers name, as a
// stretch of them showed.
type suspects struct {
	mu   sync.Mutex
	list map[string]os.FileInfo
}

func (s *suspects) has(path string) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	was, ok := s.list[path]
	if !ok {
		return false
	}
	info, err := os.Stat(path)
	return err == nil && info.Size() == was.Size() && info.ModTime().Equal(was.ModTime())
}

func (s *suspects) add(path string) {
	info, err := os.Stat(path)
	if err != nil {
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.list == nil {
		s.list = map[string]os.FileInfo{}
	}
	s.list[path] = info
}

// Reread probes a capture anew that does not keep to the rate that its container
// names, and reads all of its stamps. What it returns may be of a constant rate after
// all.
func (t *Tools) Reread(ctx context.Context, path string) (Capture, error) {
	t.suspects.add(path)
	return t.Probe(ctx, path)
}
