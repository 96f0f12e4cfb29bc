package main

import (
	"bufio"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"fairframe/render/figures"
)

// writeFiguresTable writes aligned columns: the first to the left, numbers to the
// right.
func writeFiguresTable(w io.Writer, scenes []*figures.Scene) error {
	b := bufio.NewWriter(w)
	for i, s := range scenes {
		if i > 0 {
			fmt.Fprintln(b)
		}
		fmt.Fprintf(b, "scene %s, %s\n\n", s.Scene.ID, about(s))
		t := tableOf(s)
		all := append([][]string{t.heading}, t.rows...)
		widths := make([]int, len(t.heading))
		for _, cells := range all {
			for j, cell := range cells {
				widths[j] = max(widths[j], utf8.RuneCountInString(cell))
			}
		}
		for _, cells := range all {
			var line strings.Builder
			for j, cell := range cells {
				pad := strings.Repeat(" ", widths[j]-utf8.RuneCountInString(cell))
				if j == 0 {
					line.WriteString(cell + pad)
				} else {
					line.WriteString("  " + pad + cell)
				}
			}
			fmt.Fprintln(b, strings.TrimRight(line.String(), " "))
		}
		if lines := remarks(s); len(lines) > 0 {
			fmt.Fprintf(b, "\n%s\n", strings.Join(lines, "\n"))
		}
	}
	return b.Flush()
}

// writeFiguresMarkdown writes a heading, a table and a list a scene, as GitHub
// Flavored Markdown has them.
func writeFiguresMarkdown(w io.Writer, scenes []*figures.Scene) error {
	b := bufio.NewWriter(w)
	for i, s := range scenes {
		if i > 0 {
			fmt.Fprintln(b)
		}
		title := s.Scene.ID
		if s.Scene.Caption != "" {
			title += ": " + s.Scene.Caption
		}
		fmt.Fprintf(b, "## %s\n\n%s\n\n", markdown(title), markdown(about(s)))
		t := tableOf(s)
		line := func(cells []string) {
			for _, c := range cells {
				fmt.Fprintf(b, "| %s ", markdown(c))
			}
			fmt.Fprintln(b, "|")
		}
		line(t.heading)
		fmt.Fprintln(b, "|---"+strings.Repeat("|--:", len(t.heading)-1)+"|")
		for _, cells := range t.rows {
			line(cells)
		}
		if lines := remarks(s); len(lines) > 0 {
			fmt.Fprintln(b)
			for _, l := range lines {
				fmt.Fprintf(b, "- %s\n", markdown(l))
			}
		}
	}
	return b.Flush()
}

// markdown makes plain text of what Markdown or HTML would read otherwise.
func markdown(s string) string {
	var b strings.Builder
	for _, r := range s {
		switch r {
		case '<':
			b.WriteString("&lt;")
		case '>':
			b.WriteString("&gt;")
		case '&':
			b.WriteString("&amp;")
		case '\\', '`', '*', '_', '[', ']', '|', '#', '~', '!', '$', '@':
			b.WriteByte('\\')
			b.WriteRune(r)
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}
