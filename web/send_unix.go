//go:build unix

package web

import (
	"net"
	"syscall"
)

// sender gives what sends as much as the system takes without waiting; nil where a
// connection cannot do so.
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
	var n int
	write := func(fd uintptr) bool {
		n = writeNow(int(fd), b)
		return true
	}
	return func(frame []byte) int {
		b, n = frame, 0
		if raw.Write(write) != nil {
			return 0
		}
		return n
	}
}
