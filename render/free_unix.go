//go:build linux || darwin

package render

import "syscall"

// freeBytes returns how much may be written into a folder, -1 when unknown.
func freeBytes(folder string) int64 {
	var s syscall.Statfs_t
	if err := syscall.Statfs(folder, &s); err != nil {
		return -1
	}
	return int64(s.Bavail) * int64(s.Bsize) // their types differ between systems
}
