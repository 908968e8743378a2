package journal

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"tared/session/text"
)

// ErrLocked is in the chain of the error for a journal that another process
// writes.
var ErrLocked = errors.New("the journal is in use")

// lockName is the file beside the journal that is locked.
const lockName = "journal.lock"

// lock is held on a file of its own, so that it can say who holds it. The file
// stays when the lock goes; only the lock on it counts.
type lock struct{ f *os.File }

func takeLock(dir string, at time.Time) (*lock, error) {
	path := filepath.Join(dir, lockName)
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o640)
	if err != nil {
		return nil, err
	}
	got, err := tryLock(f)
	if err != nil {
		_ = f.Close()
		return nil, fmt.Errorf("lock %s: %w", path, err)
	}
	if !got {
		who := text.New("journal.another-process").String()
		if b, err := io.ReadAll(io.LimitReader(f, 300)); err == nil && len(b) > 0 {
			who = strings.ToValidUTF8(strings.TrimSpace(string(b)), "?")
		}
		_ = f.Close()
		return nil, text.Kind(ErrLocked, text.Fault("journal.locked", text.Name("dir", dir), text.Name("who", who)))
	}
	// Who holds it is a courtesy to the next one; a full disk must not keep the
	// bench from reading its journal, so a failure here is none.
	if f.Truncate(0) == nil {
		_, _ = fmt.Fprintf(f, "process %d (%s, since %s)\n", os.Getpid(), filepath.Base(os.Args[0]), at.Format(time.RFC3339))
	}
	return &lock{f}, nil
}

func (l *lock) release() error { return l.f.Close() }
