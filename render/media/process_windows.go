package media

import (
	"errors"
	"os/exec"
	"syscall"
)

// setGroup keeps a Ctrl-C at the console from reaching ffmpeg before us.
func setGroup(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{CreationFlags: syscall.CREATE_NEW_PROCESS_GROUP}
}

// killGroup ends the process. ffmpeg starts no others.
func killGroup(cmd *exec.Cmd) error { return cmd.Process.Kill() }

// brokenPipe knows Windows' own words for a pipe whose reader has gone:
// ERROR_NO_DATA. ERROR_BROKEN_PIPE is in package syscall.
func brokenPipe(err error) bool {
	const errorNoData = syscall.Errno(232)
	return errors.Is(err, errorNoData) || errors.Is(err, syscall.ERROR_BROKEN_PIPE)
}
