// Command speed measures what fairframe costs beyond ffmpeg's own work. Every
// pair of programs runs in turns on the same files in one go, and the medians
// of the ratios are printed: a shared machine is noisy, and a time from another
// run proves nothing.
package main

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"fairframe/render/demo"
	"fairframe/render/media"
	"fairframe/render/scene"
)

func main() {
	rounds := pflag.Int("rounds", 5, "how often each program runs")
	only := pflag.StringSlice("only", nil,
		"measure only these: below, over, scripts, deck, preview, measure, batch, jobs, views")
	sizes := pflag.StringSlice("sizes", []string{"1920x1080"}, "the output sizes of views")
	keep := pflag.String("demo", "", "a folder with a demo of at least 13 s, to save making one")
	memory := pflag.Bool("memory", false, "measure instead the memory of a 1 and a 10 minute scene")
	load := pflag.Bool("load", false,
		"measure instead time and memory under load: scenes, capture, scene, large, deep")
	pflag.Parse()
	b := &bench{ctx: context.Background(), rounds: *rounds, only: *only, sizes: *sizes, demo: *keep}
	run := b.run
	switch {
	case *memory:
		run = b.memory
	case *load:
		run = b.load
	}
	if err := run(); err != nil {
		fmt.Fprintln(os.Stderr, "error:", err)
		os.Exit(1)
	}
}

type bench struct {
	ctx       context.Context
	rounds    int
	only      []string
	sizes     []string
	demo      string
	dir       string
	fairframe string // the program
	tools     *media.Tools
}

func (b *bench) wants(name string) bool { return len(b.only) == 0 || slices.Contains(b.only, name) }

// setUp builds the program and makes the captures.
func (b *bench) setUp() (err error) {
	if b.dir, err = os.MkdirTemp("", "fairframe-speed-"); err != nil {
		return err
	}
	if b.tools, err = media.Find(""); err != nil {
		return err
	}
	b.fairframe = filepath.Join(b.dir, "fairframe")
	if err := exec.Command("go", "build", "-o", b.fairframe, "./cmd/fairframe").Run(); err != nil {
		return fmt.Errorf("building fairframe: %w", err)
	}
	return nil
}

// scene writes a comparison file with one scene of the demo's captures.
func (b *bench) scene(name, body string) (string, error) {
	text := fmt.Sprintf(`output: {folder: out-%s, size: 1920x1080, rate: 60, delivery: web}
captures:
  alder: {name: Alder, raster: 1408x792, video: '%s/captures/alder.mkv', pacing: '%s/captures/alder.csv'}
  birch: {name: Birch, raster: 1920x1080, video: '%s/captures/birch.mp4', pacing: {file: '%s/captures/birch.txt', column: ms, means: frame-time, unit: ms, starts: 0s}}
%s`, name, b.demo, b.demo, b.demo, b.demo, body)
	path := filepath.Join(b.dir, name+".yaml")
	return path, os.WriteFile(path, []byte(text), 0o644)
}

const tenSeconds = `scenes:
  - id: speed
    captures: [alder, birch]
    start: {alder: 2.05s, birch: 1.25s}
    length: 10s
    window: {center: [0.5, 0.5], magnify: 1}
    deck: {place: %s}
`

func (b *bench) run() error {
	if err := b.setUp(); err != nil {
		return err
	}
	defer os.RemoveAll(b.dir)
	if b.demo == "" {
		b.demo = filepath.Join(b.dir, "demo")
		fmt.Println("making the demo …")
		if _, err := demo.Write(b.ctx, b.tools, b.demo, demo.Options{Length: 13 * time.Second}); err != nil {
			return err
		}
	}
	abs, err := filepath.Abs(b.demo)
	if err != nil {
		return err
	}
	b.demo = abs
	version, err := b.tools.Version(b.ctx)
	if err != nil {
		return err
	}
	fmt.Printf("ffmpeg %s, medians of %d rounds, 1080p60, x264 veryfast, 10 s\n\n", version, b.rounds)
	for _, m := range []struct {
		name string
		do   func() error
	}{{"below", b.clips}, {"scripts", b.scripts}, {"deck", b.deck}, {"preview", b.preview},
		{"measure", b.measure}, {"batch", b.idle}, {"jobs", b.jobs}, {"views", b.views}} {
		if b.wants(m.name) || m.name == "below" && b.wants("over") {
			if err := m.do(); err != nil {
				return err
			}
		}
	}
	return nil
}

// entrant is one of the programs that run in turns.
type entrant struct {
	name string
	run  func() (cpu time.Duration, err error)
}

