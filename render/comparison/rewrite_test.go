package comparison

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

const head = "# kept\ncaptures:\n  alder: {video: a.mkv}   # ä\n  birch: {video: b.mkv}\n  cedar: {video: c.mkv}\ndefaults: {captures: [alder, birch], length: 2s, deck: {place: none}}\nscenes:\n"

// TestSetStarts: the starts change, in whatever way they are written, and not a
// byte besides.
func TestSetStarts(t *testing.T) {
	for name, c := range map[string]struct{ in, out string }{
		"flow": {
			"  - {id: x, start: {alder: 1s, birch: f20}, caption: \"ü, ö\"} # no\n",
			"  - {id: x, start: {alder: 1s, birch: 3.25s}, caption: \"ü, ö\"} # no\n",
		},
		"block": {
			"  - id: x\n    start:\n      birch: '00:00:01.500'  # late\n\n      alder: 1s\n    caption: hi\n",
			"  - id: x\n    start:\n      birch: 3.25s  # late\n\n      alder: 1s\n    caption: hi\n",
		},
		"after text that is not ASCII": {
			"  - {id: x, caption: ÄÖÜ – ß, start: {alder: 1s, birch: 2s}}\n",
			"  - {id: x, caption: ÄÖÜ – ß, start: {alder: 1s, birch: 3.25s}}\n",
		},
		"one for all": {
			"  - id: x\n    start: 1s # both\n    caption: hi\n",
			"  - id: x\n    start: {alder: 1s, birch: 3.25s} # both\n    caption: hi\n",
		},
		"another scene of the same start": {
			"  - {id: w, start: 1s}\n  - {id: x, start: 1s}\n  - {id: y, start: 1s}\n",
			"  - {id: w, start: 1s}\n  - {id: x, start: {alder: 1s, birch: 3.25s}}\n  - {id: y, start: 1s}\n",
		},
		"carriage returns": {
			"  - id: x\r\n    start:\r\n      alder: 1s\r\n      birch: 2s\r\n",
			"  - id: x\r\n    start:\r\n      alder: 1s\r\n      birch: 3.25s\r\n",
		},
	} {
		got, err := SetStarts("c.yaml", []byte(head+c.in), "x", map[string]string{"birch": "3.25s"})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if string(got) != head+c.out {
			t.Errorf("%s: got\n%s\nwant\n%s", name, got, head+c.out)
		}
	}
}

// TestSetStartsFromDefaults: a start that comes from the defaults is set in the
// scene, because other scenes may need the defaults'.
func TestSetStartsFromDefaults(t *testing.T) {
	defaults := strings.Replace(head, "length: 2s", "length: 2s, start: {alder: 1s, birch: 1s}", 1)
	for name, c := range map[string]struct{ in, out string }{
		"block": {
			"  - id: x  # the one\n    caption: hi\n  - id: y\n",
			"  - id: x  # the one\n    start: {alder: 1s, birch: 3.25s}\n    caption: hi\n  - id: y\n",
		},
		"flow": {"  - {id: x}\n", "  - {id: x, start: {alder: 1s, birch: 3.25s}}\n"},
		"before the output": {
			"  - id: x\noutput:\n  delivery: web\n",
			"  - id: x\n    start: {alder: 1s, birch: 3.25s}\noutput:\n  delivery: web\n",
		},
		"one of two in a flow": {
			"  - {id: x, start: {alder: 2s}}\n",
			"  - {id: x, start: {alder: 2s, birch: 3.25s}}\n",
		},
		"one of two in a block": {
			"  - id: x\n    start:\n      alder: 2s # stays\n    caption: hi\n",
			"  - id: x\n    start:\n      alder: 2s # stays\n      birch: 3.25s\n    caption: hi\n",
		},
		"at the end, without a line break": {"  - id: x", "  - id: x\n    start: {alder: 1s, birch: 3.25s}"},
	} {
		got, err := SetStarts("c.yaml", []byte(defaults+c.in), "x", map[string]string{"birch": "3.25s"})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if string(got) != defaults+c.out {
			t.Errorf("%s: got\n%s\nwant\n%s", name, got, defaults+c.out)
		}
	}
}

