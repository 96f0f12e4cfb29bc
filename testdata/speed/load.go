package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"
)

// load runs what is large, and prints the time and the peak memory of both
// programs for each as a row of the table in DEVELOPERS.md. Its captures are a
// short one copied end to end, which costs nothing and decodes like a long one.
func (b *bench) load() error {
	if err := b.setUp(); err != nil {
		return err
	}
	defer os.RemoveAll(b.dir)
	fmt.Println("| load | time | processor time | fairframe | ffmpeg |")
	fmt.Println("|---|---|---|---|---|")
	for _, m := range []struct {
		name string
		do   func() error
	}{{"scenes", b.manyScenes}, {"capture", b.longCapture}, {"scene", b.longScene},
		{"large", b.large}, {"deep", b.deep}} {
		if b.wants(m.name) {
			if err := m.do(); err != nil {
				return fmt.Errorf("%s: %w", m.name, err)
			}
		}
	}
	return nil
}

// row runs fairframe and prints what it took.
func (b *bench) row(name string, args ...string) error {
	cmd := exec.Command(b.fairframe, args...)
	cmd.Dir = b.dir
	var text strings.Builder
	cmd.Stderr = &text
	began := time.Now()
	own, child, err := peak(cmd)
	if err != nil {
		return fmt.Errorf("%w: %s", err, text.String())
	}
	fmt.Printf("| %s | %.1f s | %.1f s | %d MiB | %d MiB |\n", name, time.Since(began).Seconds(),
		spent(cmd).Seconds(), own>>10, child>>10)
	return nil
}

// capture makes a capture of a moving test picture: some seconds of it, times over.
func (b *bench) capture(name, size string, seconds, times int, codec ...string) error {
	one := filepath.Join(b.dir, "one-"+name)
	args := []string{"-y", "-v", "error", "-nostdin", "-f", "lavfi", "-i",
		fmt.Sprintf("testsrc2=size=%s:rate=60:duration=%d", size, seconds)}
	if _, err := b.command(b.tools.FFmpeg, append(append(args, codec...), one)...)(); err != nil {
		return err
	}
	defer os.Remove(one)
	_, err := b.command(b.tools.FFmpeg, "-y", "-v", "error", "-nostdin", "-stream_loop", fmt.Sprint(times-1),
		"-i", one, "-c", "copy", filepath.Join(b.dir, name))()
	return err
}

var fast = []string{"-c:v", "libx264", "-preset", "ultrafast", "-crf", "30", "-g", "120"}

// log writes the log of a game at 30 frames a second.
func (b *bench) log(name string, length time.Duration) error {
	f, err := os.Create(filepath.Join(b.dir, name))
	if err != nil {
		return err
	}
	fmt.Fprintln(f, "time_s,frame_time_ms,tear")
	for i := range int(length.Seconds() * 30) {
		fmt.Fprintf(f, "%.9f,33.333333,\n", float64(i)/30)
	}
	return f.Close()
}

// file writes a comparison file.
func (b *bench) file(name, text string) error {
	return os.WriteFile(filepath.Join(b.dir, name), []byte(text), 0o644)
}

func (b *bench) manyScenes() error {
	if err := b.capture("short.mkv", "640x360", 10, 1, fast...); err != nil {
		return err
	}
	if err := b.log("short.csv", 10*time.Second); err != nil {
		return err
	}
	var text strings.Builder
	text.WriteString("output: {folder: many, size: 640x360, rate: 60}\ncaptures:\n  a: {video: short.mkv, pacing: short.csv}\n  b: {video: short.mkv, pacing: short.csv}\nscenes:\n")
	for i := range 200 {
		fmt.Fprintf(&text, "  - {id: s%03d, captures: [a, b], start: {a: %dms, b: %dms}, length: 1s, audio: none}\n", i, 1000+10*i, 3000+10*i)
	}
	if err := b.file("many.yaml", text.String()); err != nil {
		return err
	}
	if err := b.row("batch of 200 scenes of 1 s, 640x360", "batch", "many.yaml", "--quiet"); err != nil {
		return err
	}
	return b.row("the same again, nothing to do", "batch", "many.yaml", "--quiet")
}

