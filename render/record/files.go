package record

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
	"time"

	"fairframe/render/finding"
	"fairframe/render/scratch"
)

// Files remembers what files are, for as long as the program runs, so that
// a hundred scenes of three captures read each file once.
type Files struct {
	mu    sync.Mutex
	known map[string]string
}

// Forget makes the next question about a file be answered anew.
func (i *Files) Forget(path string) {
	i.mu.Lock()
	defer i.mu.Unlock()
	for _, kind := range []string{"content ", "stamp ", "capture "} {
		delete(i.known, kind+path)
	}
}

func (i *Files) once(kind, path string, find func() (string, error)) (string, error) {
	i.mu.Lock()
	defer i.mu.Unlock()
	key := kind + path
	if v, ok := i.known[key]; ok {
		return v, nil
	}
	v, err := find()
	if err != nil {
		return "", err
	}
	if i.known == nil {
		i.known = map[string]string{}
	}
	i.known[key] = v
	return v, nil
}

// Content identifies a file by all that is in it.
func (i *Files) Content(path string) (string, error) {
	return i.once("content ", path, func() (string, error) { return digestOf(path) })
}

// digestOf is the digest of all that is in a file.
func digestOf(path string) (string, error) {
	f, err := scratch.Open(path)
	if err != nil {
		return "", missing(path, err)
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", fmt.Errorf("record: %w", err)
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// Stamp identifies a program by path, size and time.
func (i *Files) Stamp(path string) (string, error) {
	return i.once("stamp ", path, func() (string, error) {
		info, err := os.Stat(path)
		if err != nil {
			return "", missing(path, err)
		}
		return fmt.Sprintf("%s %d %s", path, info.Size(), info.ModTime().UTC().Format(time.RFC3339Nano)), nil
	})
}

// ends is how much of a capture's beginning and end is read to identify it. To read
// hours of video would take longer than to render.
const ends = 1 << 20

// Capture identifies a recording by size, time, and its first and last MiB.
func (i *Files) Capture(path string) (string, error) {
	return i.once("capture ", path, func() (string, error) {
		f, err := scratch.Open(path)
		if err != nil {
			return "", missing(path, err)
		}
		defer f.Close()
		info, err := f.Stat()
		if err != nil {
			return "", fmt.Errorf("record: %w", err)
		}
		h := sha256.New()
		if _, err := io.Copy(h, io.NewSectionReader(f, 0, ends)); err != nil {
			return "", fmt.Errorf("record: %w", err)
		}
		if rest := info.Size() - ends; rest > 0 {
			if _, err := io.Copy(h, io.NewSectionReader(f, max(ends, info.Size()-ends), ends)); err != nil {
				return "", fmt.Errorf("record: %w", err)
			}
		}
		return fmt.Sprintf("%d %s %s", info.Size(), info.ModTime().UTC().Format(time.RFC3339Nano),
			hex.EncodeToString(h.Sum(nil))), nil
	})
}

func missing(path string, err error) error {
	if os.IsNotExist(err) {
		return &finding.Error{Msg: fmt.Sprintf("%s does not exist", path),
			Hint: "check the path; those in a comparison file start at its own folder"}
	}
	return &finding.Error{Msg: fmt.Sprintf("%s cannot be read: %v", path, scratch.Cause(err))}
}

// OnDisk measures an output, which may be a folder of pictures: all its bytes,
// and when it last changed.
func OnDisk(out string) (bytes int64, modified time.Time, err error) {
	err = filepath.WalkDir(out, func(path string, e os.DirEntry, err error) error {
		if err != nil {
			return err
		}
		info, err := os.Stat(path)
		if err != nil {
			return err
		}
		if !info.IsDir() {
			bytes += info.Size()
		}
		if info.ModTime().After(modified) {
			modified = info.ModTime()
		}
		return nil
	})
	return bytes, modified, err
}

// DigestOfOutput is the digest of an output: of a folder, that of its pictures'
// names and digests in their order.
func DigestOfOutput(out string) (string, error) {
	info, err := os.Stat(out)
	if err != nil || !info.IsDir() {
		digest, derr := digestOf(out)
		return digest, errors.Join(err, derr)
	}
	list, err := os.ReadDir(out)
	if err != nil {
		return "", err
	}
	h := sha256.New()
	for _, e := range list {
		digest, err := digestOf(filepath.Join(out, e.Name()))
		if err != nil {
			return "", err
		}
		if _, err := io.WriteString(h, fmt.Sprintf("%s  %s\n", digest, e.Name())); err != nil {
			return "", err
		}
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}
