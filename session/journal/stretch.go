package journal

import (
	"bytes"
	"crypto/sha256"
	"io"
	"runtime"
	"sync"
)

// Checking years of lines is hashing and reading them, and that needs no order:
// whether a line follows from the one before is seen by comparing, once both are
// hashed. So the file is cut into stretches, which all processors check at once,
// and joined again in order. A stretch can only say that lines are whole. Where it
// does not say so, the plain walk of verify.go goes on from there, and it alone
// says what is wrong.

const (
	// stretchLength is short enough that what is read stays near the processor until
	// it is checked, and long enough that handing one over costs nothing beside it.
	stretchLength = 128 << 10
	// maxStretches is how many are checked at once at most.
	maxStretches = 8
)

// file checks the first size bytes of r from where the scan stands, and gives
// each whole line to each.
func (s *scan) file(r io.ReaderAt, size int64, each func(Record) error) (Report, error) {
	if err := s.ahead(r, size, each); err != nil {
		return s.report, err
	}
	s.lines.r = io.NewSectionReader(r, s.report.Bytes, size-s.report.Bytes)
	return s.run(each)
}

// witnessed is file, and holds what it finds against a note of the head; an empty
// name: there is none.
func (s *scan) witnessed(r io.ReaderAt, size int64, note string, each func(Record) error) (Report, error) {
	if !s.report.holds(r, size) {
		return Report{}, ErrElsewhere
	}
	if note == "" {
		return s.file(r, size, each)
	}
	w, there := readWitness(note)
	if there && w.Lines < s.report.Lines {
		return Report{}, ErrElsewhere // whether that line is in it, all of it must tell
	}
	h := hearing{w, s.report.Lines > 0 && w.Lines == s.report.Lines && w.Head == s.report.Head}
	rep, err := s.file(r, size, func(r Record) error {
		h.line(r)
		if each == nil {
			return nil
		}
		return each(r)
	})
	switch {
	case !there:
		rep.Unwitnessed = rep.Lines > 0
	case !h.found && err == nil:
		rep.Missing = &w
	}
	return rep, err
}

// ahead goes as far as stretches are whole. An error is one of each. When it returns,
// all that it started is gone.
func (s *scan) ahead(r io.ReaderAt, size int64, each func(Record) error) error {
	n := min(runtime.GOMAXPROCS(0), maxStretches)
	if n < 2 || size-s.report.Bytes < 2*s.stretch {
		return nil
	}
	// Twice as many as are checked at once, so that nobody waits for the joining.
	all := make([]stretch, 2*n)
	todo := make(chan *stretch, len(all))
	var group sync.WaitGroup
	for range n {
		group.Go(func() {
			for b := range todo {
				b.check(r, size)
				b.checked <- struct{}{}
			}
		})
	}
	defer group.Wait()
	defer close(todo)
	from := s.report.Bytes
	next := func(b *stretch) {
		b.from, b.to = from, min(from+s.stretch, size)
		from = b.to
		todo <- b // there is always room
	}
	for i := range all {
		all[i].checked = make(chan struct{}, 1)
		next(&all[i])
	}
	for i := 0; s.report.Bytes < size; i++ {
		b := &all[i%len(all)]
		<-b.checked
		if on, err := s.join(b, each); !on || b.to == size {
			return err
		}
		next(b)
	}
	return nil
}

// join takes the lines of the next stretch; on is false where the plain walk has
// to go on.
func (s *scan) join(b *stretch, each func(Record) error) (on bool, err error) {
	for i := range b.lines {
		l := &b.lines[i]
		if i == 0 && (l.h.seq != s.report.Lines+1 || !follows(l.h, s.report.Head)) {
			return false, nil
		}
		if err := s.accept(s.record(l.h, l.line, l.hash), each); err != nil {
			return false, err
		}
	}
	return b.whole, nil
}

// stretch is the lines that begin at the bytes from ≤ x < to of a file.
type stretch struct {
	from, to int64
	buf      []byte // the bytes of it, and the one before
	last     []byte // the line that ends beyond it
	lines    []hashed
	whole    bool // all of them are in lines
	checked  chan struct{}
}

// hashed is a line that is whole by itself, and follows from the one before it in
// the stretch.
type hashed struct {
	h    head
	hash Hash
	line []byte // in the stretch's buf or last
}

// check reads the stretch and the lines in it, up to the first damaged one.
func (b *stretch) check(r io.ReaderAt, size int64) {
	b.lines, b.whole = b.lines[:0], false
	// A line begins after a newline, so the byte before the stretch counts.
	at := max(b.from-1, 0)
	if !fill(&b.buf, r, at, b.to-at) {
		return
	}
	rest := b.buf
	if b.from > 0 {
		i := bytes.IndexByte(rest, '\n')
		if i < 0 {
			b.whole = true // one line goes over all of it, and belongs to an earlier one
			return
		}
		rest = rest[i+1:]
	}
	for len(rest) > 0 {
		n := bytes.IndexByte(rest, '\n') + 1
		if n == 0 {
			if !b.beyond(r, b.to-int64(len(rest)), size) {
				return
			}
			rest, n = b.last, len(b.last)
		}
		if !b.take(rest[:n:n]) {
			return
		}
		rest = rest[n:]
	}
	b.whole = true
}

// take adds a line, and reports whether it is whole.
func (b *stretch) take(line []byte) bool {
	h, err := parseHead(line[:len(line)-1])
	if err != nil {
		return false
	}
	if k := len(b.lines); k > 0 && (h.seq != b.lines[k-1].h.seq+1 || !follows(h, b.lines[k-1].hash)) {
		return false
	}
	b.lines = append(b.lines, hashed{h, sha256.Sum256(line), line})
	return true
}

// beyond reads the line that begins at a byte of r and ends beyond the stretch
// into last; false where it has no end, or none that is near enough.
func (b *stretch) beyond(r io.ReaderAt, at, size int64) bool {
	for n := int64(8 << 10); ; n *= 8 {
		n = min(n, size-at, MaxLine)
		if !fill(&b.last, r, at, n) {
			return false
		}
		if k := bytes.IndexByte(b.last, '\n') + 1; k > 0 {
			b.last = b.last[:k]
			return true
		}
		if n == size-at || n == MaxLine {
			return false
		}
	}
}

// fill puts n bytes of r into buf, which it makes longer where it must.
func fill(buf *[]byte, r io.ReaderAt, at, n int64) bool {
	if int64(cap(*buf)) < n {
		*buf = make([]byte, n)
	}
	*buf = (*buf)[:n]
	got, err := r.ReadAt(*buf, at)
	return got == len(*buf) && (err == nil || err == io.EOF)
}

// holds reports whether the line that ends at a place is there, and is the one that
// is known. Of the lines before it, it says nothing.
func (p Place) holds(r io.ReaderAt, size int64) bool {
	if p.Lines == 0 || p.Before < 0 || p.Before >= p.Bytes || p.Bytes > size || p.Bytes-p.Before > MaxLine {
		return p.Lines == 0 && p.Bytes == 0
	}
	var line []byte
	if !fill(&line, r, p.Before, p.Bytes-p.Before) || bytes.IndexByte(line, '\n') != len(line)-1 || Hash(sha256.Sum256(line)) != p.Head {
		return false
	}
	h, err := parseHead(line[:len(line)-1])
	return err == nil && h.seq == p.Lines
}
