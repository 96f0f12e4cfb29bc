package handoff

import (
	"bufio"
	"fmt"
	"io"
	"math/big"
	"path/filepath"
	"strings"
	"unicode"

	"fairframe/render/comparison"
	"fairframe/render/pacing"
)

// Limits of an edit decision list.
const (
	mostEvents  = 999 // event numbers have three digits (from memory)
	mostFrames  = 100 // a second: labels have two digits for the frame
	reelLetters = 8
)

// edl writes the timeline as an edit decision list in the way of CMX 3600: one
// cut of a clip for each scene. What such a list cannot hold (captures, marks)
// stands in comments.
func (t *Timeline) edl(w io.Writer, folder string) error {
	if len(t.Scenes) > mostEvents {
		return fmt.Errorf("handoff: %d scenes in an EDL, which holds %d events", len(t.Scenes), mostEvents)
	}
	hour, drop, err := recordStart(t.Rate)
	if err != nil {
		return fmt.Errorf("handoff: no EDL at %s frames a second: %w", t.Rate, err)
	}
	starts := t.starts()
	if end := t.Rate.TimeOf(hour + starts[len(t.Scenes)]); end.Hours() >= 23.9 {
		return fmt.Errorf("handoff: an EDL ends within 24 h, this one after %.1f h", end.Hours())
	}
	e := &edlWriter{Writer: bufio.NewWriter(w)}
	e.line("TITLE: %s", t.title())
	counting := "NON-DROP FRAME"
	if drop {
		counting = "DROP FRAME"
	}
	e.line("FCM: %s", counting)
	e.line("* %s FRAMES A SECOND: AN EDL DOES NOT SAY, THE PROGRAM THAT READS IT MUST BE TOLD", t.Rate)
	e.line(
		"* ONE EVENT A SCENE; CAPTURES, SPANS AND HITCHES ARE COMMENTS. SOUND AND PICTURE ARE CUT TOGETHER")
	reels := reelNames(t.Scenes)
	for i := range t.Scenes {
		s := &t.Scenes[i]
		record := func(n int64) string { return e.label(hour+starts[i]+n, t.Rate, drop) }
		source := func(n int64) string { return e.label(s.Clip.label(n), t.Rate, s.Clip.Drop) }
		channels := "V"
		if s.Sound {
			channels = "AA/V"
		}
		e.line("")
		e.line("%03d  %-8s %-5s C        %s %s %s %s",
			i+1, reels[i], channels, source(0), source(s.Frames), record(0), record(s.Frames))
		e.line("* FROM CLIP NAME:  %s", filepath.Base(s.Clip.Path))
		e.line("* CLIP: %s", relative(folder, s.Clip.Path))
		if s.Caption != "" {
			e.line("* CAPTION: %s", s.Caption)
		}
		if s.Clip.Drop != drop {
			e.line("* THE CLIP'S TIME CODE IS COUNTED IN ANOTHER WAY THAN THE RECORD'S")
		}
		for _, shot := range s.Shots {
			e.shot(t, s, shot, folder, record)
		}
	}
	if e.err != nil {
		return e.err
	}
	return e.Flush()
}

type edlWriter struct {
	*bufio.Writer
	err error
}

// line writes one line: user text in it cannot begin another.
func (e *edlWriter) line(format string, args ...any) {
	text := strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, fmt.Sprintf(format, args...))
	if _, err := e.WriteString(strings.TrimRight(text, " ") + "\r\n"); e.err == nil {
		e.err = err
	}
}

// label is a frame's time code.
func (e *edlWriter) label(n int64, r pacing.Rate, drop bool) string {
	text, err := comparison.Timecode(n, r, drop)
	if err != nil && e.err == nil {
		e.err = fmt.Errorf("handoff: %w", err)
	}
	return text
}

// shot tells of a capture in comments.
func (e *edlWriter) shot(t *Timeline, s *Scene, shot Shot, folder string, record func(int64) string) {
	c := shot.Capture
	e.line("* CAPTURE: %s: %s", shot.Name, relative(folder, c.Path))
	for _, r := range shot.Runs {
		how := ""
		switch {
		case r.held():
			how = ", HELD"
		case r.speed().Cmp(big.NewRat(1, 1)) != 0:
			how = ", SPEED " + r.Speed.RatString()
		}
		from, to := c.Rate.FrameAt(r.From), c.Rate.FrameAt(r.until(t.Rate))
		what := "FRAMES"
		if c.Variable {
			what = fmt.Sprintf("VARIABLE RATE, COUNTED AT %s FRAMES A SECOND:", c.Rate)
		}
		e.line("*   %s %d TO %d (%.3f S TO %.3f S) AT %s%s",
			what, from, max(from, to-1), r.From.Seconds(), r.until(t.Rate).Seconds(), record(r.At), how)
	}
	for _, m := range shot.Marks {
		for _, at := range shot.Shown(m.From, m.To, t.Rate) {
			e.line("* MARK: %s %s", record(min(t.Rate.FrameAt(at.From), s.Frames-1)), m.Name)
		}
	}
}

// recordStart is the frame that bears the label of the timeline's beginning, one
// hour (common practice), and whether labels are counted in drop-frame.
func recordStart(r pacing.Rate) (n int64, drop bool, err error) {
	if r.Hz() > mostFrames {
		return 0, false, fmt.Errorf("its time codes have two digits for the frame")
	}
	label := "01:00:00:00"
	if drop = dropFrame(r); drop {
		label = "01:00:00;00"
	}
	parsed, err := comparison.ParseTime(label)
	if err != nil {
		return 0, false, err
	}
	at, err := parsed.At(r)
	if err != nil {
		return 0, false, err
	}
	return r.FrameAt(at), drop, nil
}

// dropFrame reports whether drop-frame counting belongs to a rate.
func dropFrame(r pacing.Rate) bool {
	return r == pacing.Rate{Num: 30000, Den: 1001} || r == pacing.Rate{Num: 60000, Den: 1001}
}

// reelNames are the scenes' ids in at most eight capitals and digits, each
// another, and none of those that mean something of their own.
func reelNames(scenes []Scene) []string {
	taken := map[string]bool{"": true, "AX": true, "BL": true, "BLACK": true, "BARS": true}
	list := make([]string, len(scenes))
	for i, s := range scenes {
		plain := strings.Map(func(r rune) rune {
			if r = unicode.ToUpper(r); 'A' <= r && r <= 'Z' || '0' <= r && r <= '9' {
				return r
			}
			return -1
		}, s.ID)
		name := plain[:min(len(plain), reelLetters)]
		for n := 2; taken[name]; n++ {
			tail := fmt.Sprint(n)
			if plain == "" {
				tail = fmt.Sprint(i + n - 1)
			}
			head := plain
			if head == "" {
				head = "SCENE"
			}
			name = head[:min(len(head), reelLetters-len(tail))] + tail
		}
		taken[name] = true
		list[i] = name
	}
	return list
}
