package comparison

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// maxDepth bounds how deep a file may nest. The deepest key is center in a window of a
// capture in a scene.
const maxDepth = 20

// load parses data into its one YAML node, or returns nil after adding what is
// wrong with it. Anchors, aliases, merge keys and tags are refused: the file
// has defaults for what scenes share, and without aliases no small file can
// grow into a large one.
func (d *decoder) load(data []byte) *yaml.Node {
	top := &yaml.Node{Line: 1, Column: 1}
	if i := invalidUTF8(data); i >= 0 {
		line := 1 + bytes.Count(data[:i], []byte("\n"))
		d.failAt(pos{line: line, col: 1},
			"save the file as UTF-8, or name the comparison file, if this is another one",
			"the text is not UTF-8")
		return nil
	}
	var doc, more yaml.Node
	r := yaml.NewDecoder(bytes.NewReader(data))
	if err := r.Decode(&doc); err != nil && !errors.Is(err, io.EOF) {
		d.syntax(data, err)
		return nil
	}
	if len(doc.Content) == 0 || isNull(doc.Content[0]) {
		d.fail(top, "`fairframe demo DIR` writes one to start from", "the file holds no comparison")
		return nil
	}
	root := doc.Content[0]
	switch err := r.Decode(&more); {
	case err == nil:
		d.fail(&more, "put all scenes under one scenes:",
			"a second YAML document begins here; a comparison file has only one")
		return nil
	case !errors.Is(err, io.EOF):
		d.syntax(data, err)
		return nil
	case !d.plain(root, 1):
		return nil
	case root.Kind != yaml.MappingNode:
		d.fail(root, "`fairframe demo DIR` writes one to start from",
			"expected the keys captures and scenes, found %s", found(root))
		return nil
	}
	return root
}

// invalidUTF8 returns where data stops being UTF-8, or -1. A zero byte counts
// too: it is how UTF-16 shows.
func invalidUTF8(data []byte) int {
	for i := 0; i < len(data); {
		r, n := utf8.DecodeRune(data[i:])
		if r == utf8.RuneError && n == 1 || r == 0 {
			return i
		}
		i += n
	}
	return -1
}

// plain reports whether n is made of nothing but mappings, lists and values.
func (d *decoder) plain(n *yaml.Node, depth int) bool {
	const hint = "write the value out; what scenes share goes under defaults:"
	switch {
	case depth > maxDepth:
		return d.fail(n, "", "nested more than %d deep", maxDepth)
	case n.Kind == yaml.AliasNode:
		return d.fail(n, hint, "aliases such as *%s are not used here", visible(n.Value))
	case n.Anchor != "":
		return d.fail(n, hint, "anchors such as &%s are not used here", visible(n.Anchor))
	case n.Style&yaml.TaggedStyle != 0:
		return d.fail(n, "remove the tag; text that begins with ! needs quotes",
			"tags such as %s are not used here", visible(n.Tag))
	case n.Kind == yaml.ScalarNode && n.ShortTag() == "!!merge":
		return d.fail(n, hint, "merge keys are not used here")
	}
	ok := true
	for _, c := range n.Content {
		ok = d.plain(c, depth+1) && ok
	}
	return ok
}

var (
	yamlLine    = regexp.MustCompile(`^line (\d+): `)
	yamlUnknown = regexp.MustCompile(`^unknown anchor '(.*)' referenced$`)
)

// syntax adds the YAML parser's error, with the best place that is known, and a hint for
// the most common mistakes.
func (d *decoder) syntax(data []byte, err error) {
	msg := strings.TrimPrefix(err.Error(), "yaml: ")
	lines := strings.SplitAfter(string(data), "\n")
	at := pos{line: mistaken(data, lines)}
	if m := yamlLine.FindStringSubmatch(msg); m != nil {
		if at.line == 0 {
			at.line, _ = strconv.Atoi(m[1])
		}
		msg = strings.TrimPrefix(msg, m[0])
	}
	at.line = max(1, min(at.line, len(lines)))
	text := lines[at.line-1]
	at.col = 1 + len(text) - len(strings.TrimLeft(text, " \t"))
	hint := ""
	if m := yamlUnknown.FindStringSubmatch(msg); m != nil {
		if i := strings.Index(text, "*"+m[1]); i >= 0 {
			at.col = utf8.RuneCountInString(text[:i]) + 1
		}
		msg = fmt.Sprintf("aliases such as *%s are not used here", visible(m[1]))
		hint = "text that begins with * needs quotes"
	} else if i := strings.IndexByte(text[:at.col-1], '\t'); i >= 0 {
		at.col = i + 1
		msg = "a tab stands where spaces indent"
		hint = "indent with spaces"
	} else {
		switch msg {
		case "mapping values are not allowed in this context":
			hint = "text that holds ': ' needs quotes, such as caption: \"Ridge: clear sky\""
		case "did not find expected ',' or '}'", "did not find expected ',' or ']'":
			hint = "text that holds ': ' or a comma needs quotes"
		case "found unknown escape character", "did not find expected hexdecimal number":
			hint = "between \" and \" a \\ begins an escape: write paths with /"
		case "did not find expected alphabetic or numeric character":
			hint = "text that begins with * or & needs quotes"
		case "found character that cannot start any token":
			hint = "text that begins with @, ` or % needs quotes"
		}
		msg = "not YAML: " + msg
	}
	d.failAt(at, hint, "%s", msg)
}

// mistaken returns the line that turns YAML into something else: the one after
// the longest run of lines from the top that can be parsed. The parser's own
// line is often that of the mapping around it. 0 means it would take too long
// to find out.
func mistaken(data []byte, lines []string) int {
	for budget, n := 8*maxSize, len(lines); n > 0 && len(data) <= budget; n-- {
		budget -= len(data)
		data = data[:len(data)-len(lines[n-1])]
		var doc yaml.Node
		r := yaml.NewDecoder(bytes.NewReader(data))
		err := r.Decode(&doc)
		for err == nil {
			err = r.Decode(&doc)
		}
		if errors.Is(err, io.EOF) {
			return n
		}
	}
	return 0
}
