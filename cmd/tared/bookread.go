package main

import (
	"errors"
	"fmt"
	"io/fs"
	"sync"

	"tared/session/book"
	"tared/session/journal"
)

// bookReader lends the index of a running bench's journal to the pages, one at a time.
// The bench feeds it what it writes, and never waits for a page.
type bookReader struct {
	mu    sync.Mutex
	index *book.Index // nil: there is none
	err   error       // why not, or not to its end

	fed   sync.Mutex
	lines [][]byte // that were written since
}

// begin takes the index of a journal that was opened, perhaps anew; err is what was wrong
// with it.
func (r *bookReader) begin(x *book.Index, err error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.fed.Lock()
	defer r.fed.Unlock()
	r.index, r.err, r.lines = x, err, nil
}

// feed takes lines that are on the disk.
func (r *bookReader) feed(lines [][]byte) {
	r.fed.Lock()
	r.lines = append(r.lines, lines...)
	r.fed.Unlock()
	if r.mu.TryLock() { // else whoever has it takes them next time
		r.take()
		r.mu.Unlock()
	}
}

func (r *bookReader) take() {
	r.fed.Lock()
	lines := r.lines
	r.lines = nil
	r.fed.Unlock()
	if r.index != nil && len(lines) > 0 && r.err == nil {
		r.err = r.index.AddLines(lines)
	}
}

// with lends the index to use, which is not to keep it. Where the journal is damaged, it
// is that of what stands before.
func (r *bookReader) with(use func(x *book.Index) error) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.take()
	if r.index == nil {
		return r.err
	}
	return use(r.index)
}

// readIndex reads the journal in dir. Where a line is damaged it gives what stands before
// it, with the error.
func readIndex(dir string) (*book.Index, error) {
	x := book.NewIndex(journal.At(dir))
	_, err := journal.Read(dir, func(r journal.Record) error { x.Add(r); return nil })
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, noJournal(dir)
	case errors.Is(err, journal.ErrDamaged):
		return x, fmt.Errorf("journal in %s: %w: only what comes before is shown; see 'tared verify'", dir, err)
	case err != nil:
		return nil, fmt.Errorf("read the journal in %s: %w", dir, err)
	}
	return x, nil
}

// withIndex lends the index of a directory to use, also where only what stands before a
// fault can be shown.
func withIndex(dir string, use func(x *book.Index) error) error {
	x, err := readIndex(dir)
	if x == nil {
		return err
	}
	return errors.Join(err, use(x))
}

// withBatch lends one batch of it, found by its mark.
func withBatch(dir, mark string, use func(n *book.Batch) error) error {
	return withIndex(dir, func(x *book.Index) error {
		n, err := batchOf(x, dir, mark)
		if err != nil {
			return err
		}
		return use(n)
	})
}

func noJournal(dir string) error {
	return fmt.Errorf("there is no journal in %s: the first batch starts one; if yours is elsewhere, name its directory with --data", dir)
}
