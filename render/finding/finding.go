// Package finding has the types in which the program tells its user what is wrong:
// a Finding is what a check lists and what a rendering warns of, an Error is a
// failure with a hint.
package finding

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"
)

// Severity says how bad a finding is.
type Severity string

// Severities, the worst first.
const (
	Fails    Severity = "fails"    // rendering would fail
	Harms    Severity = "harms"    // the clip would be made, and may harm people who watch it
	Misleads Severity = "misleads" // the clip would be made, and may say something wrong
	Note     Severity = "note"     // worth knowing
)

// Finding is one thing that a user should know: a line of a check, or a warning.
type Finding struct {
	Severity Severity
	What     string        // what is wrong, in a few words that stay the same
	Capture  string        // key of the capture concerned; "" for none
	Scene    string        // id of the scene concerned; "" for all
	At       time.Duration // place, in the capture's time; in the scene's when no capture is named
	Placed   bool          // At says something
	Evidence string        // the numbers
	Remedy   string        // what to do; may be empty
	Words    string        // how a warning says it in one line; "": as Told does
}

// AtTime gives the finding a place.
func (f Finding) AtTime(t time.Duration) Finding {
	f.At, f.Placed = t, true
	return f
}

// String returns the finding in one line, without its remedy.
func (f Finding) String() string { return string(f.Severity) + ": " + f.Told() }

// Told returns the finding without its severity and its remedy.
func (f Finding) Told() string {
	var s string
	if f.Scene != "" {
		s += "scene " + f.Scene + ", "
	}
	if f.Capture != "" {
		s += "capture " + f.Capture + ", "
	}
	if f.Placed {
		s += fmt.Sprintf("at %.2f s, ", f.At.Seconds())
	}
	if s != "" {
		s = s[:len(s)-2] + ": "
	}
	s += f.What
	if f.Evidence != "" {
		s += " (" + f.Evidence + ")"
	}
	return s
}

// Warning returns the finding as a rendering warns of it.
func (f Finding) Warning() string {
	if f.Words != "" {
		return f.Words
	}
	return f.Told()
}

// Warnings returns the findings as a rendering warns of them.
func Warnings(list []Finding) []string {
	var words []string
	for _, f := range list {
		words = append(words, f.Warning())
	}
	return words
}

// Plain is a warning with the same words in every list.
func Plain(words string) Finding {
	return Finding{Severity: Misleads, What: "the scene would be rendered with a warning", Evidence: words,
		Words: words}
}

// Sort orders findings: the worst first, otherwise as they were found. It
// removes doubles.
func Sort(list []Finding) []Finding {
	rank := map[Severity]int{Fails: 0, Harms: 1, Misleads: 2, Note: 3}
	slices.SortStableFunc(list,
		func(a, b Finding) int { return cmp.Compare(rank[a.Severity], rank[b.Severity]) })
	seen := map[Finding]bool{}
	return slices.DeleteFunc(list, func(f Finding) bool {
		was := seen[f]
		seen[f] = true
		return was
	})
}

// Grouped makes one finding of notes that differ in their scene and their numbers alone,
// for people to read: of the same thing, of the same capture. It tells the first one,
// and in which other scenes it is so.
func Grouped(list []Finding) []Finding {
	type kind struct{ what, capture string }
	var out []Finding
	at, others := map[kind]int{}, map[kind][]string{}
	for _, f := range list {
		k := kind{f.What, f.Capture}
		if _, ok := at[k]; ok && f.Severity == Note && f.Scene != "" {
			if !slices.Contains(others[k], f.Scene) && out[at[k]].Scene != f.Scene {
				others[k] = append(others[k], f.Scene)
			}
			continue
		}
		if f.Severity == Note && f.Scene != "" {
			at[k] = len(out)
		}
		out = append(out, f)
	}
	for k, scenes := range others {
		f := &out[at[k]]
		if f.Evidence != "" {
			f.Evidence += "; "
		}
		f.Evidence += "also in " + strings.Join(scenes, ", ")
	}
	return out
}

// Failing reports whether something would fail.
func Failing(list []Finding) bool {
	return slices.ContainsFunc(list, func(f Finding) bool { return f.Severity == Fails })
}
