//go:build linux

package main

import (
	"bytes"
	"encoding/hex"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"
)

// tracer runs the program under strace, which tells what it and every process
// that it starts opened, wrote and connected to.
type tracer struct{ strace, program string }

// newTracer looks for strace, and leaves the test out where it is missing or may
// not look into processes.
func newTracer(t *testing.T) *tracer {
	t.Helper()
	strace, err := exec.LookPath("strace")
	if err != nil {
		t.Skip("left out: strace is not installed, which tells what files are opened (.ci/test installs it on Debian and its kin)")
	}
	if out, err := exec.Command(strace, "-f", "-qq", "-o", os.DevNull, "true").CombinedOutput(); err != nil {
		t.Skipf("left out: strace may not look into processes here: %v\n%s", err, out)
	}
	program, err := exec.LookPath("fairframe")
	if err != nil {
		t.Fatal(err)
	}
	return &tracer{strace, program}
}

// traced is a run of the program and what it did.
type traced struct {
	dir            string // in which it ran
	code           int
	stdout, stderr string
	read           []string // files opened for reading, as they are called on disk
	tried          []string // files that could not be opened
	changed        []string // opened for writing, made, renamed, removed
	started        []string // programs
	network        []string // calls
	memory         int64    // peak of the largest process, in bytes
	cpu            time.Duration
}

// calls that are traced, besides those of the network.
const tracedCalls = "open,openat,openat2,creat,mkdir,mkdirat,mknod,mknodat,rename,renameat,renameat2,link,linkat,symlink,symlinkat,unlink,unlinkat,rmdir,truncate,chmod,fchmodat,chown,lchown,fchownat,utimensat,execve,execveat,%network"

// patience is how long a hostile input may keep the program busy.
const patience = time.Minute

// run runs the program in a folder of its own with its own one for temporary files.
func (r *tracer) run(t *testing.T, dir, temp string, args ...string) traced {
	t.Helper()
	logs := t.TempDir()
	cmd := exec.Command(r.strace, slices.Concat([]string{"-ff", "-y", "-xx", "-qq", "-s", "100", "--seccomp-bpf", "-e", "signal=none", "-e", "trace=" + tracedCalls,
		"-o", filepath.Join(logs, "t"), r.program}, args)...)
	got := bounded(t, cmd, dir, temp)
	names, err := filepath.Glob(filepath.Join(logs, "t.*"))
	if err != nil || len(names) == 0 {
		t.Fatalf("strace told nothing (%v)\n%s", err, got.stderr)
	}
	for _, name := range names {
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for line := range strings.Lines(string(b)) {
			got.line(t, strings.TrimRight(line, "\n"))
		}
	}
	return got
}

// bounded runs a command and measures it. It fails if the command takes too long.
func bounded(t *testing.T, cmd *exec.Cmd, dir, temp string) traced {
	t.Helper()
	var stdout, stderr bytes.Buffer
	cmd.Dir, cmd.Stdout, cmd.Stderr = dir, &stdout, &stderr
	cmd.Env = append(os.Environ(), "TMPDIR="+temp)
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	stop := time.AfterFunc(patience, func() { _ = syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL) })
	_ = cmd.Wait() // the exit code is looked at
	if !stop.Stop() {
		t.Errorf("%v: still busy after %v\n%s", cmd.Args, patience, stderr.String())
	}
	got := traced{dir: dir, code: cmd.ProcessState.ExitCode(), stdout: stdout.String(), stderr: stderr.String(),
		cpu: cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()}
	if u, ok := cmd.ProcessState.SysUsage().(*syscall.Rusage); ok {
		got.memory = u.Maxrss << 10
	}
	return got
}

var (
	callForm   = regexp.MustCompile(`^(\w+)\((.*)\) += (-?\d+|\?)(?:<([^>]*)>)?`)
	stringForm = regexp.MustCompile(`"((?:\\x[0-9a-f]{2})*)"`)
	folderForm = regexp.MustCompile(`^[A-Z0-9_]+<((?:\\x[0-9a-f]{2})*)>`)
)

// unhex reads strace's \x2f\x74….
func unhex(s string) string {
	b, err := hex.DecodeString(strings.ReplaceAll(s, `\x`, ""))
	if err != nil {
		return s
	}
	return string(b)
}

