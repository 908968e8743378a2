//go:build darwin || freebsd || netbsd || openbsd || dragonfly

package sim

import "golang.org/x/sys/unix"

const (
	getTermios = unix.TIOCGETA
	setTermios = unix.TIOCSETA
	// FIONREAD, _IOR('f', 127, int), which golang.org/x/sys/unix does not name here.
	inputWaiting = 0x4004667f
)
