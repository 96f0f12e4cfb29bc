package main

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"text/tabwriter"

	"github.com/spf13/pflag"

	"fairframe/render"
	"fairframe/render/finding"
	"fairframe/render/media/deliver"
	"fairframe/render/record"
	"fairframe/render/scene"
)

func batchCommand() command {
	return command{
		name: "batch", operands: "FILE [--only ID,…] [--jobs N] [--fresh] [--reel OUT] [--timeline OUT]…",
		short: "renders every scene that is not up to date",
		long: `A scene is up to date when nothing that could change its clip has changed: its
settings, the captures, the pacing logs, fonts, this program and ffmpeg. A scene
that fails does not stop the others; the exit code is 1 if any failed. What cannot
work is found in all scenes before the first is encoded, as far as that is known
without decoding the captures.
manifest.json in the output folder records how each clip was made.

--reel joins all clips in the file's order, with a chapter for each scene, unless that
reel is there already. Pictures are copied, not coded again. A coder's packets of sound
do not end where pictures do: a lossless coder's are made again, the same to the bit,
and for AAC the sound is made from the captures anew, so that it too is coded once; it
stays in step to the millisecond. Clips whose streams differ are refused.

--timeline hands the scenes on: as OpenTimelineIO (.otio, with a track for each capture
and markers at spans and hitches), as an edit decision list in the way of CMX 3600
(.edl), or as WebVTT cues of the spans (.vtt, to be shown with the reel, or with the
clip of a single scene). Reel and timeline wait for every scene.

--shard K/N renders one of N parts of the scenes, each for another machine that writes
into the same output folder: every scene is in one part, and the parts are about as much
work. A part that is empty is done. It leaves a record of each clip in the folder
records; batch --merge, when all parts are done, makes the manifest of them, and the
reel and the timelines; it renders nothing, and fails if a clip is not up to date.

--list tells what would be rendered and why, and renders nothing. The cost is an
estimate: the frames that are decoded of each capture, and those of the clip.

The exit code is 75 if all that failed may work next time: the disk was full, ffmpeg was
killed, or a file vanished meanwhile. After a signal it is 128 and the signal's number,
such as 130 for Ctrl-C and 143 for the end that a scheduler asks for. A batch that was
ended renders only what is missing when it runs again.

--format json writes {"version": 1, "scenes": [{"scene", "result", "clip", "frames",
"length_s", "bytes", "took_s", "warnings", "error", "hints", "tolerated": [{"capture",
"first_frame", "last_frame", "from_s", "to_s", "scene_from_s", "scene_to_s",
"complaints", "ffmpeg", "kind", "pictures", "pacing"}]}], "reel": {"file", "scenes",
"frames", "length_s", "bytes", "took_s", "result", "sound"}, "timelines": ["file"]}. The
kind of what is tolerated is "gap", or absent for damage; a gap lacks so many pictures, and
the pacing there is "unknown", or "logged" by a log of another source. The reel's result is
"rendered" or "up to date", its sound "none", "from the captures" or "lossless". What does
not apply is left out. With --list it writes {"version": 1, "scenes": [{"scene", "clip",
"up_to_date", "why", "frames", "cost"}]}.`,
		setup: func(flags *pflag.FlagSet) func(context.Context, *env, []string) error {
			only := flags.StringSlice("only", nil,
				"render only the scenes with these `IDs`, separated by commas")
			keysOf(flags, "only", "scenes")
			jobs := flags.IntP("jobs", "j", 0,
				"how many scenes to render at once (default: chosen by the machine)")
			fresh := flags.Bool("fresh", false, "also render what is up to date")
			reel := flags.String("reel", "", "join all clips into `OUT`")
			timelines := flags.StringArray("timeline", nil,
				"write the timeline `OUT`.otio, OUT.edl or OUT.vtt; may be given several times")
			shard := flags.String("shard", "", "render part `K/N` of the scenes")
			list := flags.Bool("list", false, "tell what would be rendered, and render nothing")
			merge := flags.Bool("merge", false, "make manifest, reel and timelines of what shards rendered")
			format := choice(flags, "format", "format", "of the result: text or json", "text", "json")
			return func(ctx context.Context, e *env, args []string) error {
				file, err := oneFile(args, "comparison file")
				if err != nil {
					return err
				}
				if *jobs < 0 || flags.Changed("jobs") && *jobs == 0 {
					return usagef("remove --jobs to let the machine choose", "--jobs %d: at least 1", *jobs)
				}
				o := render.BatchOptions{Only: *only, Jobs: *jobs, Fresh: *fresh}
				if *shard != "" {
					var ok bool
					if o.Shard, ok = render.ParseShard(*shard); !ok {
						return usagef("write it like 2/8: part 2 of 8", "--shard %q is no part", *shard)
					}
				}
				if err := together(flags, "merge", "shard", "list", "fresh", "jobs"); err != nil {
					return err
				}
				if err := together(flags, "list", "reel", "timeline"); err != nil {
					return err
				}
				if err := together(flags, "shard", "reel", "timeline"); err != nil {
					return err
				}
				p, err := e.open(file)
				if err != nil {
					return err
				}
				if *list {
					return listBatch(e.stdout, p, o, *format)
				}
				extra := batchExtra{reel: *reel, timelines: *timelines}
				if err := extra.check(p, flags.Changed("reel")); err != nil {
					return err
				}
				return e.batch(ctx, p, o, *merge, extra, *format)
			}
		},
	}
}

