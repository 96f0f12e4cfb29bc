package logs

import (
	"bytes"
	"cmp"
	"context"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/media"
	"fairframe/render/pacing"
	"fairframe/render/record"
	"fairframe/render/scratch"
)

// A Stretch is a part of a capture, in capture time.
type Stretch struct{ From, To time.Duration }

// margin is how far around a stretch is measured: frames at its edges are whole then, and
// no decision depends on where the stretch was cut.
const margin = time.Second

// around is the stretch with so much more on both sides, within the capture.
func (s Stretch) around(more time.Duration, c media.Capture) Stretch {
	s = Stretch{max(0, s.From-more), s.To + more}
	if d := c.Duration(); d > 0 {
		s.To = min(s.To, d)
	}
	return s
}

// joined is the stretch together with another one that meets it.
func (s Stretch) joined(t Stretch) Stretch {
	if t.From > s.To || t.To < s.From {
		return s
	}
	return Stretch{min(s.From, t.From), max(s.To, t.To)}
}

// head is what a kept log says of itself.
type head struct {
	origin string // what one that holds says it is made from
	holds  bool
	parts  []Stretch // that it covers, in order; none: the whole capture
}

func (h head) covers(need Stretch) bool {
	if !h.holds || len(h.parts) == 0 {
		return h.holds
	}
	return slices.ContainsFunc(h.parts, func(p Stretch) bool { return p.From <= need.From && p.To >= need.To })
}

// partsAre begins the comment that lists what a log covers.
const partsAre = "parts: "

// head reads the head of a capture's measured log. A log of that name that this program did
// not keep there is an error.
func (l *Keeper) head(c *comparison.Capture) (h head, err error) {
	if h.origin, err = originOf(c.Video, SettingsOf(c), l.Files); err != nil {
		return h, err
	}
	f, err := scratch.Open(c.Pacing.Log)
	if err != nil {
		return h, nil // none, or one that writing will complain of
	}
	defer f.Close()
	comments, err := pacing.Comments(f)
	if err != nil {
		return h, nil
	}
	kept := false
	for _, line := range comments {
		h.holds = h.holds || line == h.origin
		kept = kept || strings.HasPrefix(line, record.MadeFrom)
		if list, is := strings.CutPrefix(line, partsAre); is {
			if h.parts, is = parseParts(list); !is {
				return head{origin: h.origin}, nil
			}
		}
	}
	if !kept {
		return h, &finding.Error{Msg: fmt.Sprintf(
			"capture %s: %s would be overwritten, but this program did not write it", c.Key, c.Pacing.Log),
			Hint: "write its path after pacing: to use it, or move it"}
	}
	if !h.holds {
		h.parts = nil
	}
	return h, nil
}

// parseParts reads a list such as "0s to 12.3s, 20s to 30s".
func parseParts(list string) (parts []Stretch, ok bool) {
	for one := range strings.SplitSeq(list, ", ") {
		from, to, is := strings.Cut(one, " to ")
		a, err1 := time.ParseDuration(from)
		b, err2 := time.ParseDuration(to)
		if !is || err1 != nil || err2 != nil || a < 0 || b <= a || len(parts) > 0 && a <= parts[len(parts)-1].To {
			return nil, false
		}
		parts = append(parts, Stretch{a, b})
	}
	return parts, true
}

// grow measures a stretch and writes the log anew, with what it had of other parts.
func (l *Keeper) grow(ctx context.Context, c *comparison.Capture, probed media.Capture, h head, whole Stretch,
	progress func(done, total int64)) error {
	if media.SameFile(c.Video, c.Pacing.Log) {
		return &finding.Error{Msg: fmt.Sprintf("the log %s is the capture itself", c.Pacing.Log)}
	}
	parts := []Stretch{whole}
	var frames []pacing.Frame
	for _, part := range h.parts {
		if part.From >= whole.From && part.To <= whole.To {
			continue
		}
		parts = append(parts, part)
		old, err := framesIn(c.Pacing.Log, probed, part)
		if err != nil {
			return err
		}
		frames = append(frames, old...)
	}
	m := Measured{Log: c.Pacing.Log, Capture: probed}
	kept := len(frames)
	o := Options{Settings: SettingsOf(c), From: whole.From, To: whole.To}
	var err error
	m.Summary, err = m.measure(ctx, l.Tools, o, progress, func(f pacing.Frame) error {
		frames = append(frames, f)
		return nil
	}, func() error { frames = frames[:kept]; return nil })
	if err != nil {
		return err
	}
	slices.SortFunc(frames, func(a, b pacing.Frame) int { return cmp.Compare(a.Begin, b.Begin) })
	slices.SortFunc(parts, func(a, b Stretch) int { return cmp.Compare(a.From, b.From) })
	var rows []byte
	notes := false
	for _, f := range frames {
		notes = notes || f.Noted()
		rows = pacing.AppendRow(rows, f, true)
	}
	var words []string
	for _, p := range parts {
		words = append(words, p.From.String()+" to "+p.To.String())
	}
	o.From, o.To = 0, 0
	comments := append(append(headOf(m.Capture), o.describe()...), partsAre+strings.Join(words, ", "))
	if m.Summary.LeftOut {
		comments = append(comments, leavesOut)
	}
	return scratch.Write(m.Log, func(w io.Writer) error {
		return writeRows(w, comments, bytes.NewReader(rows), notes, h.origin)
	})
}

// framesIn reads the frames of a log that begin in a part of it.
func framesIn(log string, c media.Capture, part Stretch) (list []pacing.Frame, err error) {
	f, err := scratch.Open(log)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	s := pacing.NewScanner(f, log, pacing.Format{}, c.Rate)
	s.Count(c.TimeOf)
	for s.Scan() {
		switch r := s.Record(); {
		case r.Err != nil:
			return nil, r.Err
		case r.Frame.Begin >= part.From && r.Frame.Begin < part.To:
			list = append(list, r.Frame)
		}
	}
	return list, s.Err()
}
