package comparison

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"reflect"
)

// maxSize bounds a comparison file, in bytes.
const maxSize = 1 << 20

// Read reads the comparison file of that path. Relative paths in it are joined
// to its folder. Mistakes in it are returned as Errors.
func Read(path string) (*File, error) {
	const hint = "name the comparison file; fairframe demo DIR writes one to try"
	// A pipe or a device may keep one waiting, and nobody could end that.
	if info, err := os.Stat(path); err == nil && !info.IsDir() && !info.Mode().IsRegular() {
		return nil, Errors{{File: path, Msg: "cannot be read: not a regular file", Hint: hint}}
	}
	r, err := os.Open(path)
	if err != nil {
		return nil, Errors{{File: path, Msg: "cannot be read: " + cause(err), Hint: hint}}
	}
	defer r.Close()
	data, err := io.ReadAll(io.LimitReader(r, maxSize+1))
	if err != nil {
		return nil, Errors{{File: path, Msg: "cannot be read: " + cause(err),
			Hint: "name the comparison file itself"}}
	}
	return Parse(path, data)
}

// cause returns what went wrong without the path, which the error names already.
func cause(err error) string {
	if p := (*os.PathError)(nil); errors.As(err, &p) {
		return p.Err.Error()
	}
	return err.Error()
}

// Parse reads a comparison file from memory, as if it lay at the path name.
func Parse(name string, data []byte) (*File, error) {
	if len(data) > maxSize {
		return nil, Errors{{File: name, Msg: fmt.Sprintf("more than %d KiB long: this is no comparison file",
			maxSize>>10)}}
	}
	d := &decoder{file: name, at: map[any]pos{}}
	f := &File{Path: name, Dir: filepath.Dir(name)}
	d.fill(reflect.ValueOf(&d.first).Elem())
	d.fill(reflect.ValueOf(&d.window).Elem())
	d.fill(reflect.ValueOf(f).Elem())
	if root := d.load(data); root != nil {
		d.into(f, root, "", "")
		d.resolve(f, root)
	}
	if err := d.result(); err != nil {
		return nil, err
	}
	return f, nil
}
