package handoff

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"
	"time"
	"unicode"
	"unicode/utf8"
)

// FuzzNames puts any names, captions and times into a timeline: whatever they say,
// no line of an EDL or of WebVTT becomes another one, and OpenTimelineIO stays JSON.
func FuzzNames(f *testing.F) {
	f.Add("Kestrel Pass", "ridge", "A caption", "Alder", "captures/alder.mkv", int64(0), int64(time.Second))
	f.Add("a\nb", "001", "x\r\n002  AX V C", "--> <b>&amp;", "a b%d'\".mkv", int64(-5), int64(1<<62))
	f.Add("\u2028\u2029\x00\x1b", "WEBVTT", "NOTE x\n\n00:00.000 --> 00:01.000", "\xff\xfe", "../../..", int64(1<<40), int64(3))
	plain := map[string]int{}
	for _, ext := range []string{"edl", "vtt", "otio"} {
		plain[ext] = strings.Count(written(f, made(hz60), "x."+ext), "\n")
	}
	f.Fuzz(func(t *testing.T, title, id, caption, name, path string, from, length int64) {
		line := made(hz60)
		line.Title = title
		s := &line.Scenes[0]
		s.ID, s.Caption = id, caption
		s.Shots[0].Name, s.Shots[0].Capture.Path, s.Clip.Path = name, path, path
		s.Shots[0].Marks[0].Words, s.Shots[0].Marks[0].From, s.Shots[0].Marks[0].To = caption, time.Duration(from), time.Duration(from+max(0, min(length, 1<<40)))
		for _, ext := range []string{"edl", "vtt", "otio"} {
			var b strings.Builder
			if err := line.Write(&b, "x."+ext); err != nil {
				if b.Len() > 0 && !errors.Is(err, errors.ErrUnsupported) {
					t.Logf("%s: %v", ext, err)
				}
				continue
			}
			text := b.String()
			if !utf8.ValidString(text) {
				t.Errorf("%s is not UTF-8: %q", ext, text)
			}
			switch ext {
			case "otio":
				if !json.Valid([]byte(text)) {
					t.Errorf("no JSON: %s", text)
				}
			case "edl":
				events := 0
				for l := range strings.Lines(text) {
					l = strings.TrimSuffix(strings.TrimSuffix(l, "\n"), "\r") // as the format ends its lines
					if strings.ContainsFunc(l, unicode.IsControl) {
						t.Errorf("a control character in %q", l)
					}
					if len(l) > 3 && l[0] >= '0' && l[0] <= '9' {
						events++
					}
				}
				if events != len(line.Scenes) {
					t.Errorf("%d events of %d scenes:\n%s", events, len(line.Scenes), text)
				}
			case "vtt":
				if arrows := strings.Count(text, " --> "); arrows > plain["vtt"] || strings.Contains(text, "\r") {
					t.Errorf("%d cues:\n%s", arrows, text)
				}
				for i, block := range strings.Split(strings.TrimRight(text, "\n"), "\n\n") {
					lines := strings.Split(block, "\n")
					if i > 1 && (len(lines) != 3 || strings.Contains(lines[0], "-->") || strings.Contains(lines[2], "-->") || !strings.Contains(lines[1], " --> ")) {
						t.Errorf("block %d is %q", i, block)
					}
				}
			}
		}
	})
}
