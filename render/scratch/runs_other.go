//go:build !unix

package scratch

import "os"

// runs reports whether there is such a process: it can be opened only then.
func runs(pid int) bool {
	p, err := os.FindProcess(pid)
	if err != nil {
		return false
	}
	_ = p.Release()
	return true
}
