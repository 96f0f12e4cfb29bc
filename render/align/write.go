package align

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"fairframe/render/comparison"
	"fairframe/render/finding"
	"fairframe/render/scratch"
)

// WriteStarts sets a scene's starts in the comparison file and returns the name
// of the copy that is kept of the file as it was. The file's comments, order and
// everything else stay, and it is replaced at once or not at all.
func WriteStarts(f *comparison.File, s *comparison.Scene,
	starts map[string]string) (backup string, err error) {
	return WriteAllStarts(f, map[string]map[string]string{s.ID: starts})
}

// WriteAllStarts does so for several scenes, by their ids, and keeps one copy; none,
// and no name, where there are no scenes.
func WriteAllStarts(f *comparison.File, starts map[string]map[string]string) (backup string, err error) {
	if len(starts) == 0 {
		return "", nil
	}
	return rewrite(f.Path, func(path string, text []byte) ([]byte, error) {
		for i := range f.Scenes {
			id := f.Scenes[i].ID
			if set, ok := starts[id]; ok {
				if text, err = comparison.SetStarts(path, text, id, set); err != nil {
					return nil, err
				}
			}
		}
		return text, nil
	})
}

// rewrite replaces the comparison file's text and returns the name of the copy that
// is kept of it as it was.
func rewrite(path string, change func(path string, text []byte) ([]byte, error)) (backup string, err error) {
	old, err := os.ReadFile(path)
	if err != nil {
		return "", fmt.Errorf("align: %w", err)
	}
	text, err := change(path, old)
	if err != nil {
		return "", err
	}
	if backup, err = keep(path, old); err != nil {
		return "", err
	}
	return backup, replace(path, text)
}

// keep copies a file's text beside it, under a name that is free.
func keep(path string, text []byte) (string, error) {
	for n := 0; n < 1000; n++ {
		name := path + ".bak"
		if n > 0 {
			name = fmt.Sprintf("%s.bak%d", path, n+1)
		}
		f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
		if errors.Is(err, os.ErrExist) {
			if same, rerr := scratch.ReadFile(name); rerr == nil && bytes.Equal(same, text) {
				return name, nil
			}
			continue
		}
		if err != nil {
			return "", &finding.Error{Msg: fmt.Sprintf("cannot write beside %s: %v", path, scratch.Cause(err))}
		}
		_, err = f.Write(text)
		if cerr := f.Close(); err == nil {
			err = cerr
		}
		if err != nil {
			os.Remove(name)
			return "", fmt.Errorf("align: writing %s: %w", name, err)
		}
		return name, nil
	}
	return "", &finding.Error{Msg: fmt.Sprintf("%s has a thousand backups", path), Hint: "remove some of them"}
}

// replace gives a file new text, under the rights it has. A link stays one: what
// it leads to is replaced.
func replace(path string, text []byte) error {
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real
	}
	info, err := os.Stat(path)
	if err != nil {
		return fmt.Errorf("align: %w", err)
	}
	if err := scratch.Write(path, func(w io.Writer) error {
		_, err := w.Write(text)
		return err
	}); err != nil {
		return err
	}
	return os.Chmod(path, info.Mode().Perm())
}

// WriteLogStarts sets the starts of the logs that were found in the comparison file,
// and returns the name of the copy that is kept of it; "" where none was found.
func WriteLogStarts(f *comparison.File, found []LogAligned) (backup string, err error) {
	starts := map[string]string{}
	for _, one := range found {
		if one.Matched() {
			starts[one.Capture] = startText(one.Starts)
		}
	}
	if len(starts) == 0 {
		return "", nil
	}
	return rewrite(f.Path, func(path string, text []byte) ([]byte, error) {
		return comparison.SetLogStarts(path, text, starts)
	})
}
