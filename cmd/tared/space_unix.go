//go:build unix

package main

import "golang.org/x/sys/unix"

// freeSpace gives the bytes that a user may still write where dir is.
func freeSpace(dir string) (int64, error) {
	var s unix.Statfs_t
	if err := unix.Statfs(dir, &s); err != nil {
		return 0, err
	}
	return int64(s.Bavail) * int64(s.Bsize), nil
}