// TestSetStartsRefuses: what cannot be set is an error and not a guess.
func TestSetStartsRefuses(t *testing.T) {
	good := head + "  - {id: x, start: 1s}\n"
	for name, c := range map[string]struct {
		text, scene string
		starts      map[string]string
		want        string
	}{
		"no such scene":     {good, "z", map[string]string{"birch": "1s"}, `no scene "z"`},
		"not shown":         {good, "x", map[string]string{"cedar": "1s"}, `does not show capture "cedar"`},
		"no time":           {good, "x", map[string]string{"birch": "1s, x: {}"}, "is not a time"},
		"a broken file":     {"scenes: 1\n", "x", map[string]string{"birch": "1s"}, "captures"},
		"over two lines":    {head + "  - id: x\n    start:\n      alder: 1s\n      birch:\n        >-\n        2s\n", "x", map[string]string{"birch": "1s"}, "cannot be edited"},
		"escaped in quotes": {head + "  - {id: x, start: {alder: 1s, birch: \"2\\u0073\"}}\n", "x", map[string]string{"birch": "1s"}, "cannot be edited"},
	} {
		if got, err := SetStarts("c.yaml", []byte(c.text), c.scene, c.starts); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want %q\n%s", name, err, c.want, got)
		}
	}
}

// style is a way to write a comparison file.
type style struct{ *rand.Rand }

func (s style) one(of ...string) string { return of[s.IntN(len(of))] }

// word writes a plain word, maybe in quotes.
func (s style) word(text string) string {
	q := s.one("", "", "'", `"`)
	return q + text + q
}

// sep is what stands between a key's colon and its value on the same line.
func (s style) sep() string { return s.one(" ", " ", "  ", " \t", "\t") }

// comment is none, or one behind a value.
func (s style) comment() string {
	return s.one("", "", " # bleibt: {start: 9s}", "\t# 注: \"start\"", "   #", " # ü 'x")
}

// starts writes a start as a flow mapping or a scalar; block says that it may be one
// over several lines, indented by indent.
func (s style) starts(indent string, block bool) string {
	alder, birch := s.one("1s", "f20", "00:00:01.500", "00:00:01:15", "250ms"), s.one("2s", "f7", "00:01:00")
	pairs := []string{s.word("alder") + ":" + s.sep() + s.word(alder), s.word("birch") + ":" + s.sep() + s.word(birch)}
	if s.IntN(2) == 0 {
		slices.Reverse(pairs)
	}
	if s.IntN(5) == 0 {
		pairs = pairs[:1] // the other one from the defaults
	}
	switch {
	case s.IntN(4) == 0:
		return s.sep() + s.word(alder)
	case !block || s.IntN(2) == 0:
		gap := s.one("", " ")
		return s.sep() + "{" + gap + strings.Join(pairs, s.one(", ", " , ", ",  ")) + s.one("", ",") + gap + "}"
	}
	text := s.comment()
	deeper := indent + s.one("  ", "    ", " ")
	for _, p := range pairs {
		text += "\n" + s.one("", "", deeper+"# davor\n", "\n") + deeper + p + s.comment()
	}
	return text
}

// scene writes the scene x.
func (s style) scene(dash, id string) string {
	caption := s.one("ü: ö", "Launch", "日本 #no comment? yes", "it's")
	if strings.ContainsAny(caption, ":#'") {
		caption = `"` + caption + `"`
	}
	if s.IntN(3) == 0 {
		parts := []string{"id: " + id, "caption: " + caption}
		if s.IntN(4) > 0 {
			parts = append(parts, s.word("start")+":"+s.starts("", false))
		}
		s.Shuffle(len(parts), func(i, j int) { parts[i], parts[j] = parts[j], parts[i] })
		wrap := s.one(", ", ",\n"+strings.Repeat(" ", len(dash)+3))
		return dash + "{" + strings.Join(parts, wrap) + "}" + s.comment() + "\n"
	}
	indent := strings.Repeat(" ", len(dash))
	parts := []string{"id:" + s.sep() + s.word(id) + s.comment(), "caption: " + caption + s.comment()}
	if s.IntN(4) > 0 {
		parts = append(parts, s.word("start")+":"+s.starts(indent, true)+s.comment0())
	}
	s.Shuffle(len(parts), func(i, j int) { parts[i], parts[j] = parts[j], parts[i] })
	return dash + strings.Join(parts, "\n"+s.one("", indent+"# dazwischen\n")+indent) + "\n"
}

