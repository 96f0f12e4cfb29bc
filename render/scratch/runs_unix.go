//go:build unix

package scratch

import (
	"errors"
	"syscall"
)

// runs reports whether there is such a process, another user's included.
func runs(pid int) bool {
	return pid > 0 && !errors.Is(syscall.Kill(pid, 0), syscall.ESRCH)
}