// line adds one line of strace's log.
func (r *traced) line(t *testing.T, line string) {
	m := callForm.FindStringSubmatch(line)
	if m == nil {
		if !strings.HasPrefix(line, "+++") && !strings.Contains(line, "<unfinished") && !strings.Contains(line, "<detached") && !strings.HasPrefix(line, "---") {
			t.Errorf("strace says what is not understood: %s", line)
		}
		return
	}
	call, args, result, opened := m[1], m[2], m[3], unhex(m[4])
	var names []string
	for _, s := range stringForm.FindAllStringSubmatch(args, -1) {
		names = append(names, unhex(s[1]))
	}
	// A name may be seen from a folder that is open, or from the one that the program
	// runs in.
	folder := r.dir
	if f := folderForm.FindStringSubmatch(args); f != nil {
		folder = unhex(f[1])
	}
	for i, name := range names {
		if !filepath.IsAbs(name) {
			names[i] = filepath.Join(folder, name)
		}
	}
	name := ""
	if len(names) > 0 {
		name = names[0]
	}
	done := !strings.HasPrefix(result, "-")
	switch call {
	case "open", "openat", "openat2", "creat":
		switch writes := call == "creat" || strings.Contains(args, "O_WRONLY") || strings.Contains(args, "O_RDWR") || strings.Contains(args, "O_CREAT"); {
		case !done:
			r.tried = append(r.tried, name)
		case writes:
			r.changed = append(r.changed, opened)
		default:
			r.read = append(r.read, opened)
		}
	case "execve", "execveat":
		if done {
			r.started = append(r.started, name)
		}
	case "socketpair":
	case "socket", "connect", "bind", "listen", "accept", "accept4", "sendto", "sendmsg", "sendmmsg", "recvfrom", "recvmsg":
		r.network = append(r.network, line)
	case "getsockname", "getpeername", "getsockopt", "setsockopt", "shutdown", "recvmmsg":
	default:
		if done {
			r.changed = append(r.changed, names...)
		}
	}
}

// systemPlaces are places whose files every program reads: the loader, shared libraries
// and their settings, and what the kernel tells of itself.
var systemPlaces = []string{"/lib/", "/lib64/", "/usr/lib/", "/usr/lib64/", "/usr/local/lib/", "/usr/share/", "/proc/", "/sys/", "/etc/ld.so.", "/etc/ssl/", "/etc/pki/", "/etc/gnutls/", "/etc/crypto-policies/",
	"/etc/localtime", "/dev/null", "/dev/urandom", "/dev/random", "/etc/nsswitch.conf"}

func ofSystem(name string) bool {
	return slices.ContainsFunc(systemPlaces, func(p string) bool { return strings.HasPrefix(name, p) })
}

// stayedWithin fails unless the run read nothing but the named files, programs and
// the system's own, wrote only into the folders, and spoke to nobody.
func (r *traced) stayedWithin(t *testing.T, named, folders []string) {
	t.Helper()
	in := func(name string) bool {
		return slices.ContainsFunc(folders, func(dir string) bool { return name == dir || strings.HasPrefix(name, dir+"/") })
	}
	for _, name := range r.read {
		switch {
		case ofSystem(name), in(name), slices.Contains(named, name), slices.Contains(r.started, name), strings.HasPrefix(name, "pipe:"), strings.HasPrefix(name, "anon_inode:"):
		default:
			t.Errorf("read %q, which nobody named", name)
		}
	}
	for _, name := range r.changed {
		if name != os.DevNull && !in(name) {
			t.Errorf("wrote %q", name)
		}
	}
	for _, call := range r.network {
		t.Errorf("used the network: %s", call)
	}
	for _, name := range r.started {
		if base := filepath.Base(name); base != "fairframe" && base != "ffmpeg" && base != "ffprobe" {
			t.Errorf("started %q", name)
		}
	}
	r.modest(t)
}

// Bounds on what a hostile input may cost.
const (
	mostMemory = 1 << 30
	mostCPU    = 30 * time.Second
)

// modest fails if the run took more memory or time than any input is worth.
func (r *traced) modest(t *testing.T) {
	t.Helper()
	if r.memory > mostMemory || r.cpu > mostCPU {
		t.Errorf("took %d MB and %v of processor time", r.memory>>20, r.cpu)
	}
	if strings.ContainsAny(r.stdout+r.stderr, "\x1b\a\b\u202e\u009b") {
		t.Errorf("would steer a terminal: %q %q", r.stdout, r.stderr)
	}
	if strings.Contains(r.stderr, "goroutine ") || strings.Contains(r.stderr, "panic:") {
		t.Errorf("panics:\n%s", r.stderr)
	}
}

// refused fails unless the run ended with that code and an error with those words.
func (r *traced) refused(t *testing.T, code int, words ...string) {
	t.Helper()
	if r.code != code {
		t.Errorf("exit code %d instead of %d\n%s%s", r.code, code, r.stdout, r.stderr)
	}
	if !strings.Contains(r.stderr, "error: ") && !strings.Contains(r.stdout, "fails: ") {
		t.Errorf("no error is named:\n%s%s", r.stdout, r.stderr)
	}
	for _, w := range words {
		if !strings.Contains(r.stdout+r.stderr, w) {
			t.Errorf("no word %q in\n%s%s", w, r.stdout, r.stderr)
		}
	}
}
