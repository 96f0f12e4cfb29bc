package demo

import (
	"bufio"
	"crypto/sha256"
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"

	"fairframe/render/pacing"
)

const comparisonName = "comparison.yaml"

// writeLog writes a capture's pacing log: the tool's own format, or the other
// one that shows how a foreign log is read.
func writeLog(path string, mc *machine, o Options, c Capture) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	defer f.Close()
	about := []string{
		fmt.Sprintf("Kestrel Pass on %s, a game and a machine that do not exist", mc.name),
		fmt.Sprintf("rendered at %dx%d, captured at %dx%d and %v Hz, seed %d", c.Raster.X, c.Raster.Y,
			c.Size.X, c.Size.Y, captureRate(), o.Seed),
		"the schedule by which the capture was made; the last frame is cut off where the capture ends",
	}
	if strings.HasSuffix(mc.log, ".csv") {
		if err := pacing.WriteLog(f, about, c.Frames); err != nil {
			return err
		}
		return f.Close()
	}
	w := bufio.NewWriter(f)
	for _, s := range about {
		fmt.Fprintf(w, "# %s\n", s)
	}
	fmt.Fprint(w, "frame\tms\n")
	for i, fr := range c.Frames {
		// Six decimals of a ms are whole nanoseconds.
		fmt.Fprintf(w, "%d\t%d.%06d\n", i, fr.Time/time.Millisecond, fr.Time%time.Millisecond)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	return f.Close()
}

// demoScene is a scene of the demo; times are parts of a leg, in game time.
type demoScene struct {
	id           string
	about        string
	captures     []string
	from, length float64
	lines        []string
}

func demoScenes() []demoScene {
	return []demoScene{
		{
			id: "shore", from: 0.085, length: 0.25, captures: []string{"alder", "birch"},
			about: "Two captures side by side, one to one, with the deck below.",
			lines: []string{"window: {center: [0.5, 0.5], magnify: 1}",
				"caption: Over the lake, two steady machines and one late load"},
		},
		{
			id: "forest", from: 0.30, length: 0.33, captures: []string{"alder", "birch", "cedar"},
			about: "Three captures: the forest is too much for all of them, in three ways.",
			lines: []string{"window: {center: [0.5, 0.52], magnify: 1}", "audio: birch",
				"caption: Through the forest"},
		},
		{
			id: "detail", from: 0.335, length: 0.1875, captures: []string{"alder", "birch"},
			about: "The same small part of both pictures, three times as large, in true pixels.",
			lines: []string{"window: {center: [0.4, 0.54], magnify: 3, kernel: nearest}",
				"caption: Cables and treetops, three times as large"},
		},
		{
			id: "pass", from: 0.60, length: 0.26, captures: []string{"alder", "cedar"},
			about: "The deck lies over the footage, for those who want full height.",
			lines: []string{"window: {center: [0.5, 0.5], magnify: 1}", "deck: {place: over}",
				"caption: \"The rocky pass: locked to 30, or torn\""},
		},
		{
			id: "flight", from: 0.08, length: 0.79, captures: []string{"cedar", "birch", "alder"},
			about: "The whole flight, each capture fitted into its pane.",
			lines: []string{"window: whole", "audio: alder", "caption: The whole flight"},
		},
	}
}

// comparisonText is the comparison file of a demo, with its seal.
func comparisonText(o Options, all []machine) string {
	var b strings.Builder
	p := func(format string, a ...any) { fmt.Fprintf(&b, format, a...) }
	p("# Kestrel Pass is a made-up game; Alder, Birch and Cedar are made-up machines.\n")
	p("# Render a scene with:   fairframe render %s --scene forest\n", comparisonName)
	p("# or all of them with:   fairframe batch %s\n\n", comparisonName)
	p("title: Kestrel Pass\n\n")
	p("output:\n")
	p("  folder: out                 # relative to this file, like all paths here\n")
	p("  size: %dx%d\n", o.Size.X, o.Size.Y)
	p("  rate: 60                    # frames a second\n")
	p("  delivery: web\n\n")
	p("captures:\n")
	for i := range all {
		mc := &all[i]
		r := mc.rasterFor(o.Size)
		p("  %s:\n", mc.key)
		p("    name: %s\n", mc.name)
		p("    detail: %s\n", mc.detail)
		p("    raster: %dx%d%s# what the machine renders at\n", r.X, r.Y,
			strings.Repeat(" ", max(1, 20-len(fmt.Sprintf("%dx%d", r.X, r.Y)))))
		p("    video: captures/%s\n", mc.file)
		if strings.HasSuffix(mc.log, ".csv") {
			p("    pacing: captures/%s\n", mc.log)
			continue
		}
		p("    # A log of another program: say which column counts and what it means.\n")
		p("    pacing: {file: captures/%s, column: ms, means: frame-time, unit: ms, starts: 0s}\n", mc.log)
	}
	p("\n# The captures begin at different moments of the game, so each scene says where\n")
	p("# it starts in each of them: as a time, as a frame number (f90) or as hours,\n")
	p("# minutes and seconds.\n")
	p("defaults:\n  view: columns\n  deck: {place: below}\n\n")
	p("scenes:\n")
	leg := o.leg()
	for _, s := range demoScenes() {
		from := time.Duration(s.from * float64(leg)).Round(timeGrid)
		length := max(10*timeGrid, time.Duration(s.length*float64(leg)).Round(timeGrid))
		p("  # %s\n", s.about)
		p("  - id: %s\n", s.id)
		p("    captures: [%s]\n", strings.Join(s.captures, ", "))
		var starts []string
		for k, key := range s.captures {
			start := startOf(all, key, from)
			length = min(length, o.Length-start)
			starts = append(starts, key+": "+written(start, k))
		}
		p("    start: {%s}\n", strings.Join(starts, ", "))
		p("    length: %ss\n", strconv.FormatFloat(length.Seconds(), 'f', -1, 64))
		for _, l := range s.lines {
			p("    %s\n", l)
		}
	}
	return seal(b.String())
}

// startOf is the capture time at which a game time is seen.
func startOf(all []machine, key string, game time.Duration) time.Duration {
	for i := range all {
		if all[i].key == key {
			return max(0, game-all[i].lead)
		}
	}
	return 0
}

// written writes a time on timeGrid in one of three forms.
func written(t time.Duration, form int) string {
	switch form % 3 {
	case 1:
		return fmt.Sprintf("f%d", captureRate().FrameAt(t))
	case 2:
		return fmt.Sprintf("%02d:%02d:%02d.%03d", t/time.Hour, t/time.Minute%60, t/time.Second%60,
			t/time.Millisecond%1000)
	}
	return strconv.FormatFloat(t.Seconds(), 'f', -1, 64) + "s"
}

const sealMark = "# Made by fairframe demo, text "

// seal puts a line in front of a text from which it can be told whether the
// text was changed since.
func seal(text string) string {
	return fmt.Sprintf("%s%x\n%s", sealMark, sha256.Sum256([]byte(text)), text)
}

// unchanged reports whether a text is as seal left it, but for line ends.
func unchanged(text string) bool {
	text = strings.ReplaceAll(text, "\r\n", "\n")
	_, rest, _ := strings.Cut(text, "\n")
	return strings.HasPrefix(text, sealMark) && text == seal(rest)
}
