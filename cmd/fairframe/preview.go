package main

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/pflag"

	"fairframe/render/comparison"
)

func previewCommand() command {
	return command{
		name: "preview", operands: "FILE --scene ID --at TIME [-o OUT.png]", short: "renders one frame, the very frame that render would encode",
		long: `TIME counts from the scene's start: 2.5s, 250ms, 00:00:02.500, or f150 for an
output frame. The picture is the composed frame before it is encoded.`,
		setup: func(flags *pflag.FlagSet) func(context.Context, *env, []string) error {
			scene := flags.StringP("scene", "s", "", "the `ID` of the scene")
			at := flags.String("at", "", "the `TIME` within the scene")
			out := flags.StringP("output", "o", "", "the picture's `NAME` (default: ID-FRAME.png in the output folder)")
			return func(ctx context.Context, e *env, args []string) error {
				file, err := oneFile(args, "comparison file")
				if err != nil {
					return err
				}
				if *scene == "" {
					return usagef("name one with --scene ID", "which scene?")
				}
				if *at == "" {
					return usagef("name a moment with --at TIME, for example --at 2.5s", "which moment?")
				}
				moment, err := comparison.ParseTime(*at)
				if err != nil {
					return fmt.Errorf("--at: %w", err)
				}
				p, err := e.open(file)
				if err != nil {
					return err
				}
				name := *out
				if name != "" && !strings.EqualFold(filepath.Ext(name), ".png") {
					return usagef("end the name in .png", "a preview is a PNG picture, %q does not end in .png", name)
				}
				png, frame, warnings, err := p.Preview(ctx, *scene, moment)
				if err != nil {
					return err
				}
				if name == "" {
					name = p.PreviewName(*scene, frame)
				}
				if err := p.WritePreview(name, png); err != nil {
					return err
				}
				e.warn(*scene, warnings)
				fmt.Fprintf(e.stdout, "%s  frame %d of scene %s\n", name, frame, *scene)
				return nil
			}
		},
	}
}
