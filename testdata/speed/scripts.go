package main

import (
	_ "embed"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"fairframe/render/pacing"
)

//go:embed chart.py
var chartScript []byte

// scripts compares the clip with the same one made by scripts that a user would
// write without this program: the same captures, windows and encoder settings, and
// a chart in place of the deck.
func (b *bench) scripts() error {
	floor, err := b.floor()
	if err != nil {
		return err
	}
	below, err := b.scene("below", fmt.Sprintf(tenSeconds, "below"))
	if err != nil {
		return err
	}
	clip := filepath.Join(b.dir, "below.mp4")
	list := []entrant{
		{"floor (bare ffmpeg)", b.command(b.tools.FFmpeg, floor...)},
		{"fairframe render, deck below", b.command(b.fairframe, "render", below, "--scene", "speed", "-o",
			clip, "--quiet")},
	}
	rates, err := b.rates()
	if err != nil {
		return err
	}

	// The numbers as a tiny picture a frame, which ffmpeg's own filters plot.
	numbers := filepath.Join(b.dir, "numbers.yuv")
	var raw []byte
	for _, r := range rates {
		for i := range 3 {
			v := byte(128)
			if i < 2 {
				v = byte(r[i] + 0.5)
			}
			raw = append(raw, slices.Repeat([]byte{v}, 16)...)
		}
	}
	if err := os.WriteFile(numbers, raw, 0o644); err != nil {
		return err
	}
	font, err := filepath.Abs("fonts/B612-Regular.otf")
	if err != nil {
		return err
	}
	value := func(plane string, x int) string {
		return fmt.Sprintf("drawtext=fontfile=%s:fontsize=40:fontcolor=white:x=%d:y=20:text=%%{metadata\\\\:lavfi.signalstats.%sAVG}", font, x, plane)
	}
	plot := "[2:v]signalstats,drawgraph=m1=lavfi.signalstats.YAVG:fg1=0xffe69f00:m2=lavfi.signalstats.UAVG:fg2=0xff56b4e9:min=0:max=75:bg=0x12161D:size=1920x340," +
		value("Y", 40) + "," + value("U", 1000) + ",format=yuv420p[g]"
	list = append(list, entrant{"ffmpeg: drawgraph and drawtext",
		b.command(b.tools.FFmpeg, b.script(floor, plot, "drawgraph", "-f", "rawvideo", "-pix_fmt", "yuv444p",
			"-video_size", "4x4", "-framerate", "60", "-i", numbers)...)})

	// Chart frames that are already drawn: the deck's own, which is not timed.
	if _, err := list[1].run(); err != nil {
		return err
	}
	frames := filepath.Join(b.dir, "frames")
	if err := os.Mkdir(frames, 0o755); err != nil {
		return err
	}
	if _, err := b.command(b.tools.FFmpeg, "-y", "-v", "error", "-nostdin", "-i", clip, "-vf",
		"crop=1920:340:0:740", filepath.Join(frames, "%05d.png"))(); err != nil {
		return err
	}
	list = append(list, entrant{"ffmpeg: a chart drawn before, as PNG",
		b.command(b.tools.FFmpeg, b.script(floor, "[2:v]format=yuv420p[g]", "png", "-framerate", "60", "-i",
			filepath.Join(frames, "%05d.png"))...)})

	if python, err := matplotlib(); err != nil {
		fmt.Println("left out: matplotlib,", err)
	} else {
		numbers := filepath.Join(b.dir, "numbers.csv")
		var text strings.Builder
		for _, r := range rates {
			fmt.Fprintf(&text, "%.3f,%.3f\n", r[0], r[1])
		}
		chart := filepath.Join(b.dir, "chart.py")
		if err := errors.Join(os.WriteFile(numbers, []byte(text.String()), 0o644),
			os.WriteFile(chart, chartScript, 0o644)); err != nil {
			return err
		}
		args := b.script(floor, "[2:v]format=yuv420p[g]", "matplotlib", "-f", "rawvideo", "-pix_fmt", "rgba",
			"-video_size", "1920x340", "-framerate", "60", "-i", "pipe:0")
		list = append(list, entrant{"matplotlib, through a pipe", func() (time.Duration, error) {
			return pipeline(exec.Command(python, chart, numbers), exec.Command(b.tools.FFmpeg, args...))
		}})
	}
	return b.compare("the same clip by a user's own script", list...)
}

// script returns the arguments of a plain ffmpeg command: two cropped captures,
// each with its name, side by side above a chart, encoded and heard like the floor.
func (b *bench) script(floor []string, chart, name string, input ...string) []string {
	font, _ := filepath.Abs("fonts/B612-Bold.otf")
	pane := func(i int, name string) string {
		return fmt.Sprintf("[%d:v]fps=60,crop=960:740:480:170,drawtext=fontfile=%s:fontsize=36:fontcolor=white:x=30:y=20:text=%s[p%d];", i, font, name, i)
	}
	args := []string{"-y", "-v", "error", "-ss", "2.0417", "-t", "10", "-i",
		filepath.Join(b.demo, "captures", "alder.mkv"),
		"-ss", "1.2417", "-t", "10", "-i", filepath.Join(b.demo, "captures", "birch.mp4")}
	args = append(args, input...)
	args = append(args, "-filter_complex",
		pane(0, "Alder")+pane(1, "Birch")+"[p0][p1]hstack[s];"+chart+";[s][g]vstack[v]",
		"-map", "[v]", "-map", "0:a", "-t", "10")
	encoder := floor[slices.Index(floor, "-pix_fmt") : len(floor)-1]
	return append(append(args, encoder...), filepath.Join(b.dir, name+".mp4"))
}

// rates returns both captures' frame rate at each of the clip's frames.
func (b *bench) rates() ([][2]float64, error) {
	rates := make([][2]float64, 600)
	for i, of := range []struct {
		log    string
		format pacing.Format
		start  time.Duration
	}{
		{"alder.csv", pacing.Format{}, 2050 * time.Millisecond},
		{"birch.txt", pacing.Format{Column: "ms", Means: pacing.FrameTime, Unit: pacing.Milliseconds},
			1250 * time.Millisecond},
	} {
		f, err := os.Open(filepath.Join(b.demo, "captures", of.log))
		if err != nil {
			return nil, err
		}
		defer f.Close()
		trace, _, err := pacing.ReadTrace(f, of.log, of.format, pacing.Rate{Num: 60, Den: 1}, 0,
			20*time.Second)
		if err != nil {
			return nil, err
		}
		for k := range rates {
			rates[k][i], _ = trace.RateAt(of.start+time.Duration(k)*time.Second/60, time.Second)
		}
	}
	return rates, nil
}

// matplotlib returns a Python that has it.
func matplotlib() (string, error) {
	for _, python := range []string{"python3", "/usr/bin/python3"} {
		if exec.Command(python, "-c", "import matplotlib").Run() == nil {
			return python, nil
		}
	}
	return "", errors.New("which Debian's python3-matplotlib brings, is not installed")
}

// pipeline runs one program into another and returns the processor time of both.
func pipeline(from, into *exec.Cmd) (time.Duration, error) {
	out, err := from.StdoutPipe()
	if err != nil {
		return 0, err
	}
	into.Stdin = out
	if err := errors.Join(from.Start(), into.Start()); err != nil {
		return 0, err
	}
	if err := errors.Join(into.Wait(), from.Wait()); err != nil {
		return 0, err
	}
	return spent(from) + spent(into), nil
}