// compare runs the entrants in turns and prints each one's median time, and the
// medians of its ratios to the first, round by round: by the clock, which counts,
// and in processor time, which a busy machine leaves steadier.
func (b *bench) compare(title string, list ...entrant) error {
	wall, cpu := make([][]float64, len(list)), make([][]float64, len(list))
	for round := range b.rounds + 1 {
		for i, e := range list {
			began := time.Now()
			spent, err := e.run()
			if err != nil {
				return fmt.Errorf("%s: %s: %w", title, e.name, err)
			}
			if round > 0 { // the first round warms the file cache
				wall[i] = append(wall[i], time.Since(began).Seconds())
				cpu[i] = append(cpu[i], spent.Seconds())
			}
		}
	}
	fmt.Printf("%-44s %9s  %-26s %s\n", title, "clock", "ratio of clocks", "of processor time")
	for i, e := range list {
		clocks, work := ratios(wall[i], wall[0]), ratios(cpu[i], cpu[0])
		fmt.Printf("  %-42s %7.3f s  x%.3f  [%.3f .. %.3f]   x%.3f  [%.3f .. %.3f]\n", e.name,
			median(wall[i]),
			median(clocks), slices.Min(clocks), slices.Max(clocks), median(work), slices.Min(work), slices.Max(work))
	}
	fmt.Println()
	return nil
}

func ratios(x, to []float64) []float64 {
	r := make([]float64, len(x))
	for i := range r {
		r[i] = x[i] / to[i]
	}
	return r
}

func median(x []float64) float64 {
	s := slices.Sorted(slices.Values(x))
	n := len(s)
	return (s[(n-1)/2] + s[n/2]) / 2
}

// command returns a run of a program; its processor time holds that of the
// programs it started.
func (b *bench) command(name string, args ...string) func() (time.Duration, error) {
	return func() (time.Duration, error) {
		cmd := exec.Command(name, args...)
		out, err := cmd.CombinedOutput()
		if err != nil {
			return 0, fmt.Errorf("%w: %s", err, out)
		}
		return spent(cmd), nil
	}
}

func spent(cmd *exec.Cmd) time.Duration {
	return cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
}

// floor is the clip of the same captures, window, size and encoder with nothing
// drawn, as a bare ffmpeg command.
func (b *bench) floor() ([]string, error) {
	file, err := b.scene("floor", fmt.Sprintf(tenSeconds, "none"))
	if err != nil {
		return nil, err
	}
	plan, err := b.plan(file)
	if err != nil {
		return nil, err
	}
	return plan.Clip.Arguments(filepath.Join(b.dir, "floor.mp4"))
}

func (b *bench) plan(file string) (*scene.Planned, error) {
	p, err := scene.Open(file, b.tools)
	if err != nil {
		return nil, err
	}
	return scene.PlanScene(b.ctx, p, &p.File.Scenes[0])
}

// clips compares whole clips, and the bare graphs with an already drawn deck,
// with the floor.
func (b *bench) clips() error {
	args, err := b.floor()
	if err != nil {
		return err
	}
	list := []entrant{{"floor (bare ffmpeg)", b.command(b.tools.FFmpeg, args...)}}
	for _, place := range []string{"below", "over"} {
		if !b.wants(place) {
			continue
		}
		file, err := b.scene(place, fmt.Sprintf(tenSeconds, place))
		if err != nil {
			return err
		}
		list = append(list, entrant{"fairframe render, deck " + place,
			b.command(b.fairframe, "render", file, "--scene", "speed", "-o",
				filepath.Join(b.dir, place+".mp4"), "--quiet")})
	}
	return b.compare("clip against its floor", list...)
}

// deck draws decks alone, on one core.
func (b *bench) deck() error {
	cmd := exec.Command("go", "test", "-run", "^$", "-bench", "Draw", "-cpu", "1", "./render/deck")
	cmd.Stdout, cmd.Stderr = os.Stdout, os.Stderr
	return cmd.Run()
}

// preview compares a single frame with ffmpeg's own seek and decode of the same
// two frames into a picture file.
func (b *bench) preview() error {
	file, err := b.scene("preview", fmt.Sprintf(tenSeconds, "below"))
	if err != nil {
		return err
	}
	plan, err := b.plan(file)
	if err != nil {
		return err
	}
	const k = 300
	args := []string{"-y", "-v", "error", "-nostdin"}
	for _, l := range plan.Clip.Inputs {
		at := l.Start.Seconds() + k/60.
		args = append(args, "-ss", strconv.FormatFloat(at, 'f', 6, 64), "-i", l.Capture.Path)
	}
	args = append(args, "-filter_complex", "[0:v][1:v]hstack,format=rgb24", "-frames:v", "1", "-c:v", "png",
		"-compression_level", "20", filepath.Join(b.dir, "seek.png"))
	return b.compare("preview against ffmpeg's seek and decode of its frames",
		entrant{"ffmpeg", b.command(b.tools.FFmpeg, args...)},
		entrant{"fairframe preview", b.command(b.fairframe, "preview", file, "--scene", "speed", "--at", "5s",
			"-o", filepath.Join(b.dir, "preview.png"))})
}

