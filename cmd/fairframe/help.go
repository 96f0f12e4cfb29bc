package main

import (
	"embed"
	"fmt"
	"io"
	"os"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"golang.org/x/term"
)

// manual holds a Markdown file for each topic of help. Its tables of keys are
// written by a test, go test ./cmd/fairframe -run Manual -update, from the types
// that read the comparison file.
//
//go:embed help/*.md
var manual embed.FS

// topics lists the manual's topics in the order in which a newcomer needs them.
func topics() []string {
	return []string{
		"commands", "file", "times", "windows", "views", "marks", "deck", "sound", "pages",
		"deliveries", "hdr",
		"recording", "pacing", "figures", "truth", "damage", "align", "check", "manifest",
		"handoff", "farm", "licences",
	}
}

// topic returns a topic's Markdown, or "" when there is none of that name.
func topic(name string) string {
	if !slices.Contains(topics(), name) {
		return ""
	}
	text, err := manual.ReadFile("help/" + name + ".md")
	if err != nil {
		panic(err) // a test reads all of them
	}
	return strings.ReplaceAll(string(text), "\r\n", "\n")
}

// helpOn prints the help on a command, a topic, or both where they share a name.
func helpOn(e *env, name string) error {
	text := topic(name)
	c, err := find(name)
	switch {
	case err == nil:
		flags, _ := e.flagsFor(c)
		commandHelp(e.stdout, c, flags)
		if text == "" {
			return nil
		}
		fmt.Fprintln(e.stdout)
	case text == "":
		var names []string
		for _, c := range commands() {
			names = append(names, c.name)
		}
		return oneOf("command or topic", name, append(names, topics()...)...)
	}
	fmt.Fprint(e.stdout, plain(text, columns(e.stdout)))
	return nil
}

// help prints what there is.
func help(w io.Writer) {
	fmt.Fprint(w, `fairframe renders comparison videos of captured play.

usage: fairframe COMMAND [flags] …

`)
	for _, c := range commands() {
		fmt.Fprintf(w, "  %-9s %s\n", c.name, c.short)
	}
	fmt.Fprint(w, "\ntopics:\n\n")
	for _, name := range topics() {
		title, _, _ := strings.Cut(topic(name), "\n")
		fmt.Fprintf(w, "  %-10s %s\n", name, strings.TrimPrefix(title, "# "))
	}
	fmt.Fprint(w, `
"fairframe help NAME" tells more about a command or a topic. A first clip, from an
empty folder:

  fairframe demo demo
  fairframe render demo/comparison.yaml --scene forest
`)
}

// columns returns how wide text may be: as wide as the terminal, but no wider than
// what is easy to read; 80 where there is no terminal.
func columns(w io.Writer) int {
	if f, is := w.(*os.File); is {
		if width, _, err := term.GetSize(int(f.Fd())); err == nil && width > 0 {
			return min(max(width, 40), 100)
		}
	}
	return 80
}

// plain turns the Markdown of a topic into text of so many columns. It knows what
// the topics use: headings, paragraphs, lists of one level, tables and code.
func plain(markdown string, width int) string {
	var b strings.Builder
	lines := strings.Split(strings.TrimSpace(markdown), "\n")
	for i := 0; i < len(lines); {
		line := lines[i]
		// A block ends before an empty line, and before a block of another kind.
		end := i + 1
		until := func(stop func(string) bool) []string {
			for end < len(lines) && !stop(lines[end]) {
				end++
			}
			return lines[i:end]
		}
		switch {
		case strings.HasPrefix(line, "```"):
			for _, code := range until(func(s string) bool { return s == "```" })[1:] {
				fmt.Fprintln(&b, strings.TrimRight("    "+code, " "))
			}
			end++
		case strings.HasPrefix(line, "#"):
			title := inline(strings.TrimLeft(line, "# "))
			rule := "-"
			if strings.HasPrefix(line, "# ") {
				rule = "="
			}
			fmt.Fprintf(&b, "%s\n%s\n", title, strings.Repeat(rule, utf8.RuneCountInString(title)))
		case strings.HasPrefix(line, "|"):
			writeTable(&b, until(func(s string) bool { return !strings.HasPrefix(s, "|") }), width)
		case strings.HasPrefix(line, "* "):
			item := until(func(s string) bool { return s == "" || strings.HasPrefix(s, "* ") })
			text := wrap(inline(strings.Join(item, " ")[2:]), width-2)
			fmt.Fprintf(&b, "* %s\n", strings.Join(text, "\n  "))
		case line == "":
			fmt.Fprintln(&b)
		case strings.HasPrefix(line, "<!--"): // marks a table that is written by a test
		default:
			text := until(func(s string) bool {
				return s == "" || strings.HasPrefix(s, "* ") || strings.HasPrefix(s, "```") ||
					strings.HasPrefix(s, "|")
			})
			fmt.Fprintln(&b, strings.Join(wrap(inline(strings.Join(text, " ")), width), "\n"))
		}
		i = end
	}
	return b.String()
}

