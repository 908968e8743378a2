//go:build unix && !linux

package web

import "syscall"

// writeNow gives how much the system took for a descriptor that does not wait; whoever writes
// the rest is told what is wrong.
func writeNow(fd int, b []byte) int {
	n, _ := syscall.Write(fd, b)
	return max(n, 0)
}
