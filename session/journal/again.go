package journal

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
)

// Holds is holds for the journal in dir.
func (p Place) Holds(dir string) bool {
	f, err := os.Open(filepath.Join(dir, Name))
	if err != nil {
		return false
	}
	defer func() { _ = f.Close() }()
	info, err := f.Stat()
	return err == nil && p.holds(f, info.Size())
}

// Check reads all lines of the journal in dir before a place, on one processor, so that
// others have the rest. It gives an error where one does not hold, where they do not lead
// to that place, or where ctx ends.
func (p Place) Check(ctx context.Context, dir string) error {
	path := filepath.Join(dir, Name)
	f, err := os.Open(path)
	if err != nil {
		return inFile(path, err)
	}
	defer func() { _ = f.Close() }()
	rep, err := Scan(io.NewSectionReader(f, 0, p.Bytes), func(Record) error { return ctx.Err() })
	if err == nil && (rep.Lines != p.Lines || rep.Head != p.Head) {
		err = ErrElsewhere
	}
	if err != nil && ctx.Err() == nil {
		err = inFile(path, err)
	}
	return err
}

// Piece reads lines that stand together somewhere in a journal, where each but the first
// must carry the hash of the one before. Records keep their lines.
func Piece(b []byte, each func(Record) error) error {
	var last Record
	first := true
	for line := range bytes.Lines(b) {
		h, err := parseHead(bytes.TrimSuffix(line, []byte{'\n'}))
		switch {
		case err != nil:
		case line[len(line)-1] != '\n' || !first && (h.seq != last.Seq+1 || !follows(h, last.Hash)):
			err = errChain
		}
		if err != nil {
			return &Damage{Line: last.Seq + 1, Why: err}
		}
		last, first = named(h, line), false
		if err := each(last); err != nil {
			return err
		}
	}
	return nil
}

// At reads the file of the journal in dir, each time by its name: nothing is kept open.
func At(dir string) io.ReaderAt { return byName(filepath.Join(dir, Name)) }

type byName string

func (path byName) ReadAt(b []byte, off int64) (int, error) {
	f, err := os.Open(string(path))
	if err != nil {
		return 0, err
	}
	n, err := f.ReadAt(b, off)
	return n, errors.Join(err, f.Close())
}
