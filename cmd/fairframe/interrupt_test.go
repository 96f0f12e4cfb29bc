//go:build unix

package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// TestCtrlC interrupts the real program while ffmpeg encodes: it ends with exit
// code 130 long before the clip would be done, leaves no file, and no ffmpeg.
func TestCtrlC(t *testing.T) {
	program, captures := program(t), ownDemo(t)
	// Large and without loss, so that there is time to interrupt it.
	write(t, filepath.Join(captures, "large.yaml"), `
output: {folder: out, size: 3840x2160, delivery: lossless}
captures:
  alder: {video: captures/alder.mkv, pacing: captures/alder.csv}
  cedar: {video: captures/cedar.mov, pacing: captures/cedar.csv}
scenes:
  - {id: ridge, captures: [alder, cedar], start: 0s, length: 1.9s}
  - {id: shore, captures: [cedar, alder], start: 0s, length: 1.9s}
`)
	for _, args := range [][]string{
		{"render", "large.yaml", "--scene", "ridge"},
		{"batch", "large.yaml", "--jobs", "2"},
	} {
		t.Run(args[0], func(t *testing.T) {
			var stdout, stderr strings.Builder
			cmd := exec.Command(program, args...)
			cmd.Dir, cmd.Stdout, cmd.Stderr = captures, &stdout, &stderr
			if err := cmd.Start(); err != nil {
				t.Fatal(err)
			}
			ended := make(chan error, 1)
			go func() { ended <- cmd.Wait() }()
			var children []int
			for len(children) == 0 {
				select {
				case err := <-ended:
					t.Fatalf("ended before it was interrupted: %v\n%s", err, &stderr)
				case <-time.After(20 * time.Millisecond):
				}
				if encoding(t, filepath.Join(captures, "out")) {
					children = childrenOf(t, cmd.Process.Pid)
				}
			}
			if err := cmd.Process.Signal(os.Interrupt); err != nil {
				t.Fatal(err)
			}
			<-ended
			if code := cmd.ProcessState.ExitCode(); code != 130 {
				t.Errorf("exit code %d", code)
			}
			if got, want := stderr.String(), "error: interrupted; no unfinished file is left\n"; !strings.HasSuffix(got, want) {
				t.Errorf("standard error %q", got)
			}
			if list, err := os.ReadDir(filepath.Join(captures, "out")); err != nil || len(list) > 0 {
				t.Errorf("left behind: %v (%v)", list, err)
			}
			for _, pid := range children {
				// A process that is gone, or waits for whoever inherited it to
				// notice, does nothing any more.
				if runs(pid) {
					t.Errorf("process %d still runs", pid)
				}
			}
		})
	}
}

// encoding reports whether some of a clip has been written into a folder.
func encoding(t *testing.T, folder string) bool {
	t.Helper()
	parts, err := filepath.Glob(filepath.Join(folder, ".*.part"))
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range parts {
		if info, err := os.Stat(name); err == nil && info.Size() > 0 {
			return true
		}
	}
	return false
}

// childrenOf returns the processes that a process has started. Systems without
// /proc tell of the process itself alone.
func childrenOf(t *testing.T, parent int) []int {
	t.Helper()
	if runtime.GOOS != "linux" {
		return []int{parent}
	}
	stats, err := filepath.Glob("/proc/[0-9]*/stat")
	if err != nil {
		t.Fatal(err)
	}
	var list []int
	for _, name := range stats {
		pid, _ := strconv.Atoi(filepath.Base(filepath.Dir(name)))
		if _, ppid := stat(pid); ppid == parent {
			list = append(list, pid)
		}
	}
	return list
}

// stat returns a process's state and its parent, from /proc.
func stat(pid int) (state string, parent int) {
	b, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return "", 0
	}
	// The name stands in parentheses and may hold anything.
	text := string(b)
	fields := strings.Fields(text[strings.LastIndexByte(text, ')')+1:])
	parent, _ = strconv.Atoi(fields[1])
	return fields[0], parent
}

func runs(pid int) bool {
	if runtime.GOOS == "linux" {
		state, _ := stat(pid)
		return state != "" && state != "Z" && state != "X"
	}
	return syscall.Kill(pid, 0) == nil
}
