package web

import (
	"syscall"
	"unsafe"
)

// writeNow gives how much the system took for a descriptor that does not wait; whoever writes
// the rest is told what is wrong. The runtime is not told of a call that never waits: it would
// have a thread watch over each.
func writeNow(fd int, b []byte) int {
	n, _, err := syscall.RawSyscall(syscall.SYS_WRITE, uintptr(fd), uintptr(unsafe.Pointer(unsafe.SliceData(b))), uintptr(len(b)))
	if err != 0 {
		return 0
	}
	return int(n)
}
