package main

import (
	"bufio"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sync"

	"tared/session"
	"tared/session/book"
	"tared/session/fact"
	"tared/session/journal"
)

// bookReader keeps the book of a running bench, so that a page need not wait until
// years of lines are read. It checks the whole journal once, and from then on only
// the lines that came: each must carry the hash of the one before. Where anything
// else changed in the file, all of it is read and checked again. A change in an
// old line beside a new one is left to 'tared verify'.
type bookReader struct {
	dir string

	mu    sync.Mutex
	book  *book.Book  // nil: it could not be read
	err   error       // why not, or not to its end
	info  os.FileInfo // of the file as it was read; nil: there was none
	at    int64       // bytes of whole lines in the book
	lines uint64
	head  string // hash of the last of them, hex
}

// with lends the book to use, which is not to keep it: one at a time. Where the journal is
// damaged, it is the book of what stands before.
func (r *bookReader) with(use func(b *book.Book) error) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if !r.follow() {
		r.read()
	}
	if r.book == nil {
		return r.err
	}
	return use(r.book)
}

// read reads all. What was found holds until the file changes, damage too: anyone on the
// network may ask, as often as he likes.
func (r *bookReader) read() {
	r.info, _ = os.Stat(filepath.Join(r.dir, journal.Name))
	b, rep, err := readReport(r.dir)
	// The file may have grown since: at counts, and what is behind it is followed.
	r.book, r.err, r.at, r.lines, r.head = b, err, rep.Bytes, rep.Lines, rep.Head.String()
}

// follow takes in the lines that came; false where all is to be read again.
func (r *bookReader) follow() bool {
	if r.info == nil {
		return false
	}
	f, err := os.Open(filepath.Join(r.dir, journal.Name))
	if err != nil {
		return false
	}
	defer func() { _ = f.Close() }()
	info, err := f.Stat()
	switch {
	case err != nil || !os.SameFile(info, r.info):
		return false
	case info.Size() == r.info.Size() && info.ModTime().Equal(r.info.ModTime()):
		return true
	case r.err != nil || info.Size() <= r.info.Size() || info.Size() < r.at:
		return false
	}
	in := bufio.NewReader(io.NewSectionReader(f, r.at, info.Size()-r.at))
	for {
		line, err := in.ReadBytes('\n')
		if errors.Is(err, io.EOF) { // the last line may be in the making
			r.info = info
			return true
		}
		if err != nil {
			return false
		}
		v, head, err := fact.Decode(line)
		if err != nil || head.Prev != r.head || v.Seq != r.lines+1 {
			return false
		}
		sum := sha256.Sum256(line)
		r.book.Add(v, sum)
		r.at, r.lines, r.head = r.at+int64(len(line)), v.Seq, hex.EncodeToString(sum[:])
	}
}

// readBook reads the journal in dir as batches. Where a line is damaged it
// gives what stands before it, with the error.
func readBook(dir string) (*book.Book, error) {
	b, _, err := readReport(dir)
	return b, err
}

// readReport is readBook with what was found of the lines.
func readReport(dir string) (*book.Book, journal.Report, error) {
	b := &book.Book{}
	rep, err := journal.Read(dir, func(r journal.Record) error {
		f, err := session.Fact(r)
		if err == nil {
			b.Add(f, r.Hash)
		}
		return err
	})
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, rep, noJournal(dir)
	case errors.Is(err, journal.ErrDamaged):
		return b, rep, fmt.Errorf("journal in %s: %w: only what comes before is shown; see 'tared verify'", dir, err)
	case err != nil:
		return nil, rep, fmt.Errorf("read the journal in %s: %w", dir, err)
	}
	return b, rep, nil
}

// withBook lends the book of a directory to use, also where only what stands before a
// fault can be shown.
func withBook(dir string, use func(b *book.Book) error) error {
	b, err := readBook(dir)
	if b == nil {
		return err
	}
	return errors.Join(err, use(b))
}

// withBatch lends one batch of it, found by its mark.
func withBatch(dir, mark string, use func(n *book.Batch) error) error {
	return withBook(dir, func(b *book.Book) error {
		n, err := batchOf(b, dir, mark)
		if err != nil {
			return err
		}
		return use(n)
	})
}

func noJournal(dir string) error {
	return fmt.Errorf("there is no journal in %s: the first batch starts one; if yours is elsewhere, name its directory with --data", dir)
}
