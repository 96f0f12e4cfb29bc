//go:build linux || darwin

package check

import "golang.org/x/sys/unix"

// freeBytes returns how much may be written into a folder, -1 when unknown.
func freeBytes(folder string) int64 {
	var s unix.Statfs_t
	if err := unix.Statfs(folder, &s); err != nil {
		return -1
	}
	return int64(s.Bavail) * int64(s.Bsize) // their types differ between systems
}

// writable reports whether files may be made in a folder.
func writable(folder string) bool { return unix.Access(folder, unix.W_OK|unix.X_OK) == nil }
