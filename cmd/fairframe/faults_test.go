//go:build linux

package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"hash/fnv"
	"image/png"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"fairframe/render/media"
	"fairframe/render/scratch"
)

// The fault harness does to the program what happens to programs: it is killed,
// its ffmpeg is killed, the disk fills up, captures vanish, grow and rot. After
// each fault nothing wrong may lie under an output's name, no process and no
// temporary file may be left, the words must be true, the exit code right, and
// the next run must succeed.
//
//	bash .ci/test --faults                                   all of it, half an hour
//	bash .ci/test --faults -run 'TestFaults/mutants/^mkv$'   a part of it
//	go test ./cmd/fairframe                                  a few of each kind
//
// What is random comes from a seed that a failure names; FAIRFRAME_SEED sets it.

// harness is the program, with captures to work on.
type harness struct {
	program string
	folder  string // pristine captures
	tools   *media.Tools
	seed    uint64
	rand    *rand.Rand
	log     []byte              // of captures/alder.mkv, measured undisturbed
	whole   map[[32]byte]string // digests of clips that were decoded and found whole, and of which scene they are
}

const faultFile = `
output: {folder: out, size: 256x144, delivery: %s}
captures:
  alder: {video: captures/alder.mkv, pacing: captures/alder.csv}
  birch: {video: captures/birch.mp4, pacing: {file: captures/birch.txt, column: ms, means: frame-time}}
scenes:
  - {id: ridge, captures: [alder, birch], start: 500ms, length: 500ms, summary: 100ms}
  - {id: shore, captures: [birch, alder], start: 0s, length: 1s}
`

// faultFrames are the frames of each scene's clip.
var faultFrames = map[string]int{"ridge": 36, "shore": 60, "strict": sceneCount, "lenient": sceneCount}

func newHarness(t *testing.T) *harness {
	t.Helper()
	tools, err := media.Find("")
	if err != nil {
		t.Fatalf("the tests need ffmpeg: %v", err)
	}
	program, err := exec.LookPath("fairframe")
	if err != nil {
		t.Fatal(err)
	}
	h := &harness{program: program, folder: t.TempDir(), tools: tools, seed: uint64(time.Now().UnixNano()), whole: map[[32]byte]string{}}
	if s := os.Getenv("FAIRFRAME_SEED"); s != "" {
		if h.seed, err = strconv.ParseUint(s, 10, 64); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("seed %d", h.seed)
	h.rand = h.dice(t)
	h.films(t)
	return h
}

// dice are the random choices of a test, the same whichever others are run.
func (h *harness) dice(t *testing.T) *rand.Rand {
	name := fnv.New64a()
	name.Write([]byte(t.Name()))
	return rand.New(rand.NewPCG(h.seed, name.Sum64()))
}

// films makes the captures: small, since what they show does not matter, and long
// enough to be hit while they are read.
func (h *harness) films(t *testing.T) {
	t.Helper()
	dir := filepath.Join(h.folder, "captures")
	if err := os.Mkdir(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	for i, name := range []string{"alder.mkv", "birch.mp4"} {
		ffmpeg(t, h.tools.FFmpeg, "-f", "lavfi", "-i", "testsrc2=s=160x90:r=60:d=1.5", "-f", "lavfi", "-i", fmt.Sprintf("sine=%d:d=1.5", 440+220*i),
			"-c:v", "libx264", "-preset", "ultrafast", "-g", "30", "-bf", "2", "-c:a", "aac", filepath.Join(dir, name))
	}
	rows, times, at := "time_s,frame_time_ms,tear\n", "ms\n", 0.0
	for i := range 70 {
		ms := 50.0 / 3 * float64(1+i%3/2)
		rows += fmt.Sprintf("%.6f,%.3f,\n", at/1000, ms)
		times += fmt.Sprintf("%.3f\n", 50-ms)
		at += ms
	}
	write(t, filepath.Join(dir, "alder.csv"), rows)
	write(t, filepath.Join(dir, "birch.txt"), times)
}

// place is a folder of captures to spoil, with a comparison file.
func (h *harness) place(t *testing.T, dir, delivery string) string {
	t.Helper()
	if err := os.CopyFS(filepath.Join(dir, "captures"), os.DirFS(filepath.Join(h.folder, "captures"))); err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(dir, "f.yaml"), fmt.Sprintf(faultFile, delivery))
	return dir
}

// disturbed is one run of the program under a fault.
type disturbed struct {
	cmd            *exec.Cmd
	stdout, stderr bytes.Buffer
	token, temp    string
	ended          chan struct{}
}

// start runs the program in dir with a folder of its own for temporary files,
// and marks it and all that it starts, so that strays can be found.
func (h *harness) start(t *testing.T, dir, temp string, args ...string) *disturbed {
	t.Helper()
	return h.startAs(t, os.Geteuid(), dir, temp, args...)
}

// startAs is start as another user, where this one may do that.
func (h *harness) startAs(t *testing.T, user int, dir, temp string, args ...string) *disturbed {
	t.Helper()
	r := &disturbed{token: fmt.Sprintf("FAULT_TOKEN=%d-%d", os.Getpid(), h.rand.Uint64()), temp: temp, ended: make(chan struct{})}
	r.cmd = exec.Command(h.program, args...)
	r.cmd.Dir, r.cmd.Stdout, r.cmd.Stderr = dir, &r.stdout, &r.stderr
	r.cmd.Env = append(os.Environ(), r.token, "TMPDIR="+temp)
	if os.Geteuid() == 0 && user != 0 {
		r.cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: uint32(user), Gid: uint32(user)}}
	}
	if err := r.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go func() {
		_ = r.cmd.Wait() // the exit code is looked at
		close(r.ended)
	}()
	return r
}