// measure compares measuring with decoding to nowhere.
func (b *bench) measure() error {
	capture := filepath.Join(b.dir, "birch.mp4")
	// Of the length of a short play, so that what a run costs once weighs no more
	// than it does in use.
	if _, err := b.command(b.tools.FFmpeg, "-y", "-v", "error", "-nostdin", "-stream_loop", "3", "-i",
		filepath.Join(b.demo, "captures", "birch.mp4"), "-map", "0:v:0", "-c", "copy", capture)(); err != nil {
		return err
	}
	return b.compare("measure against ffmpeg's decode to nowhere",
		entrant{"ffmpeg", b.command(b.tools.FFmpeg, "-v", "error", "-nostdin", "-i", capture, "-map", "0:v:0",
			"-f", "null", "-")},
		entrant{"fairframe measure", b.command(b.fairframe, "measure", capture, "-o",
			filepath.Join(b.dir, "birch.csv"), "--quiet")})
}

// idle times a batch of 100 scenes that are all up to date.
func (b *bench) idle() error {
	var scenes strings.Builder
	scenes.WriteString("scenes:\n")
	for i := range 100 {
		fmt.Fprintf(&scenes, "  - {id: s%d, captures: [alder, birch], start: {alder: 2.05s, birch: 1.25s}, length: %dms, deck: {place: below}}\n", i, 100+i)
	}
	file, err := b.scene("idle", scenes.String())
	if err != nil {
		return err
	}
	// Small and short: only what comes after counts.
	if err := substitute(file, "1920x1080, rate", "640x360, rate"); err != nil {
		return err
	}
	if _, err := b.command(b.fairframe, "batch", file, "--quiet")(); err != nil {
		return err
	}
	return b.compare("batch of 100 scenes, nothing to do",
		entrant{"fairframe batch", b.command(b.fairframe, "batch", file, "--quiet")})
}

// jobs compares a batch of four scenes, one after the other and two at a time.
func (b *bench) jobs() error {
	var scenes strings.Builder
	scenes.WriteString("scenes:\n")
	for i := range 4 {
		fmt.Fprintf(&scenes, "  - {id: s%d, captures: [alder, birch], start: {alder: %d.05s, birch: %d.25s}, length: 4s, deck: {place: below}}\n", i, 2+i, 1+i)
	}
	file, err := b.scene("jobs", scenes.String())
	if err != nil {
		return err
	}
	batch := func(more ...string) func() (time.Duration, error) {
		return b.command(b.fairframe, append([]string{"batch", file, "--fresh", "--quiet"}, more...)...)
	}
	return b.compare("batch of 4 scenes", entrant{"one at a time", batch("--jobs", "1")},
		entrant{"two at a time", batch("--jobs", "2")}, entrant{"as the machine chooses", batch()})
}

// views compares short clips of each view, at each size that was asked for, with
// their floor: the same view without deck, tabs and marks.
func (b *bench) views() error {
	marks := "marks: [{capture: alder, box: [0.4, 0.4, 0.2, 0.2]}, {capture: birch, arrow: [[0.3, 0.3], [0.5, 0.5]], note: here}], caption: A caption"
	for _, size := range b.sizes {
		for _, view := range []string{"columns", "rows", "single", "inset", "inset, inset: {place: over}",
			"wipe", "wipe, wipe: {angle: 20}", "wipe, wipe: {swing: 2s}", "alternate, alternate: {every: 500ms}", "difference", "difference, difference: {show: alone, of: colour}"} {
			list := make([]entrant, 0, 3)
			for _, e := range []struct{ name, keys string }{
				{"nothing drawn", "deck: {place: none, tabs: false}"},
				{"deck below", "deck: {place: below}"},
				{"deck below, two marks, a caption", "deck: {place: below}, " + marks},
			} {
				name := fmt.Sprintf("views%d", len(list))
				file, err := b.scene(name, fmt.Sprintf("scenes:\n  - {id: speed, captures: [alder, birch], start: {alder: 2.05s, birch: 1.25s}, length: 2s, %s, view: %s}\n", e.keys, view))
				if err != nil {
					return err
				}
				if err := substitute(file, "1920x1080, rate", size+", rate"); err != nil {
					return err
				}
				list = append(list, entrant{e.name, b.command(b.fairframe, "render", file, "--scene", "speed",
					"-o", filepath.Join(b.dir, name+".mp4"), "--quiet")})
			}
			if err := b.compare(size+", view: "+view, list...); err != nil {
				return err
			}
		}
	}
	return nil
}

// substitute replaces old once in a file.
func substitute(file, old, by string) error {
	text, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	return os.WriteFile(file, []byte(strings.Replace(string(text), old, by, 1)), 0o644)
}
