package scratch

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"fairframe/render/finding"
)

// ErrNotRegular is the cause where a pipe, a device or a folder has the name of an
// input: it would be waited for, or never end.
var ErrNotRegular = errors.New("not a regular file")

// Open opens a regular file for reading.
func Open(path string) (*os.File, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, &fs.PathError{Op: "open", Path: path, Err: ErrNotRegular}
	}
	return os.Open(path)
}

// ReadFile reads a regular file.
func ReadFile(path string) ([]byte, error) {
	f, err := Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(f)
}

// Cause is an error without the path that it names.
func Cause(err error) error {
	if p := (*fs.PathError)(nil); errors.As(err, &p) {
		return p.Err
	}
	return err
}

// Write writes a file that appears under its name only when it is complete.
func Write(path string, write func(io.Writer) error) error {
	if err := Replaceable(path); err != nil {
		return &finding.Error{Msg: err.Error(), Hint: "choose another name"}
	}
	f, err := Create(filepath.Dir(path), ".fairframe.*.part")
	if err != nil {
		return &finding.Error{Msg: fmt.Sprintf("cannot write beside %s: %v", path, Cause(err)),
			Hint: "choose a folder that exists and that you may write to"}
	}
	defer os.Remove(f.Name())
	err = write(f)
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err == nil {
		err = os.Chmod(f.Name(), 0o644)
	}
	if err == nil {
		err = Place(f.Name(), path)
	}
	if err != nil {
		return fmt.Errorf("writing %s: %w", path, err)
	}
	return nil
}

// WriteBytes is Write for what is held in memory.
func WriteBytes(path string, b []byte) error {
	return Write(path, func(w io.Writer) error { _, err := w.Write(b); return err })
}