// batchExtra is what a batch makes of its clips.
type batchExtra struct {
	reel      string // "": none
	timelines []string

	joined  *render.Reel
	written []string
}

// check refuses what cannot be, before anything is rendered.
func (x *batchExtra) check(p *scene.Project, reel bool) error {
	if reel {
		if err := render.CheckReel(p.File, x.reel); err != nil {
			return &usageError{err.Error(), strings.Join(hints(err), "; ")}
		}
	}
	for _, name := range x.timelines {
		if err := render.CheckTimeline(p.File, name); err != nil {
			return &usageError{err.Error(), strings.Join(hints(err), "; ")}
		}
	}
	return nil
}

// extra makes the reel and the timelines.
func (e *env) extra(ctx context.Context, p *scene.Project, rows []render.Row, fresh bool,
	x *batchExtra) error {
	if x.reel != "" {
		bar := e.progress("reel", "frames")
		made, err := render.MakeReel(ctx, p, rows, x.reel, fresh, func(done, total int64) { bar.update("", done, total) })
		bar.done()
		if err != nil {
			return fmt.Errorf("reel: %w", err)
		}
		e.warn("reel", made.Warnings)
		x.joined = &made
	}
	for _, name := range x.timelines {
		warnings, err := render.WriteTimeline(ctx, p, rows, name)
		if err != nil {
			return fmt.Errorf("timeline %s: %w", filepath.Base(name), err)
		}
		e.warn(filepath.Base(name), warnings)
		x.written = append(x.written, name)
	}
	return nil
}

func (e *env) batch(ctx context.Context, p *scene.Project, o render.BatchOptions, merge bool, extra batchExtra,
	format string) error {
	rows, err := e.rows(ctx, p, o, merge)
	if err != nil {
		return err
	}
	failed, passing := 0, 0
	fail := func(err error) {
		report(e.stderr, err)
		if failed++; passes(err) {
			passing++
		}
	}
	for _, r := range rows {
		e.warn(r.Scene, r.Result.Warnings)
		if r.Status == render.Failed {
			fail(fmt.Errorf("scene %s: %w", r.Scene, r.Err))
		}
	}
	if ctx.Err() == nil {
		if err := e.extra(ctx, p, rows, o.Fresh, &extra); err != nil && ctx.Err() == nil {
			fail(err)
		}
	}
	if format == "json" {
		err = writeBatchJSON(e.stdout, rows, extra)
	} else {
		err = writeBatchTable(e.stdout, rows, extra)
	}
	switch {
	case err != nil:
		return err
	case ctx.Err() != nil:
		return ctx.Err()
	case failed > 0 && passing == failed:
		return &finding.Passing{Err: errReported}
	case failed > 0:
		return errReported
	}
	return nil
}