// comment0 ends what may end in a comment already.
func (s style) comment0() string { return s.one("", "  ") }

// file writes a whole comparison file.
func (s style) file() string {
	text := s.one("", "---\n", "# oben\n\n") + "captures:\n  alder: {video: a.mkv}   # ä\n  birch: {video: b.mkv}\n" +
		"defaults: {captures: [alder, birch], length: 2s, start: " + s.one("{alder: 3s, birch: 4s}", "5s") + ", deck: {place: none}}\n" + "scenes:" + s.comment() + "\n"
	dash := s.one("- ", "  - ", "    -   ")
	var scenes []string
	for _, id := range []string{"w", "x", "y"} {
		scenes = append(scenes, s.scene(dash, id))
	}
	s.Shuffle(3, func(i, j int) { scenes[i], scenes[j] = scenes[j], scenes[i] })
	text += strings.Join(scenes, s.one("", "\n", "# unten\n"))
	switch s.IntN(4) {
	case 0:
		text = strings.ReplaceAll(text, "\n", "\r\n")
	case 1:
		text = "\ufeff" + text
	case 2:
		text = strings.TrimRight(text, "\n")
	}
	return text
}

// TestSetStartsVariety: two thousand files, each written in another way: the starts
// are set in all of them, every comment and every other line stays as it is.
func TestSetStartsVariety(t *testing.T) {
	failed := 0
	for seed := range uint64(2000) {
		text := style{rand.New(rand.NewPCG(seed, 1))}.file()
		if _, err := Parse("c.yaml", []byte(text)); err != nil {
			t.Fatalf("file %d is none: %v\n%s", seed, err, text)
		}
		got, err := SetStarts("c.yaml", []byte(text), "x", map[string]string{"birch": "3.25s"})
		if err == nil {
			err = onlyStarts(text, string(got), true)
		}
		if err != nil {
			t.Errorf("file %d: %v\n%s\nbecame\n%s", seed, err, text, got)
			if failed++; failed > 5 {
				return
			}
		}
	}
}

// onlyStarts compares a file with what SetStarts made of it, in which birch starts
// scene x at 3.25s: at most two lines were touched, one added, and no comment lost.
// comments says that a # before a blank begins one.
func onlyStarts(before, after string, comments bool) error {
	f, err := Parse("c.yaml", []byte(after))
	if err != nil {
		return err
	}
	s, err := f.Scene("x")
	if err != nil {
		return err
	}
	if got := s.Start["birch"].String(); got != "3.25s" {
		return fmt.Errorf("birch starts at %s", got)
	}
	was, is := strings.SplitAfter(before, "\n"), strings.SplitAfter(after, "\n")
	head := 0
	for head < min(len(was), len(is)) && was[head] == is[head] {
		head++
	}
	tail := 0
	for tail < min(len(was), len(is))-head && was[len(was)-1-tail] == is[len(is)-1-tail] {
		tail++
	}
	lost, made := was[head:len(was)-tail], is[head:len(is)-tail]
	if len(lost) > 2 || len(made) > len(lost)+1 {
		return fmt.Errorf("%d lines became %d: %q, %q", len(lost), len(made), lost, made)
	}
	for _, line := range lost {
		if i := strings.Index(line, "# "); i >= 0 && comments && !strings.Contains(strings.Join(made, ""), strings.TrimRight(line[i:], "\r\n")) {
			return fmt.Errorf("the comment of %q is gone", line)
		}
	}
	again, err := SetStarts("c.yaml", []byte(after), "x", map[string]string{"birch": "3.25s"})
	if err != nil || string(again) != after {
		return fmt.Errorf("set again it becomes %q, %v", again, err)
	}
	return nil
}

