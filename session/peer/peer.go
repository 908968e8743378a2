// Package peer keeps the lines of another bench, as they came and in a directory of their
// own: nothing of them is ever mixed with what this bench writes. Each line is checked before
// it is kept, as strictly as one's own are: the chain, the key and the epoch of every
// beginning, and every signature.
//
// The words:
//
//   - a peer is another bench whose lines are taken;
//   - its history is its lines in order. Two lines of one number with different hashes are two
//     histories, and no clock says which of them is the true one. Where a peer shows another
//     than before, the one that was taken first stays, nothing more is taken, and Fork says so.
//
// Start with Open, then Kept.Take.
package peer

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"time"

	"tared/session/fact"
	"tared/session/journal"
	"tared/session/signer"
	"tared/session/text"
)

// MaxLine is the longest line that is taken, in bytes: a portion has some two thousand, and a
// plan some ten thousand.
const MaxLine = 1 << 20

// forkName is the file that says that a peer showed another history.
const forkName = "fork.json"

// Fork is another history that a peer showed.
type Fork struct {
	Line  uint64       `json:"line"`  // number of the line
	Was   journal.Hash `json:"was"`   // hash of the line that was taken
	Shown journal.Hash `json:"shown"` // hash of the line that it showed later
	At    time.Time    `json:"at"`
}

// ErrFork is in the chain of the error for a peer that shows another history.
var ErrFork = errors.New("another history")

// Kept is the journal of a peer. It is not safe for use by several.
type Kept struct {
	Place journal.Place
	Bench string // fingerprint of its key, by its lines; empty: none came yet
	Sign  string
	Epoch uint64
	Fork  *Fork // nil: it showed no other history

	dir    string
	file   *os.File
	key    string
	coming []journal.Record // that hold, and are not in the file yet
	broken error            // the file could not be written: what is in it is not known
}

// Open reads what is kept in a directory, and makes that where it is not there. What was cut
// off in mid-write comes again. Close it.
func Open(dir string) (k *Kept, err error) {
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return nil, err
	}
	k = &Kept{dir: dir}
	if b, err := os.ReadFile(filepath.Join(dir, forkName)); err == nil {
		k.Fork = &Fork{}
		if json.Unmarshal(b, k.Fork) != nil {
			k.Fork = &Fork{} // there is one: nothing is taken
		}
	}
	if k.file, err = os.OpenFile(filepath.Join(dir, journal.Name), os.O_RDWR|os.O_CREATE|os.O_APPEND, 0o640); err != nil {
		return nil, err
	}
	rep, err := journal.Scan(k.file, func(r journal.Record) error { return k.take(r) })
	if err == nil && rep.Torn != nil {
		err = k.file.Truncate(rep.Bytes)
	}
	if err != nil {
		_ = k.file.Close()
		return nil, err
	}
	return k, nil
}

// Close gives the file back.
func (k *Kept) Close() error { return k.file.Close() }

// Take reads lines as they come, checks each, and keeps what holds; the lines that are at hand
// are put on the disk together. It ends with what it reads, or with the first line that does
// not hold, of which the error says what is wrong; what came before it is kept. Each, unless it
// is nil, is told of every line that is kept.
func (k *Kept) Take(r io.Reader, at time.Time, each func(journal.Record)) error {
	var held []byte
	buf := make([]byte, 64<<10)
	for {
		n, err := r.Read(buf)
		held = append(held, buf[:n]...)
		rest, bad := k.keep(held, at, each)
		switch held = append(held[:0], rest...); {
		case bad != nil:
			return bad
		case len(held) > MaxLine:
			return k.tooLong()
		case err == io.EOF:
			return nil // half a line comes again
		case err != nil:
			return err
		}
	}
}

func (k *Kept) tooLong() error {
	return text.Fault("peer.too-long", text.Count("line", int(k.Place.Lines+1)), text.Count("most", MaxLine))
}

// keep keeps the whole lines of b, and gives what stands behind them.
func (k *Kept) keep(b []byte, at time.Time, each func(journal.Record)) (rest []byte, bad error) {
	if k.broken != nil {
		return nil, k.broken
	}
	all := b
	for {
		i := bytes.IndexByte(b, '\n')
		if i < 0 {
			break
		}
		if bad = k.check(b[:i+1], at); bad != nil {
			break
		}
		b = b[i+1:]
	}
	took := k.coming
	k.coming = nil
	if good := all[:len(all)-len(b)]; len(good) > 0 {
		_, err := k.file.Write(good)
		if k.broken = errors.Join(err, k.file.Sync()); k.broken != nil {
			return nil, k.broken
		}
	}
	for _, r := range took {
		if each != nil {
			each(r)
		}
	}
	return b, bad
}

