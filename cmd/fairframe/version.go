package main

import (
	"context"
	"encoding/json"
	"fmt"
	"runtime"
	"runtime/debug"
	"slices"

	"github.com/spf13/pflag"

	"fairframe/render/media/deliver"
	"fairframe/render/record"
)

// versionJSON is the shape of version --format json, version 1, as the help lists it.
type versionJSON struct {
	Version  int         `json:"version" doc:"of this shape: 1"`
	Program  string      `json:"program" doc:"this program's version"`
	Revision string      `json:"revision,omitempty" doc:"of the source it was built from, if the build recorded it"`
	Go       string      `json:"go" doc:"that built it"`
	System   string      `json:"system" doc:"that it was built for, such as linux/amd64"`
	FFmpeg   *ffmpegJSON `json:"ffmpeg,omitempty" doc:"the one that is used; left out when there is none"`
}

type ffmpegJSON struct {
	Path     string   `json:"path" doc:"where it lies"`
	Version  string   `json:"version" doc:"as it names itself"`
	Encoders []string `json:"encoders" doc:"those of the deliveries' encoders that it has"`
	Lacks    []string `json:"lacks,omitempty" doc:"those that it lacks"`
}

func versionCommand() command {
	return command{
		name: "version", operands: "",
		short: "says what this program is, and which ffmpeg it uses",
		long:  "--format json writes:\n\n" + describedJSON(versionJSON{}),
		setup: func(flags *pflag.FlagSet) func(context.Context, *env, []string) error {
			format := choice(flags, "format", "format", "of the answer: text or json", "text", "json")
			return func(ctx context.Context, e *env, args []string) error {
				if len(args) > 0 {
					return usagef("", "version takes no operands")
				}
				if *format == "text" {
					_, err := fmt.Fprintln(e.stdout, "fairframe", record.Version())
					return err
				}
				doc, err := e.version(ctx)
				if err != nil {
					return err
				}
				enc := json.NewEncoder(e.stdout)
				enc.SetIndent("", "  ")
				return enc.Encode(doc)
			}
		},
	}
}

func (e *env) version(ctx context.Context) (versionJSON, error) {
	doc := versionJSON{Version: 1, Program: record.Version(), Go: runtime.Version(),
		System: runtime.GOOS + "/" + runtime.GOARCH}
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, s := range info.Settings {
			if s.Key == "vcs.revision" {
				doc.Revision = s.Value
			}
		}
	}
	t, err := e.tools()
	if err != nil {
		return doc, nil // there is none: the answer says so
	}
	f := &ffmpegJSON{Path: t.FFmpeg, Encoders: []string{}}
	if f.Version, err = t.Version(ctx); err != nil {
		return doc, err
	}
	var wanted []string
	for _, name := range deliver.Deliveries() {
		d, err := deliver.DeliveryOf(name)
		if err != nil {
			return doc, err
		}
		wanted = append(wanted, d.Encoders()...)
	}
	slices.Sort(wanted)
	wanted = slices.Compact(wanted)
	if f.Lacks, err = deliver.MissingEncoders(ctx, t, wanted); err != nil {
		return doc, err
	}
	f.Encoders = append(f.Encoders, slices.DeleteFunc(wanted,
		func(name string) bool { return slices.Contains(f.Lacks, name) })...)
	doc.FFmpeg = f
	return doc, nil
}
