package main

import (
	"context"
	"fmt"
	"image"
	"time"

	"github.com/spf13/pflag"

	"fairframe/render/demo"
)

func demoCommand() command {
	return command{
		name: "demo", operands: "DIR",
		short: "writes made-up captures of a made-up game, their pacing logs and DIR/comparison.yaml",
		long: `The game is Kestrel Pass, the machines are Alder, Birch and Cedar; none of them
exists. The same arguments make the same files, bit by bit.`,
		setup: func(flags *pflag.FlagSet) func(context.Context, *env, []string) error {
			length := flags.Duration("length", 0, "how long each capture is (default: enough for all scenes)")
			seed := flags.Uint64("seed", 1, "seed of the landscape and the pacing")
			size := flags.String("size", "1920x1080", "the captures' size")
			return func(ctx context.Context, e *env, args []string) error {
				dir, err := oneFile(args, "folder")
				if err != nil {
					return err
				}
				if flags.Changed("length") && (*length < demo.MinLength || *length > demo.MaxLength) {
					return usagef("", "--length %v is outside %v to %v",
						*length, demo.MinLength, demo.MaxLength)
				}
				px, err := parseSize(*size)
				if err != nil {
					return err
				}
				t, err := e.tools()
				if err != nil {
					return err
				}
				began := time.Now()
				bar := e.progress("demo", "frames")
				r, err := demo.Write(ctx, t, dir, demo.Options{Length: *length, Seed: *seed, Size: px,
					Progress: func(done, total int) { bar.update("", int64(done), int64(total)) }})
				bar.done()
				if err != nil {
					return err
				}
				fmt.Fprintf(e.stdout, "%s  %d captures, in %.1f s\n",
					r.Comparison, len(r.Captures), time.Since(began).Seconds())
				return nil
			}
		},
	}
}

func parseSize(s string) (image.Point, error) {
	var p image.Point
	var rest string
	n, _ := fmt.Sscanf(s+" .", "%dx%d %s", &p.X, &p.Y, &rest)
	if n != 3 || rest != "." || p.X < 2 || p.Y < 2 {
		return p, usagef("write it like 1920x1080", "--size %q is no size", s)
	}
	return p, nil
}
