package main

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
)

// roots is the folder of the Debian roots, and what is bound into each.
type roots struct {
	dir    string
	module string // this checkout
	shared []string
	env    []string
	unable string // why no root can be entered; "": it can
}

func openRoots() (*roots, error) {
	r := &roots{dir: os.Getenv("FAIRFRAME_ROOTS")}
	if r.dir == "" {
		cache, err := os.UserCacheDir()
		if err != nil {
			return nil, err
		}
		r.dir = filepath.Join(cache, "fairframe", "roots")
	}
	var err error
	if r.module, err = os.Getwd(); err != nil {
		return nil, err
	}
	out, err := exec.Command("go", "env", "GOROOT", "GOMODCACHE", "GOCACHE").Output()
	if err != nil {
		return nil, fmt.Errorf("go env: %w", err)
	}
	places := strings.Fields(string(out))
	if len(places) != 3 {
		return nil, fmt.Errorf("go env: found %q", places)
	}
	r.shared = append(places, r.module)
	// Modules are read from the cache alone, and no test sees the caller's settings.
	r.env = []string{"PATH=" + places[0] + "/bin:/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin",
		"HOME=/root", "LANG=C.UTF-8", "TMPDIR=/tmp", "GOMODCACHE=" + places[1], "GOCACHE=" + places[2],
		"GOFLAGS=-buildvcs=false", "GOPROXY=off", "GOTOOLCHAIN=local", "CGO_ENABLED=0"}
	for _, e := range os.Environ() {
		if strings.HasPrefix(e, "FAIRFRAME_") {
			r.env = append(r.env, e)
		}
	}
	r.unable = r.obstacle()
	return r, nil
}

// obstacle says why no root can be entered on this machine, "" if it can.
func (r *roots) obstacle() string {
	switch {
	case runtime.GOOS != "linux":
		return "it needs Debian's Linux"
	case os.Geteuid() != 0:
		return "it needs root"
	}
	if out, err := exec.Command("unshare", "-m", "true").CombinedOutput(); err != nil {
		return "nothing can be mounted here: " + lastLine(out, err)
	}
	if out, err := exec.Command("go", "mod", "download").CombinedOutput(); err != nil {
		return "the modules cannot be had: " + lastLine(out, err)
	}
	return ""
}

// helpers are the packages that a root has, the same in each: a test that lacks one would
// be left out there alone.
var helpers = []string{"ffmpeg", "fish", "git", "sonic-pi-samples", "strace", "zsh"}

// prepare makes the root of a release if it is not there yet, installs what is missing in
// it, and says why not if it cannot.
func (r *roots) prepare(name string) (left string) {
	if r.unable != "" {
		return r.unable
	}
	root := filepath.Join(r.dir, name)
	if _, err := os.Stat(filepath.Join(root, "usr", "bin", "apt-get")); err == nil {
		return fill(root)
	}
	if err := needsDebootstrap(); err != nil {
		return err.Error()
	}
	mirror, err := mirror()
	if err != nil {
		return err.Error()
	}
	say("making a root of %s in %s, about a minute", name, root)
	part := root + ".part"
	if err := errors.Join(os.RemoveAll(part), os.MkdirAll(r.dir, 0o755)); err != nil {
		return err.Error()
	}
	// What it mounts is gone when it ends, however it ends.
	cmd := exec.Command("unshare", "-m", "debootstrap", "--variant=minbase",
		"--include=ca-certificates", name, part, mirror)
	if out, err := cmd.CombinedOutput(); err != nil {
		return "debootstrap: " + lastLine(out, err)
	}
	if err := os.Rename(part, root); err != nil {
		return err.Error()
	}
	return fill(root)
}

// fill installs the helpers that a root lacks.
func fill(root string) (left string) {
	in := func(words ...string) ([]byte, error) {
		// Installing some of them asks for /proc.
		script := `mount --bind /proc "$0/proc" && cp /etc/resolv.conf "$0/etc" && exec chroot "$0" "$@"`
		cmd := exec.Command("unshare", append([]string{"-m", "sh", "-c", script, root}, words...)...)
		cmd.Env = append(os.Environ(), "DEBIAN_FRONTEND=noninteractive")
		return cmd.CombinedOutput()
	}
	if _, err := in(append([]string{"dpkg-query", "-W"}, helpers...)...); err == nil {
		return ""
	}
	say("installing %s in %s", strings.Join(helpers, ", "), root)
	for _, words := range [][]string{
		// A mirror may stand still: debootstrap minds its date no more than this.
		{"apt-get", "update", "-q", "-o", "Acquire::Check-Valid-Until=false"},
		append([]string{"apt-get", "install", "-y", "-q", "--no-install-recommends"}, helpers...),
	} {
		if out, err := in(words...); err != nil {
			return words[0] + " " + words[1] + ": " + lastLine(out, err)
		}
	}
	return ""
}

// needsDebootstrap installs debootstrap where it is missing and may be installed.
func needsDebootstrap() error {
	if _, err := exec.LookPath("debootstrap"); err == nil {
		return nil
	}
	if _, err := exec.LookPath("apt-get"); err != nil {
		return errors.New("debootstrap is missing, and this is no Debian that could install it")
	}
	say("installing debootstrap")
	for _, args := range [][]string{{"update", "-q"}, {"install", "-y", "-q", "--no-install-recommends", "debootstrap"}} {
		cmd := exec.Command("apt-get", args...)
		cmd.Env = append(os.Environ(), "DEBIAN_FRONTEND=noninteractive")
		if out, err := cmd.CombinedOutput(); err != nil {
			return fmt.Errorf("debootstrap is missing and cannot be installed: %s", lastLine(out, err))
		}
	}
	return nil
}

