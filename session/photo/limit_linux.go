package photo

import (
	"bytes"
	"os"
	"strconv"
	"syscall"
	"time"
)

// limit holds this process to so many bytes more than it has, and to so much time, and lets
// others go first.
func limit(bytesMore uint64, most time.Duration) {
	var has uint64
	statm, _ := os.ReadFile("/proc/self/statm") // proc_pid_statm(5): the sixth is data and stack
	if f := bytes.Fields(statm); len(f) > 5 {
		pages, _ := strconv.ParseUint(string(f[5]), 10, 64)
		has = pages * uint64(os.Getpagesize())
	}
	for what, n := range map[int]uint64{syscall.RLIMIT_DATA: has + bytesMore, syscall.RLIMIT_CPU: uint64(most / time.Second), syscall.RLIMIT_CORE: 0} {
		_ = syscall.Setrlimit(what, &syscall.Rlimit{Cur: n, Max: n}) // where it fails the deadline and the head of the picture still hold
	}
	_ = syscall.Setpriority(syscall.PRIO_PROCESS, 0, 10)
}
