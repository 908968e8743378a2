//go:build linux || darwin || freebsd || netbsd || openbsd || dragonfly

package journal

import (
	"os"
	"syscall"
)

// tryLock takes the lock and tells whether it got it. It goes with the
// descriptor, so a killed process leaves none behind.
func tryLock(f *os.File) (bool, error) {
	for {
		err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
		switch err {
		case nil:
			return true, nil
		case syscall.EWOULDBLOCK:
			return false, nil
		case syscall.EINTR:
		default:
			return false, err
		}
	}
}
