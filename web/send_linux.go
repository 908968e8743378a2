package web

import (
	"net"
	"syscall"
	"unsafe"
)

// sender gives what sends as much as the system takes without waiting; nil where a
// connection cannot do so. The runtime is not told of a call that never waits: it would
// have a thread watch over each.
func sender(c net.Conn) func([]byte) int {
	sc, ok := c.(syscall.Conn)
	if !ok {
		return nil
	}
	raw, err := sc.SyscallConn()
	if err != nil {
		return nil
	}
	var b []byte
	var n uintptr
	write := func(fd uintptr) bool {
		var e syscall.Errno // whoever writes the rest is told what is wrong
		if n, _, e = syscall.RawSyscall(syscall.SYS_WRITE, fd, uintptr(unsafe.Pointer(unsafe.SliceData(b))), uintptr(len(b))); e != 0 {
			n = 0
		}
		return true
	}
	return func(frame []byte) int {
		b, n = frame, 0
		if raw.Write(write) != nil {
			return 0
		}
		return int(n)
	}
}
