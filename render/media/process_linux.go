package media

import (
	"os/exec"
	"syscall"
)

// setGroup puts the process into a group of its own, so that a Ctrl-C at the
// terminal reaches us alone and we end it in order; and has the kernel end it
// when this program is killed outright.
func setGroup(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGKILL}
}
