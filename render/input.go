package render

import (
	"errors"
	"io"
	"io/fs"
	"os"
)

// errNotRegular is the cause where a pipe, a device or a folder has the name of an
// input: it would be waited for, or never end.
var errNotRegular = errors.New("not a regular file")

// openInput opens a regular file for reading.
func openInput(path string) (*os.File, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, &fs.PathError{Op: "open", Path: path, Err: errNotRegular}
	}
	return os.Open(path)
}

// readInput is os.ReadFile for what openInput opens.
func readInput(path string) ([]byte, error) {
	f, err := openInput(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(f)
}
