package main

import (
	"context"
	"fmt"
	"io"

	"github.com/spf13/pflag"

	"fairframe/render"
	"fairframe/render/record"
)

func renderCommand() command {
	return command{
		name: "render", operands: "FILE --scene ID [-o OUT]", short: "renders one scene",
		long: `Renders a scene of the comparison file FILE into the output folder, or into OUT.
The clip appears under its name only when it is complete and checked. What cannot
work is refused before anything is encoded, as far as that is known without decoding
the captures; see check for the rest.`,
		setup: func(flags *pflag.FlagSet) func(context.Context, *env, []string) error {
			scene := flags.StringP("scene", "s", "", "the `ID` of the scene")
			keysOf(flags, "scene", "scenes")
			out := flags.StringP("output", "o", "",
				"the clip's `NAME` (default: FOLDER/ID and the delivery's ending)")
			return func(ctx context.Context, e *env, args []string) error {
				file, err := oneFile(args, "comparison file")
				if err != nil {
					return err
				}
				if *scene == "" {
					return usagef("name one with --scene ID", "which scene?")
				}
				p, err := e.open(file)
				if err != nil {
					return err
				}
				bar := e.progress(*scene, "frames")
				r, err := render.Render(ctx, p, *scene, *out,
					func(done, total int64) { bar.update("", done, total) })
				bar.done()
				if err != nil {
					return err
				}
				e.warn(r.Scene, r.Warnings)
				fmt.Fprintf(e.stdout, "%s  %d frames, %.2f s, %s, in %.1f s\n",
					r.Out, r.Frames, r.Length.Seconds(), sizeOf(r.Bytes), r.Took.Seconds())
				return writeTolerated(e.stdout, "", r.Tolerated)
			}
		},
	}
}

// writeTolerated says which damage a clip shows.
func writeTolerated(w io.Writer, scene string, list []record.Tolerated) error {
	if scene != "" {
		scene += ": "
	}
	for _, t := range list {
		if _, err := fmt.Fprintf(w, "tolerated  %s%s\n", scene, t); err != nil {
			return err
		}
	}
	return nil
}

// bytes prints a size in decimal units.
func sizeOf(n int64) string {
	switch {
	case n >= 1e9:
		return fmt.Sprintf("%.2f GB", float64(n)/1e9)
	case n >= 1e6:
		return fmt.Sprintf("%.1f MB", float64(n)/1e6)
	}
	return fmt.Sprintf("%.1f kB", float64(n)/1e3)
}
