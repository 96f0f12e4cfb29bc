// Command pictures renders the same captures with whatever ffmpeg is at hand, and compares
// what several of them made, so that testdata/ffmpegs can tell whether they all give the
// same pictures.
//
//	pictures --dir DIR make             writes the captures, logs and comparison files
//	pictures --dir DIR render NAME      renders every scene into DIR/NAME
//	pictures --dir DIR compare A B      compares the clips in DIR/A and DIR/B
package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/pflag"

	"fairframe/render"
	"fairframe/render/media"
	"fairframe/render/scene"
)

func main() {
	dir := pflag.String("dir", ".", "where captures and clips lie")
	quick := pflag.Bool("quick", false, "a few scenes alone")
	pflag.Parse()
	if err := run(context.Background(), *dir, *quick, pflag.Args()); err != nil {
		fmt.Fprintln(os.Stderr, "error:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, dir string, quick bool, words []string) error {
	tools, err := media.Find("")
	if err != nil {
		return err
	}
	switch {
	case len(words) == 1 && words[0] == "make":
		if err := makeCaptures(ctx, tools, dir); err != nil {
			return err
		}
		return writeFiles(dir, quick)
	case len(words) == 2 && words[0] == "render":
		return renderAll(ctx, tools, dir, words[1])
	case len(words) == 3 && words[0] == "compare":
		return compareAll(ctx, tools, dir, words[1], words[2])
	}
	return errors.New("usage: pictures --dir DIR make | render NAME | compare A B")
}

// renderAll renders every scene of every comparison file. The files are copied, because
// clips lie in a folder beside their file.
func renderAll(ctx context.Context, tools *media.Tools, dir, name string) error {
	files, err := filepath.Glob(filepath.Join(dir, "*.yaml"))
	if err != nil {
		return err
	}
	out := filepath.Join(dir, name)
	if err := os.MkdirAll(out, 0o777); err != nil {
		return err
	}
	var failed []error
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			return err
		}
		copied := filepath.Join(out, filepath.Base(file))
		if err := os.WriteFile(copied, text, 0o666); err != nil {
			return err
		}
		p, err := scene.Open(copied, tools)
		if err != nil {
			return err
		}
		rows, err := render.Batch(ctx, p, render.BatchOptions{})
		if err != nil {
			return err
		}
		for _, r := range rows {
			if r.Err != nil {
				failed = append(failed, fmt.Errorf("scene %s: %w", r.Scene, r.Err))
			}
		}
	}
	return errors.Join(failed...)
}

// compareAll compares every clip of one folder with that of the same name in another.
func compareAll(ctx context.Context, tools *media.Tools, dir, a, b string) error {
	clips, err := filepath.Glob(filepath.Join(dir, a, "out-*", "s*.m*"))
	if err != nil {
		return err
	}
	if len(clips) == 0 {
		return fmt.Errorf("no clips in %s", a)
	}
	wrong := 0
	fmt.Printf("%-24s %12s %10s %9s  %s\n", "clip", "codes", "unequal", "farthest", "tags")
	for _, path := range clips {
		name := strings.TrimPrefix(path, filepath.Join(dir, a)+string(filepath.Separator))
		d, err := compare(ctx, tools, path, filepath.Join(dir, b, name))
		if err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		verdict := ""
		if !d.within(farthest(filepath.Dir(strings.TrimPrefix(name, "out-")))) {
			wrong++
			verdict = "  DIFFERS"
		}
		fmt.Printf("%-24s %12d %10d %9d  %s%s\n", strings.TrimPrefix(name, "out-"), d.codes, d.unequal, d.farthest, d.tags, verdict)
	}
	if wrong > 0 {
		return fmt.Errorf("%d of %d clips differ", wrong, len(clips))
	}
	return nil
}
