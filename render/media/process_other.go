//go:build !linux

package media

// widen does nothing: only Linux lets a pipe's room be set.
func widen(any) {}
