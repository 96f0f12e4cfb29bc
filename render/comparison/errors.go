package comparison

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/agnivade/levenshtein"
)

// Error is one mistake in a comparison file. Line and Col count from 1, Col in
// characters; both are 0 when the mistake has no place.
type Error struct {
	File      string
	Line, Col int
	Msg       string // lower case, no full stop
	Hint      string // what to do about it; may be empty
}

// Error returns "file:line:col: message", without the hint.
func (e *Error) Error() string {
	switch {
	case e.File == "":
		return "comparison: " + e.Msg
	case e.Line == 0:
		return e.File + ": " + e.Msg
	}
	return fmt.Sprintf("%s:%d:%d: %s", e.File, e.Line, e.Col, e.Msg)
}

// Errors holds the mistakes of one comparison file in the order of their
// lines; there is at least one, and at most maxErrors and one more that says
// so.
type Errors []*Error

// maxErrors bounds how many mistakes are reported at once.
const maxErrors = 10

// Error returns one line for each mistake.
func (e Errors) Error() string {
	lines := make([]string, len(e))
	for i, one := range e {
		lines[i] = one.Error()
	}
	return strings.Join(lines, "\n")
}

// Unwrap lets errors.As find the first *Error.
func (e Errors) Unwrap() []error {
	list := make([]error, len(e))
	for i, one := range e {
		list[i] = one
	}
	return list
}

// maxQuoted bounds how much of the user's text an error repeats, in characters.
const maxQuoted = 60

// quote returns s in quotes, with what cannot be seen escaped and cut when long.
func quote(s string) string {
	if utf8.RuneCountInString(s) > maxQuoted {
		s = string([]rune(s)[:maxQuoted]) + "…"
	}
	return strconv.Quote(s)
}

// visible is quote without the quotes, for what is never an empty word.
func visible(s string) string {
	s = quote(s)
	return strings.ReplaceAll(s[1:len(s)-1], `\"`, `"`)
}

// maxListed bounds how many valid words a hint lists.
const maxListed = 24

// Suggest returns a hint for a word that is not among the valid ones: the
// nearest, when one is near, and the list, introduced by what it lists.
func Suggest(word string, valid []string, what string) string {
	list := valid
	if len(list) > maxListed {
		list = append(append([]string{}, list[:maxListed]...), "…")
	}
	hint := what + ": " + strings.Join(list, ", ")
	if best := nearest(word, valid); best != "" {
		hint = fmt.Sprintf("did you mean %q? %s", best, hint)
	}
	return hint
}

// nearest returns the valid word with the fewest edits from word, or "" when
// even that one differs in more than a third of its letters, unless they are
// the same letters in another order.
func nearest(word string, valid []string) string {
	if len(word) > 2*maxQuoted {
		return ""
	}
	best, least := "", len(word)+1
	for _, v := range valid {
		d := levenshtein.ComputeDistance(strings.ToLower(word), strings.ToLower(v))
		most := (max(utf8.RuneCountInString(word), utf8.RuneCountInString(v)) + 1) / 3
		if sorted(word) == sorted(v) {
			most = 2 // two neighbours swapped
		}
		if d < least && d <= most {
			best, least = v, d
		}
	}
	return best
}

// sorted returns the letters of s in their order.
func sorted(s string) string {
	letters := []rune(s)
	slices.Sort(letters)
	return string(letters)
}
