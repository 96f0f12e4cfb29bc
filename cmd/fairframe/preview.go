package main

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/pflag"

	"fairframe/render"
	"fairframe/render/comparison"
	"fairframe/render/scene"
)

func previewCommand() command {
	return command{
		name: "preview", operands: "FILE --scene ID --at TIME [-o OUT.png]",
		short: "renders one frame, exactly as render would encode it",
		long: `TIME counts from the scene's start, also when a title page precedes it: 2.5s,
250ms, 00:00:02.500, or f150 for an output frame. With speed: or hold: it is the
clip's time, as a player shows it. The words title and summary are the title page and
the closing page. The picture is
the composed frame before it is encoded. --at may be given several times; the frame's
number is then put into the name of each picture. --sheet N makes one picture of N
moments, evenly spaced over the scene.`,
		setup: func(flags *pflag.FlagSet) func(context.Context, *env, []string) error {
			var o previewOptions
			flags.StringVarP(&o.scene, "scene", "s", "", "the `ID` of the scene")
			keysOf(flags, "scene", "scenes")
			flags.StringArrayVar(&o.at, "at", nil,
				"the `TIME` within the scene, title or summary; may be given several times")
			flags.StringVarP(&o.out, "output", "o", "",
				"the picture's `NAME`, .png or .jpg (default: ID-FRAME.png in the output folder)")
			flags.StringVar(&o.pane, "pane", "", "show only the pane of the capture with this `KEY`")
			keysOf(flags, "pane", "captures")
			flags.BoolVar(&o.noDeck, "no-deck", false, "show only the panes")
			flags.IntVar(&o.sheet, "sheet", 0, "make a contact sheet of `N` moments instead")
			return func(ctx context.Context, e *env, args []string) error {
				file, err := oneFile(args, "comparison file")
				if err != nil {
					return err
				}
				o.sheets = flags.Changed("sheet")
				return e.preview(ctx, file, o)
			}
		},
	}
}

// pageMoments are the still pages of a clip, as --at calls them.
var pageMoments = map[string]struct {
	name  string
	frame func(*render.Stills) (int64, error)
}{"title": {"title page", (*render.Stills).TitleFrame},
	"summary": {"closing page", (*render.Stills).SummaryFrame}}

type previewOptions struct {
	scene, out, pane string
	at               []string
	noDeck, sheets   bool
	sheet            int
}

func (e *env) preview(ctx context.Context, file string, o previewOptions) error {
	switch {
	case o.scene == "":
		return usagef("name one with --scene ID", "which scene?")
	case len(o.at) == 0 && !o.sheets:
		return usagef("name a moment with --at TIME, for example --at 2.5s", "which moment?")
	case len(o.at) > 0 && o.sheets:
		return usagef("a sheet chooses its own moments", "--at and --sheet do not go together")
	case o.out != "" && !render.IsPicture(o.out):
		return usagef("end the name in .png or .jpg",
			"a preview is a PNG or JPEG picture, %q ends in neither", o.out)
	}
	var moments []comparison.Time
	for _, text := range o.at {
		var m comparison.Time
		if _, ok := pageMoments[text]; !ok {
			var err error
			if m, err = flagTime("--at", text); err != nil {
				return err
			}
		}
		moments = append(moments, m)
	}
	p, err := e.open(file)
	if err != nil {
		return err
	}
	stills, err := render.NewStills(ctx, p, o.scene, render.StillOptions{Pane: o.pane, NoDeck: o.noDeck})
	if err != nil {
		return err
	}
	defer func() { e.warn(o.scene, stills.Warnings) }() // pictures may add some
	if o.sheets {
		return e.sheet(ctx, p, stills, o)
	}
	for i, m := range moments {
		frame := func() (int64, error) { return stills.FrameAt(m) }
		if page, ok := pageMoments[o.at[i]]; ok {
			frame = func() (int64, error) { return page.frame(stills) }
		}
		k, err := frame()
		if err != nil {
			return err
		}
		which, what := render.FrameName(k), fmt.Sprintf("frame %d", k)
		if page, ok := pageMoments[o.at[i]]; ok {
			which, what = o.at[i], page.name
		}
		png, err := stills.Picture(ctx, k)
		if err != nil {
			return err
		}
		name := o.out
		switch {
		case name == "":
			name = render.PreviewName(p.File, o.scene, which)
		case len(moments) > 1:
			ext := filepath.Ext(name)
			name = strings.TrimSuffix(name, ext) + "-" + which + ext
		}
		if err := render.WritePreview(p.File, name, png); err != nil {
			return err
		}
		fmt.Fprintf(e.stdout, "%s  %s of scene %s\n", name, what, o.scene)
	}
	return nil
}

func (e *env) sheet(ctx context.Context, p *scene.Project, stills *render.Stills, o previewOptions) error {
	bar := e.progress("sheet", "pictures")
	png, err := stills.Sheet(ctx, o.sheet, func(done, total int64) { bar.update("", done, total) })
	bar.done()
	if err != nil {
		return err
	}
	name := o.out
	if name == "" {
		name = render.PreviewName(p.File, o.scene, "sheet")
	}
	if err := render.WritePreview(p.File, name, png); err != nil {
		return err
	}
	fmt.Fprintf(e.stdout, "%s  %d moments of scene %s\n", name, o.sheet, o.scene)
	return nil
}
