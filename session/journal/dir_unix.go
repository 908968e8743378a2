//go:build !windows

package journal

import (
	"errors"
	"os"
	"syscall"
)

// syncDir puts the names in a directory on the disk. Some network file systems
// cannot, and say so with EINVAL; there is nothing better to be had on them.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	err = d.Sync()
	if e := d.Close(); err == nil {
		err = e
	}
	if errors.Is(err, syscall.EINVAL) {
		return nil
	}
	return err
}
