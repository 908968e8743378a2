package main

import "golang.org/x/sys/windows"

// freeSpace gives the bytes that a user may still write where dir is.
func freeSpace(dir string) (int64, error) {
	path, err := windows.UTF16PtrFromString(dir)
	if err != nil {
		return 0, err
	}
	var free uint64
	err = windows.GetDiskFreeSpaceEx(path, &free, nil, nil)
	return int64(free), err
}