var (
	link   = regexp.MustCompile(`\[([^]]+)\]\(([^)]+)\)`)
	strong = regexp.MustCompile(`\*\*([^*]+)\*\*`)
)

// inline turns Markdown within a line into text. A link to a topic says how to
// read that.
func inline(text string) string {
	text = link.ReplaceAllStringFunc(text, func(s string) string {
		m := link.FindStringSubmatch(s)
		name, isTopic := strings.CutSuffix(m[2], ".md")
		switch {
		case isTopic && slices.Contains(topics(), name):
			return m[1] + " (fairframe help " + name + ")"
		case strings.Contains(m[2], "://"):
			return m[1] + " (" + m[2] + ")"
		}
		return m[1]
	})
	return strong.ReplaceAllString(text, "$1")
}

// wrap breaks text into lines of so many characters where words allow it.
func wrap(text string, width int) []string {
	var lines []string
	line, length := "", 0
	for _, word := range strings.Fields(text) {
		n := utf8.RuneCountInString(word)
		if line != "" && length+1+n > width {
			lines = append(lines, line)
			line, length = "", 0
		}
		if line != "" {
			line, length = line+" ", length+1
		}
		line, length = line+word, length+n
	}
	return append(lines, line)
}

// writeTable writes a table of Markdown; the second of its rows is the rule.
func writeTable(b *strings.Builder, rows []string, width int) {
	var cells [][]string
	var widths []int
	for r, row := range rows {
		row = strings.ReplaceAll(strings.Trim(row, "| "), `\|`, "\x00")
		var list []string
		for c, cell := range strings.Split(row, "|") {
			cell = strings.ReplaceAll(inline(strings.TrimSpace(cell)), "\x00", "|")
			if c == 0 {
				cell = strings.ReplaceAll(cell, "`", "")
			}
			if c == len(widths) {
				widths = append(widths, 0)
			}
			if r != 1 {
				widths[c] = max(widths[c], utf8.RuneCountInString(cell))
			}
			list = append(list, cell)
		}
		cells = append(cells, list)
	}
	const gap = 2
	for over := sum(widths) + gap*(len(widths)-1) - width; over > 0; over-- {
		widest := slices.IndexFunc(widths, func(w int) bool { return w == slices.Max(widths) })
		widths[widest]--
	}
	for r, row := range cells {
		for c := range row {
			if r == 1 {
				row[c] = strings.Repeat("-", widths[c])
			}
		}
		writeRow(b, row, widths, gap)
	}
}

func writeRow(b *strings.Builder, row []string, widths []int, gap int) {
	lines := make([][]string, len(row))
	height := 0
	for c, cell := range row {
		lines[c] = wrap(cell, widths[c])
		height = max(height, len(lines[c]))
	}
	for l := range height {
		line := ""
		for c := range lines {
			cell := ""
			if l < len(lines[c]) {
				cell = lines[c][l]
			}
			line += cell + strings.Repeat(" ", max(0, widths[c]-utf8.RuneCountInString(cell))+gap)
		}
		fmt.Fprintln(b, strings.TrimRight(line, " "))
	}
}

func sum(list []int) int {
	total := 0
	for _, v := range list {
		total += v
	}
	return total
}