// rows renders the scenes, or finds what shards rendered.
func (e *env) rows(ctx context.Context, p *scene.Project, o render.BatchOptions, merge bool) ([]render.Row, error) {
	if merge {
		return render.Merge(p, o.Only)
	}
	bar := e.progress("batch", "frames")
	o.Planned = func(scene string, frames int64) { bar.update(scene, 0, frames) }
	o.Started = func(scene string) (render.Progress, func(render.Row)) {
		return func(done, total int64) { bar.update(scene, done, total) },
			func(r render.Row) {
				if r.Status == render.Rendered {
					bar.update(scene, r.Result.Frames, r.Result.Frames)
				}
				if r.Status != render.Cancelled {
					bar.say("%s: %s", scene, r.Status)
				}
			}
	}
	rows, err := render.Batch(ctx, p, o)
	bar.done()
	return rows, err
}

// together refuses flags that make no sense beside another one.
func together(flags *pflag.FlagSet, one string, others ...string) error {
	for _, other := range others {
		if flags.Changed(one) && flags.Changed(other) {
			return usagef("", "--%s and --%s do not go together", one, other)
		}
	}
	return nil
}

// listedJSON is one scene of batch --list --format json.
type listedJSON struct {
	Scene    string `json:"scene"`
	Clip     string `json:"clip"`
	UpToDate bool   `json:"up_to_date"`
	Why      string `json:"why,omitempty"`
	Frames   int64  `json:"frames"`
	Cost     int64  `json:"cost"`
}

// listBatch tells what a batch would do.
func listBatch(w io.Writer, p *scene.Project, o render.BatchOptions, format string) error {
	list, err := render.List(p, o)
	if err != nil {
		return err
	}
	if format == "json" {
		doc := struct {
			Version int          `json:"version"`
			Scenes  []listedJSON `json:"scenes"`
		}{1, []listedJSON{}}
		for _, one := range list {
			doc.Scenes = append(doc.Scenes, listedJSON{one.Scene, one.Out, one.Why == "", why(one), one.Frames, one.Cost})
		}
		enc := json.NewEncoder(w)
		enc.SetIndent("", "  ")
		return enc.Encode(doc)
	}
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "scene\tframes\tcost\twould be rendered\tclip")
	for _, one := range list {
		fmt.Fprintf(t, "%s\t%d\t%d\t%s\t%s\n", one.Scene, one.Frames, one.Cost, cmp.Or(why(one), "no: up to date"), one.Out)
	}
	return t.Flush()
}

// why says why a scene would be rendered, or cannot be.
func why(l render.Listed) string {
	if l.Err != nil {
		first, _, _ := strings.Cut(l.Err.Error(), "\n")
		return visible(l.Why + ": " + first)
	}
	return visible(l.Why)
}

func writeBatchTable(w io.Writer, rows []render.Row, x batchExtra) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "scene\tresult\tframes\tlength\tsize\ttook\tclip")
	for _, r := range rows {
		switch r.Status {
		case render.Rendered:
			fmt.Fprintf(t, "%s\t%s\t%d\t%.2f s\t%s\t%.1f s\t%s\n", r.Scene, r.Status, r.Result.Frames,
				r.Result.Length.Seconds(), sizeOf(r.Result.Bytes), r.Result.Took.Seconds(), r.Out)
		case render.UpToDate:
			fmt.Fprintf(t, "%s\t%s\t\t\t\t\t%s\n", r.Scene, r.Status, r.Out)
		default:
			fmt.Fprintf(t, "%s\t%s\t\t\t\t\t\n", r.Scene, r.Status)
		}
	}
	if err := t.Flush(); err != nil {
		return err
	}
	for _, r := range rows {
		if err := writeTolerated(w, r.Scene, r.Tolerated); err != nil {
			return err
		}
	}
	if r := x.joined; r != nil {
		if r.Status == render.UpToDate {
			fmt.Fprintf(w, "reel  %s, %s, %d frames, %.2f s, %s  %s\n",
				r.Status, scenesOf(r.Scenes), r.Frames, r.Length.Seconds(), sizeOf(r.Bytes), r.Out)
		} else {
			fmt.Fprintf(w, "reel  %s, %d frames, %.2f s, %s, pictures copied, %s, in %.1f s  %s\n",
				scenesOf(r.Scenes), r.Frames, r.Length.Seconds(), sizeOf(r.Bytes), reelSound(r.Sound),
				r.Took.Seconds(), r.Out)
		}
	}
	for _, name := range x.written {
		if _, err := fmt.Fprintf(w, "timeline  %s\n", name); err != nil {
			return err
		}
	}
	return nil
}

