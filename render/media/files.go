package media

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"fairframe/render/scratch"
)

// Publish gives a finished file its name. os.CreateTemp makes files for their
// owner alone; what is published is an ordinary file.
func Publish(part, out string) error {
	err := os.Chmod(part, 0o644)
	if err == nil {
		err = scratch.Place(part, out)
	}
	if err != nil {
		return fmt.Errorf("media: %w", err)
	}
	return nil
}

// TempFile reserves a temporary file beside out, where a rename is atomic, and
// clears away what killed runs have left there.
func TempFile(out string) (string, error) {
	f, err := scratch.Create(filepath.Dir(out), "."+shorten(filepath.Base(out))+".*.part")
	if err != nil {
		return "", &Error{Msg: "media: cannot write beside " + out, Err: err,
			Hint: "choose an output folder that exists and that you may write to"}
	}
	return f.Name(), f.Close()
}

// shorten leaves room in a file name's 255 bytes for what partFor adds.
func shorten(name string) string {
	const most = 180
	if len(name) > most {
		return name[:most]
	}
	return name
}

// FileURL keeps a path from being read as an option or a protocol: names may
// begin with '-' or hold ':'.
func FileURL(path string) string { return "file:" + path }

// A folder of numbered pictures is one output: it is filled under a temporary
// name and appears under its own when it is complete.

// TempFolder reserves a temporary folder beside out.
func TempFolder(out string) (string, error) {
	dir, err := scratch.Mkdir(filepath.Dir(out), "."+shorten(filepath.Base(out))+".*.part")
	if err != nil {
		return "", &Error{Msg: "media: cannot write beside " + out, Err: err,
			Hint: "choose an output folder that exists and that you may write to"}
	}
	return dir, nil
}

func CheckReadable(path string) error {
	info, err := os.Stat(path)
	switch {
	case err != nil && os.IsNotExist(err):
		hint := "check the path; those in a comparison file start at its own folder"
		if strings.Contains(path, `\`) && os.PathSeparator == '/' {
			hint = `write the path with /: here \ is a letter like others`
		}
		return &Error{Msg: fmt.Sprintf("media: capture %s does not exist", path), Hint: hint}
	case err != nil:
		return &Error{Msg: "media: capture cannot be read", Err: err}
	case info.Mode()&fs.ModeType != 0:
		return &Error{Msg: fmt.Sprintf("media: capture %s is not a regular file", path), Hint: "name the recording itself"}
	case info.Size() == 0:
		return &Error{Msg: fmt.Sprintf("media: capture %s is empty", path), Hint: "record or copy it again"}
	}
	return nil
}

// SameFile reports whether two paths lead to one file, by whatever links.
func SameFile(a, b string) bool {
	if filepath.Clean(a) == filepath.Clean(b) {
		return true
	}
	x, errX := os.Stat(a)
	y, errY := os.Stat(b)
	return errX == nil && errY == nil && os.SameFile(x, y)
}