// code waits for the end and returns the exit code, -1 after a signal.
func (r *disturbed) code(t *testing.T) int {
	t.Helper()
	select {
	case <-r.ended:
	case <-time.After(2 * time.Minute):
		_ = r.cmd.Process.Kill()
		t.Fatalf("%v hangs\n%s", r.cmd.Args[1:], r.stderr.String())
	}
	return r.cmd.ProcessState.ExitCode()
}

// marked returns the processes that bear the run's mark and do something.
func (r *disturbed) marked() (list []int) {
	names, _ := filepath.Glob("/proc/[0-9]*/environ")
	for _, name := range names {
		b, err := os.ReadFile(name)
		if err != nil || !bytes.Contains(b, []byte(r.token+"\x00")) {
			continue
		}
		if pid, err := strconv.Atoi(filepath.Base(filepath.Dir(name))); err == nil && runs(pid) {
			list = append(list, pid)
		}
	}
	return list
}

// strays are the processes left after the end. A killed one takes a moment.
func (r *disturbed) strays() (list []int) {
	for range 100 {
		if list = r.marked(); len(list) == 0 {
			return nil
		}
		time.Sleep(20 * time.Millisecond)
	}
	return list
}

// sound checks that what lies under the outputs' names is whole and right, and
// returns the names of everything else in the folder.
func (h *harness) sound(t *testing.T, dir string) (rest []string) {
	t.Helper()
	list, err := os.ReadDir(filepath.Join(dir, "out"))
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		t.Fatal(err)
	}
	for _, e := range list {
		path := filepath.Join(dir, "out", e.Name())
		id, ext, _ := strings.Cut(e.Name(), ".")
		switch {
		case e.Name() == "manifest.json":
			b, err := os.ReadFile(path)
			if err != nil || !json.Valid(b) {
				t.Errorf("the manifest is no JSON (%v):\n%s", err, b)
			}
		case ext == "mp4" || ext == "mkv":
			b, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			sum := sha256.Sum256(b)
			if h.whole[sum] == id {
				continue // the same clip, decoded before
			}
			if n, complaint := frames(h.tools.FFmpeg, path); complaint != "" || n != faultFrames[id] {
				t.Errorf("%s has %d frames instead of %d\n%s", e.Name(), n, faultFrames[id], complaint)
			} else {
				h.whole[sum] = id
			}
		case e.Name() == "still.png":
			if f, err := os.Open(path); err != nil {
				t.Error(err)
			} else if _, err := png.Decode(f); err != nil {
				t.Errorf("%s is no whole picture: %v", e.Name(), err)
			}
		case e.Name() == "log.csv":
			if b, err := os.ReadFile(path); err != nil || h.log != nil && !bytes.Equal(b, h.log) {
				t.Errorf("%s is not the whole log (%v):\n%s", e.Name(), err, b)
			}
		default:
			rest = append(rest, e.Name())
		}
	}
	return rest
}

