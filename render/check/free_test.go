package check

import (
	"os/exec"
	"strings"
	"testing"
)

// TestFreeBytes: compared with what the system's own program says.
func TestFreeBytes(t *testing.T) {
	out, err := exec.Command("df", "-Pk", ".").Output()
	if err != nil {
		t.Skip("no df here")
	}
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	var blocks, used, free int64
	f := strings.Fields(lines[len(lines)-1])
	if len(f) < 4 {
		t.Skipf("df says %q", out)
	}
	for i, v := range []*int64{&blocks, &used, &free} {
		for _, c := range f[i+1] {
			*v = *v*10 + int64(c-'0')
		}
	}
	// Others write meanwhile.
	if got := freeBytes("."); got < free*1024/2 || got > free*1024*2+1<<30 {
		t.Errorf("%d bytes free, df says %d kB", got, free)
	}
}
