package comparison

import (
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

// FuzzSetStarts: whatever the file, the result is the same comparison with the
// new start, or an error.
func FuzzSetStarts(f *testing.F) {
	f.Add(head + "  - {id: x, start: {alder: 1s, birch: f20}}\n")
	f.Add(head + "  - id: x\n    start: \"1s\" # ü\n")
	f.Add("\ufeff" + head + "  - id: x\n    start:\n      'alder': 1s\n      \"birch\": 1s\n")
	f.Fuzz(func(t *testing.T, text string) {
		got, err := SetStarts("c.yaml", []byte(text), "x", map[string]string{"birch": "3.25s"})
		if err != nil {
			return
		}
		file, err := Parse("c.yaml", got)
		if err != nil {
			t.Fatal(err)
		}
		s, err := file.Scene("x")
		if err != nil || s.Start["birch"].String() != "3.25s" {
			t.Fatalf("%v, %v", s, err)
		}
	})
}
