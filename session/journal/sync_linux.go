package journal

import (
	"os"
	"syscall"
)

func datasync(f *os.File) error {
	c, err := f.SyscallConn()
	if err != nil {
		return err
	}
	var failed error
	err = c.Control(func(fd uintptr) {
		// A signal that interrupts the call is not a failure of the disk; nothing was
		// reported as lost, so asking again is right here and nowhere else.
		for {
			if failed = syscall.Fdatasync(int(fd)); failed != syscall.EINTR {
				return
			}
		}
	})
	if err != nil {
		return err
	}
	if failed != nil {
		return &os.PathError{Op: "fdatasync", Path: f.Name(), Err: failed}
	}
	return nil
}
