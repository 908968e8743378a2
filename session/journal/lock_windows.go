package journal

import (
	"os"

	"golang.org/x/sys/windows"
)

// tryLock locks one byte far behind the end, since a lock on Windows keeps others
// from reading what it covers, and they are to read who holds it.
func tryLock(f *os.File) (bool, error) {
	far := &windows.Overlapped{OffsetHigh: 1 << 30}
	err := windows.LockFileEx(windows.Handle(f.Fd()), windows.LOCKFILE_EXCLUSIVE_LOCK|windows.LOCKFILE_FAIL_IMMEDIATELY, 0, 1, 0, far)
	switch err {
	case nil:
		return true, nil
	case windows.ERROR_LOCK_VIOLATION:
		return false, nil
	}
	return false, err
}