// frames decodes a clip and counts its frames.
func frames(ffmpeg, path string) (n int, complaint string) {
	var stdout, stderr bytes.Buffer
	cmd := exec.Command(ffmpeg, "-v", "error", "-nostdin", "-xerror", "-i", path, "-map", "0:v:0", "-fps_mode", "passthrough", "-f", "framehash", "-")
	cmd.Stdout, cmd.Stderr = &stdout, &stderr
	if err := cmd.Run(); err != nil || stderr.Len() > 0 {
		return 0, fmt.Sprint(err, stderr.String())
	}
	for line := range strings.Lines(stdout.String()) {
		if !strings.HasPrefix(line, "#") {
			n++
		}
	}
	return n, ""
}

// clean fails if the run left a process or a temporary file.
func (h *harness) clean(t *testing.T, dir string, r *disturbed) {
	t.Helper()
	if list := r.strays(); len(list) > 0 {
		t.Errorf("still running: %v", list)
	}
	if rest := h.sound(t, dir); len(rest) > 0 {
		t.Errorf("left in the output folder: %v", rest)
	}
	if list, err := os.ReadDir(r.temp); err != nil || len(list) > 0 {
		t.Errorf("left in the temporary folder: %v (%v)", list, err)
	}
}

// recovers runs the program once more, undisturbed: all must be well.
func (h *harness) recovers(t *testing.T, dir, temp string, args ...string) {
	t.Helper()
	r := h.start(t, dir, temp, args...)
	if code := r.code(t); code != exitDone {
		t.Errorf("the next run ends with %d\n%s", code, r.stderr.String())
	}
	h.clean(t, dir, r)
}

// again is the run that shows that all is well again: one scene where few are tried,
// all of them in the large tier.
func again() []string {
	if often(0, 1) == 0 {
		return []string{"render", "f.yaml", "--scene", "ridge", "--quiet"}
	}
	return []string{"batch", "f.yaml", "--quiet"}
}

// truthful fails unless standard error ends in an error that holds one of words.
func truthful(t *testing.T, r *disturbed, words ...string) {
	t.Helper()
	text := r.stderr.String()
	if !strings.Contains(text, "error: ") && !strings.Contains(text, ": failed") {
		t.Errorf("no error is named:\n%s", text)
	}
	for _, w := range words {
		if strings.Contains(text, w) {
			return
		}
	}
	t.Errorf("none of %q in:\n%s", words, text)
}

// TestFaults does all of it, to one program and one set of captures.
func TestFaults(t *testing.T) {
	h := newHarness(t)
	t.Run("kills", h.kills)
	t.Run("disk", h.disk)
	t.Run("read-only folder", h.readOnlyFolder)
	t.Run("captures", h.captures)
	t.Run("two batches", h.twoBatches)
	t.Run("slow disk", h.slowDisk)
	t.Run("mutants", h.mutants)
	t.Run("texts", h.texts)
}

