package handoff

import (
	"bufio"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
	"unicode"
)

// vtt writes the spans as WebVTT (W3C) cues over the timeline's clips played one
// after the other: who does what, for as long as it is on screen.
func (t *Timeline) vtt(w io.Writer) error {
	out := bufio.NewWriter(w)
	fmt.Fprintf(out,
		"WEBVTT - %s\n\nNOTE Spans of each capture; times in the words count from their scene's start.\n",
		vttLine(t.title()))
	starts := t.starts()
	type cue struct {
		id       string
		from, to time.Duration
		text     string
	}
	var cues []cue
	for i := range t.Scenes {
		s := &t.Scenes[i]
		zero := t.Rate.TimeOf(starts[i])
		for _, shot := range s.Shots {
			n := 0
			for _, m := range shot.Marks {
				if m.Kind != Span {
					continue
				}
				for _, at := range shot.Shown(m.From, m.To, t.Rate) {
					n++
					one := cue{fmt.Sprintf("%s/%s/%d", s.ID, shot.Key, n), zero + at.From, zero + at.To,
						fmt.Sprintf("<v %s>%s", vttText(shot.Name), vttText(m.Words))}
					one.to = max(one.to, one.from+time.Millisecond)
					if one.from < t.Rate.TimeOf(starts[i+1]) {
						cues = append(cues, one)
					}
				}
			}
		}
	}
	// In the order of their beginnings, which the format asks for.
	slices.SortStableFunc(cues, func(a, b cue) int { return int(stamp(a.from) - stamp(b.from)) })
	for _, c := range cues {
		fmt.Fprintf(out, "\n%s\n%s --> %s\n%s\n", vttLine(c.id), vttTime(c.from), vttTime(c.to), c.text)
	}
	return out.Flush()
}

// stamp is a time in whole milliseconds.
func stamp(d time.Duration) int64 { return int64((d + time.Millisecond/2) / time.Millisecond) }

func vttTime(d time.Duration) string {
	ms := stamp(d)
	return fmt.Sprintf("%02d:%02d:%02d.%03d", ms/3_600_000, ms/60_000%60, ms/1000%60, ms%1000)
}

// vttLine is text for a place where neither line ends nor arrows may stand.
func vttLine(s string) string { return strings.ReplaceAll(oneLine(s), "-->", "->") }

// vttText is a cue's text or a voice's name: the two characters that mean something are escaped,
// and the third, so that no arrow comes about.
func vttText(s string) string {
	return strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;").Replace(oneLine(s))
}

// oneLine has no control characters.
func oneLine(s string) string {
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return ' '
		}
		return r
	}, s))
}
