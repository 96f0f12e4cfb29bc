package media

import (
	"os"
	"os/exec"
	"syscall"

	"golang.org/x/sys/unix"
)

// setGroup puts the process into a group of its own, so that a Ctrl-C at the
// terminal reaches us alone and we end it in order; and has the kernel end it
// when this program is killed outright.
func setGroup(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGKILL}
}

// wide is the room of a pipe that pictures come through, in bytes: the most that
// the system gives unasked.
const wide = 1 << 20

// widen gives a pipe more room than the usual 64 KiB, so that the two ends change
// places less often. Where the system refuses, the pipe stays as it is.
func widen(pipe any) {
	f, ok := pipe.(*os.File)
	if !ok {
		return
	}
	if c, err := f.SyscallConn(); err == nil {
		_ = c.Control(func(fd uintptr) { _, _ = unix.FcntlInt(fd, unix.F_SETPIPE_SZ, wide) })
	}
}
