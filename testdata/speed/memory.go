package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// memory compares the peak memory of a one and a ten minute scene, of this
// program and of ffmpeg. It reads /proc and so runs on Linux only.
func (b *bench) memory() error {
	if err := b.setUp(); err != nil {
		return err
	}
	defer os.RemoveAll(b.dir)
	capture := filepath.Join(b.dir, "long.mkv")
	fmt.Println("making a capture of eleven minutes …")
	if _, err := b.command(b.tools.FFmpeg, "-y", "-v", "error", "-f", "lavfi", "-i",
		"testsrc2=size=640x360:rate=60:duration=660",
		"-c:v", "libx264", "-preset", "ultrafast", "-g", "120", capture)(); err != nil {
		return err
	}
	log := filepath.Join(b.dir, "long.csv")
	var text strings.Builder
	text.WriteString("time_s,frame_time_ms,tear\n")
	for i := 0; i < 660*60; i += 2 {
		fmt.Fprintf(&text, "%.9f,33.333333,\n", float64(i)/60)
	}
	if err := os.WriteFile(log, []byte(text.String()), 0o644); err != nil {
		return err
	}
	for _, length := range []string{"1m", "10m"} {
		file := filepath.Join(b.dir, length+".yaml")
		body := fmt.Sprintf(`output: {size: 640x360, rate: 60}
captures:
  a: {video: long.mkv, pacing: long.csv}
  b: {video: long.mkv, pacing: long.csv}
scenes:
  - {id: long, captures: [a, b], start: {a: 1s, b: 20s}, length: %s, audio: none}
`, length)
		if err := os.WriteFile(file, []byte(body), 0o644); err != nil {
			return err
		}
		own, child, err := peak(exec.Command(b.fairframe, "render", file, "--scene", "long", "-o",
			filepath.Join(b.dir, length+".mp4"), "--quiet"))
		if err != nil {
			return err
		}
		fmt.Printf("scene of %-4s  fairframe %4d MiB, ffmpeg %4d MiB\n", length, own>>10, child>>10)
	}
	return nil
}

// peak runs a command and returns the greatest resident memory, in KiB, of it
// and of its largest child.
func peak(cmd *exec.Cmd) (own, child int, err error) {
	if err := cmd.Start(); err != nil {
		return 0, 0, err
	}
	done := make(chan error, 1)
	go func() { done <- cmd.Wait() }()
	for {
		select {
		case err := <-done:
			return own, child, err
		case <-time.After(20 * time.Millisecond):
		}
		own = max(own, highWater(cmd.Process.Pid))
		for _, pid := range children(cmd.Process.Pid) {
			child = max(child, highWater(pid))
		}
	}
}

func highWater(pid int) int {
	b, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(b)) {
		if rest, ok := strings.CutPrefix(line, "VmHWM:"); ok {
			n, _ := strconv.Atoi(strings.Fields(rest)[0])
			return n
		}
	}
	return 0
}

func children(pid int) []int {
	var list []int
	tasks, _ := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/children", pid))
	for _, t := range tasks {
		b, _ := os.ReadFile(t)
		for _, f := range strings.Fields(string(b)) {
			if n, err := strconv.Atoi(f); err == nil {
				list = append(list, n)
			}
		}
	}
	return list
}
