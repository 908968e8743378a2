package serialport

import (
	"syscall"
	"unsafe"
)

// readNow reads what is there from a descriptor that does not wait. The runtime is not told
// of a call that never waits: it would have a thread watch over each.
func readNow(fd int, b []byte) (int, error) {
	n, _, err := syscall.RawSyscall(syscall.SYS_READ, uintptr(fd), uintptr(unsafe.Pointer(unsafe.SliceData(b))), uintptr(len(b)))
	if err != 0 {
		return 0, err
	}
	return int(n), nil
}
