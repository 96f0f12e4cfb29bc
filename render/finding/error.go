package finding

import (
	"errors"
	"slices"
	"strings"
)

// Error is a failure that a user can do something about.
type Error struct {
	Msg  string // lower case, no full stop
	Hint string // what to do; may be empty
}

// Error returns the message.
func (e *Error) Error() string { return e.Msg }

// Hints returns what to do about the error, a sentence each.
func (e *Error) Hints() []string {
	if e.Hint == "" {
		return nil
	}
	return []string{e.Hint}
}

// OfError makes a finding of an error, whose first line is the evidence.
func OfError(what string, err error) Finding {
	f := Finding{Severity: Fails, What: what,
		Evidence: strings.Join(strings.Fields(strings.ReplaceAll(err.Error(), "\n", "; ")), " ")}
	if h := (interface{ Hints() []string })(nil); errors.As(err, &h) {
		f.Remedy = strings.Join(h.Hints(), "; ")
	}
	return f
}

// Refuse makes an error of the findings that fail. Otherwise it returns those that
// harm or mislead.
func Refuse(list []Finding) (misleading []Finding, err error) {
	var msgs, remedies []string
	for _, f := range Sort(list) {
		switch f.Severity {
		case Fails:
			msgs = append(msgs, f.Told())
			if f.Remedy != "" && !slices.Contains(remedies, f.Remedy) {
				remedies = append(remedies, f.Remedy)
			}
		case Harms, Misleads:
			misleading = append(misleading, f)
		}
	}
	if len(msgs) > 0 {
		return nil, &Error{Msg: strings.Join(msgs, "; "), Hint: strings.Join(remedies, "; ")}
	}
	return misleading, nil
}
