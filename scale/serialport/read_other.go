//go:build unix && !linux

package serialport

import "syscall"

// readNow reads what is there from a descriptor that does not wait.
func readNow(fd int, b []byte) (int, error) { return syscall.Read(fd, b) }
