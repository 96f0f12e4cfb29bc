//go:build unix

package media

import (
	"errors"
	"os"
	"os/exec"
	"syscall"
)

// killGroup ends the process and whatever it started.
func killGroup(cmd *exec.Cmd) error {
	err := syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL)
	if errors.Is(err, syscall.ESRCH) {
		return os.ErrProcessDone
	}
	return err
}

func brokenPipe(error) bool { return false }