// smallDisk mounts a small disk of its own, or skips the test where that is not
// allowed.
func smallDisk(t *testing.T, dir, options string) {
	t.Helper()
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Mount("fairframe-test", dir, "tmpfs", 0, options); err != nil {
		t.Skipf("no disk can be mounted here: %v", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
}

// disk renders onto full and onto read-only disks.
func (h *harness) disk(t *testing.T) {
	dir, temp := h.place(t, t.TempDir(), "lossless"), t.TempDir()
	out := filepath.Join(dir, "out")
	// Enough to begin but not to end, and too little to begin.
	for _, room := range []string{"300k", "64k"}[:often(1, 2)] {
		t.Run(room, func(t *testing.T) { h.fullDisk(t, dir, out, temp, room) })
	}
}

func (h *harness) fullDisk(t *testing.T, dir, out, temp, room string) {
	smallDisk(t, out, "size="+room)
	for _, args := range [][]string{
		{"render", "f.yaml", "--scene", "shore"},
		{"batch", "f.yaml", "--jobs", "2"},
	}[:often(1, 2)] {
		r := h.start(t, dir, temp, append(args, "--quiet")...)
		if code := r.code(t); code != exitLater {
			t.Errorf("%v on a full disk: exit code %d\n%s", args, code, r.stderr.String())
		}
		truthful(t, r, "disk is full", "not enough disk space", "No space left")
		h.clean(t, dir, r)
	}
	// The same with room for the clips but none for temporary files.
	full := filepath.Join(t.TempDir(), "full")
	smallDisk(t, full, "size=4k")
	if err := syscall.Mount("", out, "", syscall.MS_REMOUNT, "size=64m"); err != nil {
		t.Fatal(err)
	}
	r := h.start(t, dir, full, "render", "f.yaml", "--scene", "ridge", "--quiet")
	if code := r.code(t); code != exitLater {
		t.Errorf("no room for temporary files: exit code %d\n%s", code, r.stderr.String())
	}
	truthful(t, r, "no space left", "No space left", "disk is full")
	h.clean(t, dir, r)
	h.recovers(t, dir, temp, again()...)

	if err := syscall.Mount("", out, "", syscall.MS_REMOUNT|syscall.MS_RDONLY, ""); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{
		{"render", "f.yaml", "--scene", "shore"},
		{"batch", "f.yaml", "--fresh"},
		{"preview", "f.yaml", "--scene", "shore", "--at", "0s"},
	}[:often(1, 3)] {
		r := h.start(t, dir, temp, append(args, "--quiet")...)
		if code := r.code(t); code != exitFailed {
			t.Errorf("%v on a read-only disk: exit code %d\n%s", args, code, r.stderr.String())
		}
		truthful(t, r, "read-only", "cannot write")
		h.clean(t, dir, r)
	}
}

// slowDisk lets every read and write of the program and its ffmpegs take its time,
// as a disk behind a network does, and kills some of them in it.
func (h *harness) slowDisk(t *testing.T) {
	strace, err := exec.LookPath("strace")
	if err != nil {
		t.Skip("left out: strace is not installed, which slows a disk down")
	}
	if out, err := exec.Command(strace, "-f", "-qq", "-o", os.DevNull, "true").CombinedOutput(); err != nil {
		t.Skipf("left out: strace may not look into processes here: %v\n%s", err, out)
	}
	if often(0, 1) == 0 {
		t.Skip("left to the large tier: bash .ci/test --faults")
	}
	dir, temp := h.place(t, t.TempDir(), "web"), t.TempDir()
	fast := h.program
	defer func() { h.program = fast }()
	h.program = filepath.Join(t.TempDir(), "slow")
	const slow = `#!/bin/sh
exec '%s' -f -qq -o /dev/null -e trace=openat,fsync,rename,renameat,renameat2,pread64,pwrite64,lseek,ftruncate -e inject=openat,fsync,rename,renameat,renameat2,pread64,pwrite64,lseek,ftruncate:delay_exit=%d '%s' "$@"
`
	for _, delay := range []int{3000, 300, 1000}[:often(1, 3)] { // microseconds a call
		if err := os.WriteFile(h.program, fmt.Appendf(nil, slow, strace, delay, fast), 0o755); err != nil {
			t.Fatal(err)
		}
		h.recovers(t, dir, temp, "render", "f.yaml", "--scene", "ridge", "--quiet")
		for range often(0, 5) {
			r := h.start(t, dir, temp, "batch", "f.yaml", "--fresh", "--quiet")
			select {
			case <-time.After(time.Duration(h.rand.Int64N(int64(4 * time.Second)))):
				killNamed(r, "fairframe")
			case <-r.ended:
			}
			r.code(t)
			if list := r.strays(); len(list) > 0 {
				t.Errorf("still running: %v", list)
			}
			for _, name := range h.sound(t, dir) {
				if !strings.HasPrefix(name, ".") || !strings.HasSuffix(name, ".part") {
					t.Errorf("left behind: %s", name)
				}
			}
		}
	}
	h.program = fast
	h.recovers(t, dir, temp, "batch", "f.yaml", "--quiet")
}

// killNamed kills those of a run's processes that are that program.
func killNamed(r *disturbed, program string) {
	for _, pid := range r.marked() {
		if name, err := os.Readlink(fmt.Sprintf("/proc/%d/exe", pid)); err == nil && filepath.Base(name) == program {
			_ = syscall.Kill(pid, syscall.SIGKILL) // it may have ended meanwhile
		}
	}
}

// readOnlyFolder renders into a folder that may not be written to, as somebody who
// is not above that.
func (h *harness) readOnlyFolder(t *testing.T) {
	if os.Geteuid() == 0 {
		// Nobody's rights end where a folder's do. The program and all above what it
		// reads must be open to everybody.
		for _, dir := range []string{t.TempDir(), filepath.Dir(h.program)} {
			for ; dir != filepath.Clean(os.TempDir()) && dir != "/"; dir = filepath.Dir(dir) {
				if err := os.Chmod(dir, 0o755); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
	dir, temp := h.place(t, t.TempDir(), "web"), t.TempDir()
	out := filepath.Join(dir, "out")
	if err := errors.Join(os.Mkdir(out, 0o755), os.Chmod(out, 0o555), os.Chmod(temp, 0o777)); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = os.Chmod(out, 0o755) }) // so that it can be removed
	for _, args := range [][]string{{"render", "f.yaml", "--scene", "shore"}, {"batch", "f.yaml"}, {"preview", "f.yaml", "--scene", "shore", "--at", "0s"}, {"measure", "captures/alder.mkv", "-o", "out/log.csv"}}[:often(1, 4)] {
		r := h.startAs(t, 65534, dir, temp, append(args, "--quiet")...)
		if code := r.code(t); code != exitFailed {
			t.Errorf("%v into a read-only folder: exit code %d\n%s", args, code, r.stderr.String())
		}
		truthful(t, r, "permission denied", "cannot write")
		h.clean(t, dir, r)
	}
	if err := os.Chmod(out, 0o777); err != nil {
		t.Fatal(err)
	}
	r := h.startAs(t, 65534, dir, temp, "batch", "f.yaml", "--quiet")
	if code := r.code(t); code != exitDone {
		t.Errorf("the next run ends with %d\n%s", code, r.stderr.String())
	}
	h.clean(t, dir, r)
}

// captures takes captures away, lets one be written still, and sets
// their clocks wrong.
func (h *harness) captures(t *testing.T) {
	temp := t.TempDir()
	t.Run("vanished", func(t *testing.T) {
		dir := h.place(t, t.TempDir(), "web")
		h.recovers(t, dir, temp, again()...)
		if err := os.Rename(filepath.Join(dir, "captures", "birch.mp4"), filepath.Join(dir, "away")); err != nil {
			t.Fatal(err)
		}
		for _, args := range [][]string{{"batch", "f.yaml"}, {"render", "f.yaml", "--scene", "shore"}}[:often(1, 2)] {
			r := h.start(t, dir, temp, append(args, "--quiet")...)
			if code := r.code(t); code != exitFailed {
				t.Errorf("exit code %d", code)
			}
			truthful(t, r, "birch")
			h.clean(t, dir, r)
		}
		if err := os.Rename(filepath.Join(dir, "away"), filepath.Join(dir, "captures", "birch.mp4")); err != nil {
			t.Fatal(err)
		}
		h.recovers(t, dir, temp, again()...)
	})
	t.Run("nothing to do after a kill", func(t *testing.T) {
		dir := h.place(t, t.TempDir(), "web")
		h.recovers(t, dir, temp, again()...)
		gone := exec.Command("true")
		if err := gone.Run(); err != nil {
			t.Fatal(err)
		}
		// What a killed run leaves goes though every clip is up to date.
		left, err := scratch.Create(filepath.Join(dir, "out"), ".shore.mp4.*.part")
		if err != nil {
			t.Fatal(err)
		}
		left.Close()
		name := strings.Replace(left.Name(), fmt.Sprint("-", os.Getpid(), "-"), fmt.Sprint("-", gone.Process.Pid, "-"), 1)
		if err := os.Rename(left.Name(), name); err != nil {
			t.Fatal(err)
		}
		h.recovers(t, dir, temp, "batch", "f.yaml", "--only", "ridge", "--quiet")
	})
	t.Run("vanishes while it is read", func(t *testing.T) {
		dir := h.place(t, t.TempDir(), "web")
		r := h.start(t, dir, temp, "batch", "f.yaml", "--quiet", "--jobs", "1")
		for range 3000 {
			if encoding(t, filepath.Join(dir, "out")) {
				break
			}
			time.Sleep(time.Millisecond)
		}
		if err := os.Remove(filepath.Join(dir, "captures", "birch.mp4")); err != nil {
			t.Fatal(err)
		}
		// What is open stays readable; what is opened later is missed by name.
		if code := r.code(t); code == exitLater {
			truthful(t, r, "birch")
		} else if code != exitDone {
			t.Errorf("exit code %d", code)
		}
		h.clean(t, dir, r)
	})
	t.Run("being written", func(t *testing.T) {
		dir := h.place(t, t.TempDir(), "web")
		path := filepath.Join(dir, "captures", "alder.mkv")
		whole, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		// A recorder writes without a seek back: no duration, no index, an end in
		// the middle of a frame.
		for _, part := range []int{len(whole) / 3, 0, 100, len(whole) * 2 / 3}[:often(1, 4)] {
			if err := os.WriteFile(path, whole[:part], 0o644); err != nil {
				t.Fatal(err)
			}
			r := h.start(t, dir, temp, "render", "f.yaml", "--scene", "shore", "--quiet")
			var growing sync.WaitGroup
			growing.Go(func() {
				f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
				if err != nil {
					t.Error(err)
					return
				}
				defer f.Close()
				for i := range 20 {
					from := part + (len(whole)*9/10-part)*i/20
					to := part + (len(whole)*9/10-part)*(i+1)/20
					if _, err := f.Write(whole[max(0, from):max(0, to)]); err != nil {
						t.Error(err)
						return
					}
					time.Sleep(5 * time.Millisecond)
				}
			})
			switch code := r.code(t); code {
			case exitFailed:
				truthful(t, r, "alder")
			case exitDone: // it had grown past the scene in time
			default:
				t.Errorf("exit code %d", code)
			}
			growing.Wait()
			h.clean(t, dir, r)
		}
		if err := os.WriteFile(path, whole, 0o644); err != nil {
			t.Fatal(err)
		}
		h.recovers(t, dir, temp, again()...)
	})
	t.Run("clocks", func(t *testing.T) {
		dir := h.place(t, t.TempDir(), "web")
		for _, at := range []time.Time{time.Now().AddDate(30, 0, 0), time.Unix(0, 0), time.Now()}[:often(1, 3)] {
			for _, name := range []string{"captures/alder.mkv", "captures/alder.csv", "captures/birch.mp4", "f.yaml"} {
				if err := os.Chtimes(filepath.Join(dir, name), at, at); err != nil {
					t.Fatal(err)
				}
			}
			h.recovers(t, dir, temp, "batch", "f.yaml", "--quiet")
			r := h.start(t, dir, temp, "batch", "f.yaml", "--quiet")
			if code := r.code(t); code != exitDone || strings.Count(r.stdout.String(), "up to date") != 2 {
				t.Errorf("files of %v: not up to date after a batch (exit code %d):\n%s", at, code, r.stdout.String())
			}
			// A clip whose clock was moved is not the one that was recorded.
			if err := os.Chtimes(filepath.Join(dir, "out", "shore.mp4"), at, at.Add(-time.Hour)); err != nil {
				t.Fatal(err)
			}
			r = h.start(t, dir, temp, "batch", "f.yaml", "--quiet")
			if code := r.code(t); code != exitDone || strings.Count(r.stdout.String(), "up to date") != 1 {
				t.Errorf("a touched clip was taken for up to date (exit code %d):\n%s", code, r.stdout.String())
			}
		}
		// The clock jumps to and fro while a batch runs: what is written meanwhile is
		// of all times.
		for range often(0, 5) {
			r := h.start(t, dir, temp, "batch", "f.yaml", "--fresh", "--quiet")
			for done := false; !done; {
				select {
				case <-r.ended:
					done = true
				case <-time.After(5 * time.Millisecond):
					at := time.Now().Add(time.Duration(h.rand.Int64N(int64(20000*time.Hour))) - 10000*time.Hour)
					for _, name := range []string{"captures/alder.mkv", "captures/birch.txt", "f.yaml", "out/shore.mp4", "out/ridge.mp4", "out/manifest.json"} {
						_ = os.Chtimes(filepath.Join(dir, name), at, at) // it may not be there yet
					}
				}
			}
			if code := r.code(t); code != exitDone {
				t.Errorf("the clock jumped: exit code %d\n%s", code, r.stderr.String())
			}
			h.clean(t, dir, r)
			h.recovers(t, dir, temp, "batch", "f.yaml", "--quiet")
			r = h.start(t, dir, temp, "batch", "f.yaml", "--quiet")
			if code := r.code(t); code != exitDone || strings.Count(r.stdout.String(), "up to date") != 2 {
				t.Errorf("the clock jumped: not up to date after a batch (exit code %d):\n%s", code, r.stdout.String())
			}
		}
	})
}

// twoBatches runs batches on one folder at once.
func (h *harness) twoBatches(t *testing.T) {
	dir := h.place(t, t.TempDir(), "web")
	for range often(1, 10) {
		var both []*disturbed
		for range often(2, 3) {
			both = append(both, h.start(t, dir, t.TempDir(), "batch", "f.yaml", "--fresh", "--quiet"))
		}
		for _, r := range both {
			if code := r.code(t); code != exitDone {
				t.Errorf("exit code %d\n%s", code, r.stderr.String())
			}
		}
		for _, r := range both {
			h.clean(t, dir, r)
		}
		h.recovers(t, dir, t.TempDir(), "batch", "f.yaml", "--quiet")
		if t.Failed() {
			return
		}
	}
}

// texts renders from logs and comparison files whose bytes were changed:
// whatever comes of it, it ends soon, with a code of ours and a word about it.
func (h *harness) texts(t *testing.T) {
	dir, temp := h.place(t, t.TempDir(), "web"), t.TempDir()
	// Without sound, which would be decoded each time.
	for _, name := range []string{"alder.mkv", "birch.mp4"} {
		ffmpeg(t, h.tools.FFmpeg, "-i", filepath.Join(h.folder, "captures", name), "-an", "-c", "copy", filepath.Join(dir, "captures", name))
	}
	for _, name := range []string{"captures/alder.csv", "captures/birch.txt", "f.yaml"} {
		t.Run(filepath.Base(name), func(t *testing.T) { h.text(t, dir, temp, name) })
	}
	h.recovers(t, dir, temp, again()...)
}

// text spoils one file of text, again and again.
func (h *harness) text(t *testing.T, dir, temp, name string) {
	dice, path, done := h.dice(t), filepath.Join(dir, name), 0
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for range often(1, 200) {
		spoilt := bytes.Clone(whole)
		switch dice.IntN(4) {
		case 0:
			spoilt = spoilt[:dice.IntN(len(spoilt))]
		case 1:
			for range 1 + dice.IntN(10) {
				spoilt[dice.IntN(len(spoilt))] ^= 1 << dice.IntN(8)
			}
		case 2:
			from := dice.IntN(len(spoilt))
			to := min(len(spoilt), from+dice.IntN(200))
			spoilt = append(spoilt[:from:from], append(bytes.Repeat(spoilt[from:to], 1+dice.IntN(3)), spoilt[from:]...)...)
		case 3: // which as a rule is as well formed as before
			for range 1 + dice.IntN(3) {
				if at := dice.IntN(len(spoilt)); bytes.ContainsAny(spoilt[at:], "0123456789") {
					spoilt[at+bytes.IndexAny(spoilt[at:], "0123456789")] = byte('0' + dice.IntN(10))
				}
			}
		}
		if err := os.WriteFile(path, spoilt, 0o644); err != nil {
			t.Fatal(err)
		}
		r := h.start(t, dir, temp, "figures", "f.yaml", "--quiet")
		switch code := r.code(t); {
		case code == exitDone:
			done++
		case code != exitFailed:
			t.Fatalf("%s, spoilt, ends in %d:\n%s\n%s", name, code, r.stderr.String(), spoilt)
		case !strings.Contains(r.stderr.String(), "error: "):
			t.Fatalf("%s, spoilt, fails without a word:\n%s\n%s", name, r.stderr.String(), spoilt)
		case strings.Contains(r.stderr.String(), "goroutine "):
			t.Fatalf("%s, spoilt, panics:\n%s\n%s", name, r.stderr.String(), spoilt)
		}
	}
	if err := os.WriteFile(path, whole, 0o644); err != nil {
		t.Fatal(err)
	}
	t.Logf("%d of %d give figures", done, often(1, 200))
}
