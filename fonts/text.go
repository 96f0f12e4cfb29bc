package fonts

import (
	"strings"
	"unicode"
)

// isMark reports whether r attaches to the letter before it.
func isMark(r rune) bool { return unicode.Is(unicode.M, r) || r == '\u200d' }

func trimSpace(s string) string { return strings.TrimRightFunc(s, unicode.IsSpace) }