func scenesOf(n int) string {
	if n == 1 {
		return "1 scene"
	}
	return fmt.Sprintf("%d scenes", n)
}

// reelSound says what a reel's sound is.
func reelSound(s deliver.ReelSound) string {
	switch s {
	case deliver.FromCaptures:
		return "sound encoded once, from the captures"
	case deliver.CopiedExactly:
		return "sound unchanged"
	}
	return "no sound"
}

// batchJSON is the shape of batch --format json, version 1.
type batchJSON struct {
	Version   int            `json:"version"`
	Scenes    []batchRowJSON `json:"scenes"`
	Reel      *reelJSON      `json:"reel,omitempty"`
	Timelines []string       `json:"timelines,omitempty"`
}

type reelJSON struct {
	File    string  `json:"file"`
	Scenes  int     `json:"scenes"`
	Frames  int64   `json:"frames"`
	Seconds float64 `json:"length_s"`
	Bytes   int64   `json:"bytes"`
	Took    float64 `json:"took_s"`
	Result  string  `json:"result"` // "rendered" or "up to date"
	Sound   string  `json:"sound"`  // "none", "from the captures" or "lossless"
}

type batchRowJSON struct {
	Scene    string   `json:"scene"`
	Result   string   `json:"result"` // "rendered", "up to date", "failed" or "not done"
	Clip     string   `json:"clip,omitempty"`
	Frames   int64    `json:"frames,omitempty"`
	Seconds  float64  `json:"length_s,omitempty"`
	Bytes    int64    `json:"bytes,omitempty"`
	Took     float64  `json:"took_s,omitempty"`
	Warnings []string `json:"warnings,omitempty"`
	Error    string   `json:"error,omitempty"`
	Hints    []string `json:"hints,omitempty"`
	// Damage that the clip shows: capture, first_frame, last_frame, from_s, to_s,
	// scene_from_s, scene_to_s, complaints, ffmpeg.
	Tolerated []record.Tolerated `json:"tolerated,omitempty"`
}

func writeBatchJSON(w io.Writer, rows []render.Row, x batchExtra) error {
	doc := batchJSON{Version: 1, Scenes: []batchRowJSON{}, Timelines: x.written}
	if r := x.joined; r != nil {
		doc.Reel = &reelJSON{r.Out, r.Scenes, r.Frames, r.Length.Seconds(), r.Bytes, r.Took.Seconds(),
			string(r.Status), string(r.Sound)}
	}
	for _, r := range rows {
		row := batchRowJSON{Scene: r.Scene, Result: string(r.Status), Warnings: finding.Warnings(r.Result.Warnings),
			Tolerated: r.Tolerated}
		switch r.Status {
		case render.Rendered:
			row.Clip, row.Frames, row.Seconds, row.Bytes, row.Took =
				r.Out, r.Result.Frames, r.Result.Length.Seconds(), r.Result.Bytes, r.Result.Took.Seconds()
		case render.UpToDate:
			row.Clip = r.Out
		case render.Failed:
			row.Error, row.Hints = r.Err.Error(), hints(r.Err)
		}
		doc.Scenes = append(doc.Scenes, row)
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	return enc.Encode(doc)
}
