package journal

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"io"
	"os"
	"path/filepath"
	"time"

	"tared/session/text"
)

// Place is a place behind a whole line of a journal, and what was found of the lines
// before it. Who kept one can go on from there.
type Place struct {
	Lines     uint64    `json:"lines"`               // whole lines
	Bytes     int64     `json:"bytes"`               // in those lines
	Head      Hash      `json:"head"`                // hash of the last of them; zeros when there is none
	First     time.Time `json:"first,omitzero"`      // time of the first line
	Last      time.Time `json:"last,omitzero"`       // time of the last line
	Backwards uint64    `json:"backwards,omitempty"` // how often the clock went back
	Notes     []Note    `json:"notes,omitempty"`     // what a reader should know; the first hundred

	// Marks are where the last two of the lines 1, 1+atOnce, … begin.
	Marks [2]int64 `json:"-"`
	// Before is where the last line begins.
	Before int64 `json:"-"`
}

// atOnce is how many lines are written at once at most.
const atOnce = 256

// Add takes the line that follows.
func (p *Place) Add(r Record) {
	n := p.Lines + 1
	if p.Lines%atOnce == 0 {
		p.Marks[0], p.Marks[1] = p.Marks[1], p.Bytes
	}
	if p.Lines == 0 {
		p.First = r.At
	} else if r.At.Before(p.Last) {
		p.Backwards++
		if len(p.Notes) < maxNotes {
			p.Notes = append(p.Notes, Note{Line: n, Words: text.New("journal.clock", text.Name("by", p.Last.Sub(r.At).String()),
				text.Name("from", p.Last.Format(time.RFC3339Nano)), text.Name("to", r.At.Format(time.RFC3339Nano))).String()})
		}
	}
	p.Lines, p.Head, p.Last = n, r.Hash, r.At
	p.Before, p.Bytes = p.Bytes, p.Bytes+int64(len(r.Line))
}

// ErrElsewhere is in the chain of the error for a journal that was to be read from a
// place that is not in it.
var ErrElsewhere = errors.New("the journal was not as it is known")

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

// Piece reads lines that stand together somewhere in a journal, where each but the first
// must carry the hash of the one before. Records keep their lines.
func Piece(b []byte, each func(Record) error) error {
	var last Record
	for line := range bytes.Lines(b) {
		h, err := parseHead(bytes.TrimSuffix(line, []byte{'\n'}))
		switch {
		case err != nil:
		case line[len(line)-1] != '\n' || last.Seq > 0 && (h.seq != last.Seq+1 || !follows(h, last.Hash)):
			err = errChain
		}
		if err != nil {
			return &Damage{Line: last.Seq + 1, Why: err}
		}
		last = named(h, line)
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