func (k *Kept) check(line []byte, at time.Time) error {
	if k.Fork != nil {
		return ErrFork
	}
	if len(line) > MaxLine {
		return k.tooLong()
	}
	r, err := k.Place.Next(bytes.Clone(line))
	if journal.OtherHistory(err) && k.Place.Lines > 0 {
		return k.forked(k.Place.Lines, k.Place.Head, shownBefore(line), at)
	}
	if err == nil {
		err = k.take(r)
	}
	if err == nil {
		k.coming = append(k.coming, r)
	}
	return err
}

// shownBefore is the hash of the line before one, as that says it.
func shownBefore(line []byte) (h journal.Hash) {
	var head struct {
		Prev journal.Hash `json:"prev"`
	}
	_ = json.Unmarshal(line, &head) // it was read before
	return head.Prev
}

// Head is what a peer says of its journal: how many lines it has, and the hash of the last. The
// error says that its history is another, or, as ErrOlder, that it is shorter than it was.
func (k *Kept) Head(lines uint64, head journal.Hash, at time.Time) error {
	switch {
	case k.Fork != nil:
		return ErrFork
	case lines > k.Place.Lines || lines == k.Place.Lines && (head == k.Place.Head || lines == 0):
		return nil
	}
	was := journal.Hash{}
	if lines > 0 {
		h, err := k.hashOf(lines)
		if err != nil {
			return err
		}
		was = h
	}
	if lines > 0 && was != head {
		return k.forked(lines, was, head, at)
	}
	return ErrOlder
}

// ErrOlder means that a peer has fewer lines than were taken from it, and no others: the end of
// its journal was cut off, or an older copy stands in its place.
var ErrOlder = errors.New("fewer lines than before")

// hashOf is the hash of a line that is kept.
func (k *Kept) hashOf(seq uint64) (h journal.Hash, err error) {
	line, err := k.line(seq)
	if err == nil {
		err = journal.Piece(line, func(r journal.Record) error { h = r.Hash; return nil })
	}
	return h, err
}

// line gives one that holds.
func (k *Kept) line(seq uint64) ([]byte, error) {
	size := k.Place.Bytes
	for _, r := range k.coming {
		if r.Seq == seq {
			return r.Line, nil
		}
		size -= int64(len(r.Line))
	}
	from, err := journal.Seek(k.file, size, seq)
	if err != nil {
		return nil, err
	}
	to, err := journal.Seek(k.file, size, seq+1)
	if err != nil {
		return nil, err
	}
	line := make([]byte, to-from)
	_, err = k.file.ReadAt(line, from)
	return line, err
}

// forked notes that the peer showed another history.
func (k *Kept) forked(line uint64, was, shown journal.Hash, at time.Time) error {
	k.Fork = &Fork{line, was, shown, at}
	b, err := json.Marshal(k.Fork)
	if err == nil {
		err = os.WriteFile(filepath.Join(k.dir, forkName), append(b, '\n'), 0o640)
	}
	return errors.Join(ErrFork, err)
}

// take checks what a line says, beside the chain, and counts it in.
func (k *Kept) take(r journal.Record) error {
	switch r.Kind {
	case "began":
		f, err := fact.DecodeBody(r.Kind, r.Line)
		v, ok := f.(fact.Began)
		if err != nil || !ok {
			return errors.Join(err, text.Fault("peer.no-began"))
		}
		if err := k.began(v, int(r.Seq)); err != nil {
			return err
		}
	case "signed":
		f, err := fact.DecodeBody(r.Kind, r.Line)
		v, ok := f.(fact.Signed)
		if err != nil || !ok || !k.holds(v) {
			return errors.Join(err, text.Fault("peer.signature", text.Count("line", int(r.Seq))))
		}
	}
	k.Place.Add(r)
	return nil
}

func (k *Kept) began(v fact.Began, line int) error {
	if v.Format > fact.Format {
		return text.Fault("peer.newer", text.Count("line", line))
	}
	if v.Epoch <= k.Epoch {
		return text.Fault("peer.epoch", text.Count("line", line), text.Count("is", int(v.Epoch)), text.Count("was", int(k.Epoch)))
	}
	if v.Bench != "" {
		if id, err := signer.ID(v.Key); err != nil || id != v.Bench {
			return text.Fault("peer.key", text.Count("line", line))
		}
		if k.Bench != "" && k.Bench != v.Bench {
			return text.Fault("peer.other-bench", text.Count("line", line), text.Name("is", signer.Short(v.Bench)), text.Name("was", signer.Short(k.Bench)))
		}
		k.Bench, k.key, k.Sign = v.Bench, v.Key, v.Sign
	}
	k.Epoch = v.Epoch
	return nil
}

// holds reports whether a signature is of a line that is here, by the key of the bench.
func (k *Kept) holds(v fact.Signed) bool {
	line, err := k.line(v.Of)
	return err == nil && v.Key == k.key && signer.Verify(v.Key, line, v.Signature)
}
