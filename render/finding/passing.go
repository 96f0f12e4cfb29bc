package finding

// Passing marks a failure that may not come again when the same is tried later: a full
// disk, a program that was killed, a file that vanished.
type Passing struct{ Err error }

// Error returns the words of the failure itself.
func (p *Passing) Error() string { return p.Err.Error() }

// Unwrap returns the failure itself.
func (p *Passing) Unwrap() error { return p.Err }
