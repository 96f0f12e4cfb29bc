package scratch

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// A process that has ended is what a killed program is. Its files go, those of a
// running process, of another machine and of nobody stay.
func TestSweep(t *testing.T) {
	ended := exec.Command(os.Args[0], "-test.run=^$")
	if err := ended.Run(); err != nil {
		t.Fatal(err)
	}
	running := os.Getppid()
	dir := t.TempDir()
	name := func(machine string, pid int) string {
		return fmt.Sprintf(".ridge.mp4.ff%s-%d-123.part", machine, pid)
	}
	stay := []string{
		name(machine(), os.Getpid()), name(machine(), running), name("000000", ended.ProcessState.Pid()),
		"ridge.mp4", ".ridge.mp4.123.part", "ffabcdef-1-x.part", name(machine(), ended.ProcessState.Pid()) + ".mp4",
	}
	for _, n := range append([]string{name(machine(), ended.ProcessState.Pid())}, stay...) {
		if err := os.WriteFile(filepath.Join(dir, n), nil, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	folder := filepath.Join(dir, fmt.Sprintf("fairframe-ff%s-%d-9.part", machine(), ended.ProcessState.Pid()))
	if err := os.MkdirAll(filepath.Join(folder, "within"), 0o755); err != nil {
		t.Fatal(err)
	}
	Sweep(dir)
	list, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]bool{}
	for _, e := range list {
		got[e.Name()] = true
	}
	for _, n := range stay {
		if !got[n] {
			t.Errorf("%s was removed", n)
		}
	}
	if len(got) != len(stay) {
		t.Errorf("%d files are left instead of %d: %v", len(got), len(stay), got)
	}
	Sweep(filepath.Join(dir, "nowhere")) // must not fail
}

func TestCreateNamesItsOwner(t *testing.T) {
	f, err := Create(t.TempDir(), ".a*b.*.part")
	if err != nil {
		t.Fatal(err)
	}
	f.Close()
	m := owned.FindStringSubmatch(filepath.Base(f.Name()))
	if m == nil || m[1] != machine() || m[2] != fmt.Sprint(os.Getpid()) {
		t.Errorf("%s names no owner: %q", f.Name(), m)
	}
}