// FuzzSetStarts: whatever the file, the result is the same comparison with the
// new start and every other line in its place, or an error.
func FuzzSetStarts(f *testing.F) {
	f.Add(head + "  - {id: x, start: {alder: 1s, birch: f20}}\n")
	f.Add(head + "  - id: x\n    start: \"1s\" # ü\n")
	f.Add("\ufeff" + head + "  - id: x\n    start:\n      'alder': 1s\n      \"birch\": 1s\n")
	f.Add(head + "  - {id: w, start: &s 1s}\n  - {id: x, start: *s}\n")
	f.Add(head + "  - &w {id: w, start: 1s}\n  - {<<: *w, id: x}\n")
	f.Add(head + "  - id: x\n    ? start\n    : 1s\n")
	f.Add(head + "  - id: x\n    start: !!str 1s\n")
	f.Add(head + "  - id: x\n    start: >-\n      1s\n")
	f.Add(head + "  - id: x\n    start: |-\n      1s\n    caption: hi\n")
	f.Add(head + "  - id: x\n    caption: \"start: {birch: 1s}\"\n    start: {alder: 1s,\n      birch: 2s} # c\n")
	f.Add(head + "  - id: x\n    start: {\"alder\": \"1s\", 'birch': \"2\\x73\"}\n")
	for seed := range uint64(40) {
		f.Add(style{rand.New(rand.NewPCG(seed, 2))}.file())
	}
	f.Fuzz(func(t *testing.T, text string) {
		got, err := SetStarts("c.yaml", []byte(text), "x", map[string]string{"birch": "3.25s"})
		if err != nil {
			return
		}
		if err := onlyStarts(text, string(got), false); err != nil {
			t.Fatalf("%v\n%q\n%q", err, text, got)
		}
	})
}

// TestSetLogStarts: the starts of logs change, however they are named, and not a byte
// besides.
func TestSetLogStarts(t *testing.T) {
	const rest = "defaults: {captures: [alder, birch], start: 1s, length: 2s}\nscenes: [{id: x}]\n"
	for name, c := range map[string]struct{ in, out string }{
		"a path": {
			"# kept\ncaptures:\n  alder: {video: a.mkv, pacing: a.csv} # ä\n  birch: {video: b.mkv, pacing: measure}\n",
			"# kept\ncaptures:\n  alder: {video: a.mkv, pacing: {file: a.csv, starts: -3.25s}} # ä\n  birch: {video: b.mkv, pacing: measure}\n"},
		"a path in a block": {
			"captures:\n  alder:\n    video: a.mkv\n    pacing: 'my logs/a.csv' # here\n  birch: {video: b.mkv, pacing: measure}\n",
			"captures:\n  alder:\n    video: a.mkv\n    pacing: {file: 'my logs/a.csv', starts: -3.25s} # here\n  birch: {video: b.mkv, pacing: measure}\n"},
		"starts already": {
			"captures:\n  alder: {video: a.mkv, pacing: {starts: 2s, file: a.csv}}\n  birch: {video: b.mkv, pacing: measure}\n",
			"captures:\n  alder: {video: a.mkv, pacing: {starts: -3.25s, file: a.csv}}\n  birch: {video: b.mkv, pacing: measure}\n"},
		"a block": {
			"captures:\n  alder:\n    video: a.mkv\n    pacing:\n      file: a.csv\n      column: ms\n      means: frame-time # each\n  birch: {video: b.mkv, pacing: measure}\n",
			"captures:\n  alder:\n    video: a.mkv\n    pacing:\n      file: a.csv\n      column: ms\n      means: frame-time # each\n      starts: -3.25s\n  birch: {video: b.mkv, pacing: measure}\n"},
		"commas": {
			"captures:\n  alder:\n    video: a.mkv\n    pacing: a,b.csv\n  birch: {video: b.mkv, pacing: measure}\n",
			"captures:\n  alder:\n    video: a.mkv\n    pacing: {file: 'a,b.csv', starts: -3.25s}\n  birch: {video: b.mkv, pacing: measure}\n"},
	} {
		got, err := SetLogStarts("c.yaml", []byte(c.in+rest), map[string]string{"alder": "-3.25s"})
		if err != nil || string(got) != c.out+rest {
			t.Errorf("%s: %v\n%s", name, err, got)
		}
	}
}