// mirror is where this system has its own Debian packages from.
func mirror() (string, error) {
	out, err := exec.Command("apt-get", "indextargets", "--format", "$(CODENAME) $(COMPONENT) $(REPO_URI)", "Identifier: Packages").Output()
	if err != nil {
		return "", fmt.Errorf("apt-get indextargets: %w", err)
	}
	release, err := os.ReadFile("/etc/os-release")
	if err != nil {
		return "", err
	}
	for line := range strings.Lines(string(out)) {
		f := strings.Fields(line)
		if len(f) == 3 && f[1] == "main" && !strings.ContainsAny(f[0], "-/") &&
			strings.Contains("\n"+string(release), "\nID=debian\n") {
			return f[2], nil
		}
	}
	return "", errors.New("no Debian release is among this system's package sources")
}

// enter is a command inside the root of a release, with more folders bound into it. tmp
// is the root's /tmp.
func (r *roots) enter(name, tmp string, bound []string, command ...string) *exec.Cmd {
	script := `set -eu
root=$1 tmp=$2 dir=$3 n=$4
shift 4
mount --bind "$tmp" "$root/tmp"
while [ $n -gt 0 ]; do
	mkdir -p "$root$1"
	mount --rbind "$1" "$root$1"
	shift
	n=$((n - 1))
done
exec chroot "$root" sh -c 'cd "$0" && exec "$@"' "$dir" "$@"`
	bound = append(append([]string{"/proc", "/dev"}, r.shared...), bound...)
	args := append([]string{"-m", "sh", "-c", script, "sh", filepath.Join(r.dir, name), tmp, r.module, fmt.Sprint(len(bound))}, bound...)
	cmd := exec.Command("unshare", append(args, command...)...)
	cmd.Env = r.env
	return cmd
}

// version is what the ffmpeg of a release calls itself.
func (r *roots) version(name string) string {
	out, err := exec.Command("chroot", filepath.Join(r.dir, name), "ffmpeg", "-version").Output()
	f := strings.Fields(string(out))
	if err != nil || len(f) < 3 {
		return "?"
	}
	version, _, _ := strings.Cut(f[2], "-")
	return version
}

// test runs go test in the root of a release and counts into its row.
func (r *roots) test(row *row, tmp string, set []string) error {
	if err := os.MkdirAll(tmp, 0o777); err != nil {
		return err
	}
	defer os.RemoveAll(tmp)
	say("%s (ffmpeg %s): go test %s", row.release, row.version, strings.Join(set, " "))
	// Results of another version must not be taken from the cache of tests.
	command := append([]string{"bash", ".ci/test", "-timeout", "60m", "-json", "-count", "1"}, set...)
	cmd := r.enter(row.release, tmp, nil, command...)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		return err
	}
	if err := cmd.Start(); err != nil {
		return err
	}
	before := row.passed + row.failed + len(row.skipped)
	if err := row.count(out, os.Stdout); err != nil {
		return errors.Join(err, cmd.Wait())
	}
	if err := cmd.Wait(); err != nil && row.failed == 0 {
		return fmt.Errorf("go test in %s: %w", row.release, err)
	}
	if row.passed+row.failed+len(row.skipped) == before {
		return fmt.Errorf("go test in %s told of no test", row.release)
	}
	return nil
}

// pictures renders the same captures in each root and compares the clips. The captures
// are made by the first of them.
func (r *roots) pictures(rows []row, ready []int, work string, quick bool) error {
	shared := filepath.Join(work, "pictures")
	run := func(i int, words ...string) error {
		tmp := filepath.Join(work, "tmp")
		if err := os.MkdirAll(tmp, 0o777); err != nil {
			return err
		}
		defer os.RemoveAll(tmp)
		if quick {
			words = append(words, "--quick")
		}
		cmd := r.enter(rows[i].release, tmp, []string{shared}, append([]string{"go", "run", "./testdata/pictures", "--dir", shared}, words...)...)
		cmd.Stdout, cmd.Stderr = os.Stdout, os.Stderr
		return cmd.Run()
	}
	if err := os.MkdirAll(shared, 0o777); err != nil {
		return err
	}
	first := rows[ready[0]].release
	say("captures for all, by %s", first)
	if err := run(ready[0], "make"); err != nil {
		return fmt.Errorf("making the captures: %w", err)
	}
	for _, i := range ready {
		say("the same clips by %s", rows[i].release)
		if err := run(i, "render", rows[i].release); err != nil {
			rows[i].failed++
			fmt.Printf("FAIL %s: clips of the same captures: %v\n", rows[i].release, err)
		}
	}
	for _, i := range ready[1:] {
		say("the clips of %s against those of %s", rows[i].release, first)
		if err := run(ready[0], "compare", first, rows[i].release); err != nil {
			rows[i].failed++
			fmt.Printf("FAIL %s: the clips differ from those of %s: %v\n", rows[i].release, first, err)
		}
	}
	return nil
}

func say(format string, args ...any) { fmt.Fprintf(os.Stderr, "ffmpegs: "+format+"\n", args...) }

// lastLine is the last line that a failed program printed, or else its error.
func lastLine(out []byte, err error) string {
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	if last := lines[len(lines)-1]; last != "" {
		return last
	}
	return err.Error()
}
