package render

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
