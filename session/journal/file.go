package journal

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"time"
)

// File is what the journal needs of the file it writes.
type File interface {
	io.Writer
	io.ReaderAt
	Sync() error // returns when the bytes are on the disk
	// Renew writes bytes once more that stand at off already, so that the next Sync
	// takes them to the disk even where the system holds that they are there.
	Renew(b []byte, off int64) error
	Truncate(size int64) error
	Close() error
}

// diskFile syncs the data and what is needed to find it, and leaves out the
// times of the file where the system can.
type diskFile struct{ *os.File }

// Sync waits for the disk.
func (f diskFile) Sync() error { return datasync(f.File) }

// Renew writes through a descriptor of its own, since one that adds at the end
// cannot write elsewhere.
func (f diskFile) Renew(b []byte, off int64) error {
	again, err := os.OpenFile(f.Name(), os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	was, err := f.Stat()
	if err == nil {
		var is fs.FileInfo
		if is, err = again.Stat(); err == nil && !os.SameFile(was, is) {
			err = errors.New("it was put in the place of the one that was opened")
		}
	}
	if err == nil {
		_, err = again.WriteAt(b, off)
	}
	return errors.Join(err, again.Close())
}

// create opens the file for reading and adding, and tells whether it is new. The
// directory is synced while nothing is in it yet, for a file that no directory
// names after a power cut is as good as never written; whoever made an empty one
// may have been killed before that.
func create(dir, path string) (f *os.File, created bool, err error) {
	f, err = os.OpenFile(path, os.O_RDWR|os.O_APPEND, 0)
	if os.IsNotExist(err) {
		created = true
		f, err = os.OpenFile(path, os.O_RDWR|os.O_APPEND|os.O_CREATE|os.O_EXCL, 0o640)
	}
	if err != nil {
		return nil, false, err
	}
	if info, err := f.Stat(); err == nil && info.Size() > 0 {
		return f, false, nil
	}
	if err := f.Sync(); err != nil {
		_ = f.Close()
		return nil, false, err
	}
	if err := syncDir(dir); err != nil {
		_ = f.Close()
		return nil, false, err
	}
	return f, created, nil
}

// makeDir creates dir and those above it, and syncs the directories that hold
// new ones.
func makeDir(dir string) error {
	abs, err := filepath.Abs(dir)
	if err != nil {
		return err
	}
	var holders []string
	for d := abs; ; d = filepath.Dir(d) {
		info, err := os.Stat(d)
		if err == nil {
			if !info.IsDir() {
				return &fs.PathError{Op: "mkdir", Path: d, Err: errors.New("it is a file: name a directory")}
			}
			break
		}
		if !os.IsNotExist(err) || d == filepath.Dir(d) {
			return err
		}
		holders = append(holders, filepath.Dir(d))
	}
	if err := os.MkdirAll(abs, 0o750); err != nil {
		return err
	}
	for _, h := range holders {
		if err := syncDir(h); err != nil {
			return err
		}
	}
	return nil
}

// save puts bytes of a journal into a file of their own, named by the time, and
// returns its path when they are on the disk.
func save(dir, prefix string, at time.Time, r io.Reader) (string, error) {
	base := filepath.Join(dir, prefix+at.UTC().Format("20060102T150405Z"))
	path := base
	var f *os.File
	for n := 2; ; n++ {
		var err error
		f, err = os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o640)
		if err == nil {
			break
		}
		if !os.IsExist(err) || n > 1000 {
			return "", err
		}
		path = fmt.Sprintf("%s-%d", base, n)
	}
	_, err := io.Copy(f, r)
	if err == nil {
		err = f.Sync()
	}
	if e := f.Close(); err == nil {
		err = e
	}
	if err == nil {
		err = syncDir(dir)
	}
	return path, err
}
