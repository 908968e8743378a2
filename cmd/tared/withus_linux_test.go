package main

import (
	"os/exec"
	"syscall"
)

// A test that crashes cleans nothing up. What it started would go on for ever, with its
// ports and its journal.
func init() {
	endsWithUs = func(cmd *exec.Cmd) *exec.Cmd {
		cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL}
		return cmd
	}
}
