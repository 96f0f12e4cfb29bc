// Package scratch opens inputs and writes outputs. An output appears under its name
// only when it is complete. Temporary files and folders are named so that whatever a
// killed program leaves behind is known for what it is, and goes with the next run.
//
// A name carries its owner: the machine, by a digest of its name, and the
// process. Files of a process that still runs are never touched, nor are those
// of another machine, whose processes cannot be seen from here.
package scratch

import (
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
)

// Create makes a temporary file in a folder, the system's own if dir is "", as
// os.CreateTemp does, and first clears away what is left of others. pattern has a
// "*" and ends in ".part".
func Create(dir, pattern string) (*os.File, error) {
	dir = swept(dir)
	return os.CreateTemp(dir, owner(pattern))
}

// Mkdir makes a temporary folder as Create makes a file.
func Mkdir(dir, pattern string) (string, error) {
	dir = swept(dir)
	return os.MkdirTemp(dir, owner(pattern))
}

// Place gives a finished file the name under which it was asked for. A device or a
// pipe that bears the name is left alone and is an error.
func Place(part, path string) error {
	if err := Replaceable(path); err != nil {
		return err
	}
	return os.Rename(part, path)
}

// Replaceable returns an error if a file must not take the place of what bears that
// name: renamed onto a device such as /dev/null it would be in its stead for good.
func Replaceable(path string) error {
	info, err := os.Stat(path)
	abs, aerr := filepath.Abs(path)
	if err == nil && !info.Mode().IsRegular() && !info.IsDir() || aerr == nil && filepath.Dir(abs) == "/dev" {
		return fmt.Errorf("%s is a device or a pipe, which is never replaced by a file", path)
	}
	return nil
}

func swept(dir string) string {
	if dir == "" {
		dir = os.TempDir()
	}
	Sweep(dir)
	return dir
}

// owner adds who owns a file in front of the last "*" of a pattern.
func owner(pattern string) string {
	at := strings.LastIndexByte(pattern, '*')
	return pattern[:at] + "ff" + machine() + "-" + strconv.Itoa(os.Getpid()) + "-" + pattern[at:]
}

var owned = regexp.MustCompile(`ff([0-9a-f]{6})-(\d{1,10})-\d+[^/\\]*\.part$`)

// machine is a digest of the machine's name: the name itself is nobody's business.
func machine() string {
	name, _ := os.Hostname()
	return fmt.Sprintf("%x", sha256.Sum256([]byte(name)))[:6]
}

// Sweep removes from a folder what processes of this machine left there that run
// no longer. What cannot be removed stays: it does no harm but take room.
func Sweep(dir string) {
	list, err := os.ReadDir(dir)
	if err != nil {
		return
	}
	here := machine()
	for _, e := range list {
		m := owned.FindStringSubmatch(e.Name())
		if m == nil || m[1] != here {
			continue
		}
		if pid, err := strconv.Atoi(m[2]); err == nil && pid != os.Getpid() && !runs(pid) {
			_ = os.RemoveAll(filepath.Join(dir, e.Name()))
		}
	}
}
