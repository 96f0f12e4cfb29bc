package fonts

import (
	"strings"
	"unicode"
)

// IsMark reports whether r attaches to the letter before it.
func IsMark(r rune) bool { return unicode.Is(unicode.M, r) || r == '\u200d' }

// isBreak reports whether a line may be broken at r.
func isBreak(r rune) bool {
	return unicode.IsSpace(r) && r != '\u00a0' && r != '\u2007' && r != '\u202f'
}

func trimSpace(s string) string { return strings.TrimRightFunc(s, unicode.IsSpace) }
