//go:build linux

package main

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"
)

// killing is a kind of kill. It reports whether there was something to kill, and
// leads to an exit code.
type killing struct {
	name string
	kill func(r *disturbed) bool
	code int
}

func killings() []killing {
	program := func(sig os.Signal) func(r *disturbed) bool {
		return func(r *disturbed) bool { return r.cmd.Process.Signal(sig) == nil }
	}
	return []killing{
		{"program, interrupt", program(os.Interrupt), 130},
		{"program, terminate", program(syscall.SIGTERM), 143},
		{"program, kill", program(os.Kill), -1},
		{"ffmpeg, kill", func(r *disturbed) bool { return r.signalChild(syscall.SIGKILL) }, exitLater},
		{"ffmpeg, stopped for a while", func(r *disturbed) bool {
			hit := r.signalChild(syscall.SIGSTOP)
			time.Sleep(300 * time.Millisecond)
			for _, pid := range r.marked() {
				_ = syscall.Kill(pid, syscall.SIGCONT) // it may have ended meanwhile
			}
			return hit
		}, exitDone},
	}
}

// signalChild signals one of the run's processes that is not the program itself.
func (r *disturbed) signalChild(sig syscall.Signal) bool {
	for _, pid := range r.marked() {
		if pid != r.cmd.Process.Pid {
			return syscall.Kill(pid, sig) == nil
		}
	}
	return false
}

// kills kills the program and its ffmpegs at random moments, in parts.
func (h *harness) kills(t *testing.T) {
	k := &killer{harness: h, dir: h.place(t, t.TempDir(), "web"), temp: t.TempDir()}
	began := time.Now()
	h.recovers(t, k.dir, k.temp, "batch", "f.yaml", "--fresh", "--quiet")
	k.usual = time.Since(began)
	k.measured = []string{"measure", "captures/alder.mkv", "-o", "out/log.csv", "--quiet"}
	h.recovers(t, k.dir, k.temp, k.measured...)
	var err error
	if h.log, err = os.ReadFile(filepath.Join(k.dir, "out", "log.csv")); err != nil {
		t.Fatal(err)
	}
	for part := range often(1, 5) {
		t.Run(fmt.Sprint("part ", part+1), k.part)
	}
}

// killer is a folder to kill the program in.
type killer struct {
	*harness
	dir, temp string
	usual     time.Duration // a batch takes
	measured  []string      // a command that measures
}

// part kills until enough kills have hit something at work; the others find it
// gone.
func (k *killer) part(t *testing.T) {
	dice, kinds := k.dice(t), killings()
	first := dice.IntN(len(kinds))
	hit, hits, tries, known := map[string]int{}, 0, 0, len(k.whole)
	for ; hits < often(3, 46) && tries < often(6, 110); tries++ {
		if k.try(t, dice, kinds[(first+tries)%len(kinds)]) {
			hit[kinds[(first+tries)%len(kinds)].name]++
			hits++
		}
		if t.Failed() {
			t.Fatalf("try %d: %s", tries, kinds[(first+tries)%len(kinds)].name)
		}
	}
	k.recovers(t, k.dir, k.temp, again()...)
	// Whatever was killed in between: a clip that is there is the same to the bit.
	if len(k.whole) != known {
		t.Errorf("%d clips are others than those of a run that was left alone", len(k.whole)-known)
	}
	t.Logf("%d of %d kills hit in time: %v", hits, tries, hit)
}

// try runs a command and kills it, and reports whether that hit it.
func (k *killer) try(t *testing.T, dice *rand.Rand, kind killing) (hit bool) {
	t.Helper()
	args := []string{"render", "f.yaml", "--scene", "shore", "--quiet"}
	switch dice.IntN(9) {
	case 0, 1, 2:
		args = []string{"batch", "f.yaml", "--fresh", "--quiet", "--jobs", strconv.Itoa(1 + dice.IntN(2))}
	case 3:
		args = k.measured
	case 4:
		args = []string{"preview", "f.yaml", "--scene", "shore", "--at", "500ms", "-o", "out/still.png", "--quiet"}
	}
	// Half of the kills wait until a clip is being written, which is a small part of
	// the time.
	writing := dice.IntN(2) == 0
	when := time.Duration(dice.Int64N(int64(k.usual)))
	switch {
	case writing:
		when /= 8
	case args[0] == "render":
		when = when * 2 / 3
	case args[0] != "batch":
		when /= 6
	}
	r := k.start(t, k.dir, k.temp, args...)
	for writing && !encoding(t, filepath.Join(k.dir, "out")) && !r.over() {
		time.Sleep(time.Millisecond)
	}
	met := false
	select {
	case <-time.After(when):
		met = kind.kill(r)
	case <-r.ended:
	}
	code := r.code(t)
	switch code {
	case kind.code:
		hit = met
	case exitDone: // what was killed had done its work
	case -1:
		// A signal that comes before the program listens ends it outright.
		if when > k.usual/4 || writing {
			t.Errorf("%v: killed outright by %s after %v", args, kind.name, when)
		}
	default:
		t.Errorf("%v: exit code %d\n%s", args, code, r.stderr.String())
	}
	if (code == exitFailed || code == exitLater) && !strings.Contains(r.stderr.String(), "error: ") && !bytes.Contains(r.stdout.Bytes(), []byte("failed")) {
		t.Errorf("%v: no word of it:\n%s%s", args, r.stdout.String(), r.stderr.String())
	}
	if code != -1 {
		k.clean(t, k.dir, r)
		return hit
	}
	// Nobody was left to clear up; what lies there may not look like a clip, and goes
	// with the next run.
	if list := r.strays(); len(list) > 0 {
		t.Errorf("%v: still running: %v", args, list)
	}
	for _, name := range k.sound(t, k.dir) {
		if !strings.HasPrefix(name, ".") || !strings.HasSuffix(name, ".part") {
			t.Errorf("%v: left behind: %s", args, name)
		}
	}
	k.recovers(t, k.dir, k.temp, "render", "f.yaml", "--scene", []string{"shore", "ridge"}[dice.IntN(2)], "--quiet")
	return hit
}

// over reports whether the run has ended.
func (r *disturbed) over() bool {
	select {
	case <-r.ended:
		return true
	default:
		return false
	}
}
