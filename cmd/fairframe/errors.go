package main

import (
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"unicode"

	"fairframe/render/comparison"
)

// report prints an error the way every command does: an "error:" line for each
// mistake, followed by "hint:" lines that say what to do.
func report(w io.Writer, err error) {
	if list := (comparison.Errors)(nil); errors.As(err, &list) {
		for _, one := range list {
			line(w, "error", one.Error())
			line(w, "hint", one.Hint)
		}
		return
	}
	line(w, "error", err.Error())
	for _, h := range hints(err) {
		line(w, "hint", h)
	}
}

func line(w io.Writer, label, text string) {
	if text != "" {
		lines := strings.Split(strings.TrimRight(text, "\n"), "\n")
		for i := range lines {
			lines[i] = visible(lines[i])
		}
		fmt.Fprintf(w, "%s: %s\n", label, strings.Join(lines, "\n"))
	}
}

// visible escapes what would steer a terminal: names of files, the records that clips
// carry and what ffmpeg says may hold anything.
func visible(line string) string {
	var b strings.Builder
	for _, r := range line {
		if unicode.IsControl(r) && r != '\t' || unicode.Is(unicode.Bidi_Control, r) {
			b.WriteString(strings.Trim(strconv.QuoteRuneToASCII(r), "'"))
		} else {
			b.WriteRune(r)
		}
	}
	return b.String()
}

// hints collects what the libraries know about mending an error.
func hints(err error) []string {
	if h := (interface{ Hints() []string })(nil); errors.As(err, &h) {
		return h.Hints()
	}
	if one := (*comparison.Error)(nil); errors.As(err, &one) && one.Hint != "" {
		return []string{one.Hint}
	}
	return nil
}