func (b *bench) longCapture() error {
	if err := b.capture("hours.mkv", "320x180", 60, 180, fast...); err != nil {
		return err
	}
	if err := b.log("hours.csv", 3*time.Hour); err != nil {
		return err
	}
	if err := b.file("hours.yaml", `output: {size: 1280x720, rate: 60}
captures:
  a: {video: hours.mkv, pacing: hours.csv}
  b: {video: hours.mkv, pacing: hours.csv}
scenes:
  - {id: late, captures: [a, b], start: {a: 2h59m0s, b: 2h58m0s}, length: 2s, audio: none}
`); err != nil {
		return err
	}
	for _, r := range []struct {
		name string
		args []string
	}{
		{"a scene of 2 s, 2 h 59 min into captures of 3 h", []string{"render", "hours.yaml", "--scene",
			"late", "-o", "late.mp4", "--quiet"}},
		{"a preview there", []string{"preview", "hours.yaml", "--scene", "late", "--at", "1s", "-o",
			"late.png", "--quiet"}},
		{"measure, a capture of 3 h, 320x180, 648 000 frames",
			[]string{"measure", "hours.mkv", "-o", "measured.csv", "--quiet"}},
	} {
		if err := b.row(r.name, r.args...); err != nil {
			return err
		}
	}
	return nil
}

func (b *bench) longScene() error {
	if err := b.capture("half.mkv", "640x360", 60, 31, fast...); err != nil {
		return err
	}
	if err := b.log("half.csv", 31*time.Minute); err != nil {
		return err
	}
	for _, length := range []string{"1m", "30m"} {
		if err := b.file("half.yaml", fmt.Sprintf(`output: {size: 640x360, rate: 60}
captures:
  a: {video: half.mkv, pacing: half.csv}
  b: {video: half.mkv, pacing: half.csv}
scenes:
  - {id: half, captures: [a, b], start: {a: 1s, b: 20s}, length: %s, audio: none}
`, length)); err != nil {
			return err
		}
		if err := b.row("a scene of "+strings.TrimSuffix(length, "m")+" min, 640x360, two captures", "render",
			"half.yaml", "--scene", "half", "-o", length+".mp4", "--quiet"); err != nil {
			return err
		}
	}
	return nil
}

func (b *bench) large() error {
	for _, id := range []string{"a", "b", "c"} {
		if err := b.capture(id+".mkv", "3840x2160", 4, 1, fast...); err != nil {
			return err
		}
	}
	if err := b.log("short.csv", 10*time.Second); err != nil {
		return err
	}
	if err := b.file("large.yaml", `output: {size: 3840x2160, rate: 60}
captures:
  a: {video: a.mkv, pacing: short.csv}
  b: {video: b.mkv, pacing: short.csv}
  c: {video: c.mkv, pacing: short.csv}
scenes:
  - {id: large, captures: [a, b, c], start: {a: 1s, b: 1s, c: 1s}, length: 2s, audio: none}
`); err != nil {
		return err
	}
	if err := b.row("a scene of 2 s, 3840x2160, three captures at 2160p60", "render", "large.yaml", "--scene",
		"large", "-o", "large.mp4", "--quiet"); err != nil {
		return err
	}
	return b.row("measure, 4 s at 2160p60", "measure", "a.mkv", "-o", "a.csv", "--quiet")
}

func (b *bench) deep() error {
	if err := b.capture("deep.mkv", "1920x1080", 4, 1, "-c:v", "libx264", "-preset", "ultrafast", "-crf",
		"10", "-pix_fmt", "yuv444p10le"); err != nil {
		return err
	}
	if err := b.log("short.csv", 10*time.Second); err != nil {
		return err
	}
	for delivery, ending := range map[string]string{"web": ".mp4", "lossless": ".mkv"} {
		if err := b.file("deep.yaml", fmt.Sprintf(`output: {size: 1920x1080, rate: 60, delivery: %s}
captures:
  a: {video: deep.mkv, pacing: short.csv}
  b: {video: deep.mkv, pacing: short.csv}
scenes:
  - {id: deep, captures: [a, b], start: {a: 1s, b: 2s}, length: 2s, audio: none}
`, delivery)); err != nil {
			return err
		}
		if err := b.row("a scene of 2 s, 1080p60, two captures of 10 bit 4:4:4, "+delivery, "render",
			"deep.yaml", "--scene", "deep", "-o", "deep-clip"+ending, "--quiet"); err != nil {
			return err
		}
	}
	return nil
}
