//go:build !linux && !darwin

package render

// freeBytes returns how much may be written into a folder, -1: unknown here.
func freeBytes(string) int64 { return -1 }
