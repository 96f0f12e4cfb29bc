package media

import "fairframe/render/pacing"

// common reports whether a rate is one in common use.
func common(r pacing.Rate) bool {
	known, ok := inUse(r.Hz())
	return ok && known == r
}
