package session

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"time"

	"tared/session/book"
	"tared/session/fact"
	"tared/session/journal"
)

// Checkpoint is what of a start is kept beside the journal, so that the next one reads
// only the lines behind it. It is never the record: where it is missing, or anything of it
// is in doubt, all lines are read.
type Checkpoint struct {
	Place journal.Place
	Stock json.RawMessage
}

// indexName is the file of a checkpoint in the data directory.
const indexName = "journal.index"

// program tells one program from another: two may tell a batch otherwise.
func program() string {
	path, err := os.Executable()
	if err != nil {
		return ""
	}
	info, err := os.Stat(path)
	if err != nil {
		return ""
	}
	return fmt.Sprint(info.Size(), info.ModTime().UnixNano())
}

// Save puts a checkpoint in its place, with what an index knows since. What cannot be
// kept costs the next start some time.
func (c Checkpoint) Save(dir string, x *book.Index) error {
	with, err := json.Marshal(c)
	if err != nil {
		return err
	}
	tmp, err := os.CreateTemp(dir, indexName+"-*.part")
	if err != nil {
		return err
	}
	defer func() { _ = os.Remove(tmp.Name()) }() // gone already when all went well
	_ = tmp.Chmod(0o640)                         // as the journal; who may not read it loses time
	err = x.Seal(tmp, program(), with)
	if err = errors.Join(err, tmp.Close()); err != nil {
		return err
	}
	return os.Rename(tmp.Name(), filepath.Join(dir, indexName))
}

// DropCheckpoint throws the checkpoint in dir away.
func DropCheckpoint(dir string) { _ = os.Remove(filepath.Join(dir, indexName)) }

// readCheckpoint gives the checkpoint in dir, and the index that goes with it, with the
// rows of its list where they are wanted; nil: there is none that could be used.
func readCheckpoint(dir string, rows bool) (c Checkpoint, x *book.Index) {
	f, err := os.Open(filepath.Join(dir, indexName))
	if err != nil {
		return c, nil
	}
	defer func() { _ = f.Close() }()
	info, err := f.Stat()
	if err != nil {
		return c, nil
	}
	x, with := book.Unseal(journal.At(dir), program(), io.NewSectionReader(f, 0, info.Size()), rows)
	if x == nil || json.Unmarshal(with, &c) != nil {
		return Checkpoint{}, nil
	}
	if c.Place.Lines > x.Place().Lines || !x.Place().Holds(dir) {
		return Checkpoint{}, nil
	}
	return c, x
}

// ReadIndex reads the journal in dir, which may be in use, behind its checkpoint where it
// has one. Who looks at few batches has no use for all rows of the list. Where a line is
// damaged it gives what stands before it, with the error.
func ReadIndex(dir string, rows bool) (*book.Index, error) {
	if _, x := readCheckpoint(dir, rows); x != nil {
		_, err := journal.ReadWith(dir, journal.Options{From: x.Place(), Each: func(r journal.Record) error { x.Add(r); return nil }})
		if !errors.Is(err, journal.ErrElsewhere) {
			return x, err
		}
	}
	return ReadWholeIndex(dir)
}

// ReadWholeIndex is ReadIndex where a checkpoint is in doubt.
func ReadWholeIndex(dir string) (*book.Index, error) {
	x := book.NewIndex(journal.At(dir))
	_, err := journal.Read(dir, func(r journal.Record) error { x.Add(r); return nil })
	return x, err
}

// walk gathers what is to be known of a journal from its lines, as they go by.
type walk struct {
	known  Workshop
	book   *book.Index
	from   journal.Place // behind which the lines are read
	unread error         // of a line that somebody reads
}

// newWalk begins behind a checkpoint, where there is one and it is wanted.
func newWalk(dir string, now time.Time, quick bool) *walk {
	w := &walk{known: Workshop{standing: buckets{since: dueSince(now)}}}
	var c Checkpoint
	if quick {
		c, w.book = readCheckpoint(dir, true)
	}
	if w.book == nil {
		w.book = book.NewIndex(journal.At(dir))
	} else if err := w.resume(c); err != nil {
		return newWalk(dir, now, false)
	}
	w.known.Stock.Recall = w.recall
	return w
}

func (w *walk) recall(mark string) []fact.Fact {
	all, err := w.book.Facts(mark)
	w.unread = errors.Join(w.unread, err)
	return all
}

// resume has the folds know what the lines before the checkpoint say.
func (w *walk) resume(c Checkpoint) error {
	w.from = c.Place
	for mark, used := range w.book.Marks() {
		w.known.Marks.add(mark)
		if used {
			w.known.standing.batch(mark).used = true
		}
	}
	if err := json.Unmarshal(c.Stock, &w.known.Stock); err != nil {
		return err
	}
	var lines []journal.Record
	take := func(r journal.Record) error {
		if r.Seq <= c.Place.Lines { // else it comes
			lines = append(lines, r)
		}
		return nil
	}
	if err := errors.Join(w.book.Apart(take), w.book.Wet(w.known.standing.since, take)); err != nil {
		return err
	}
	slices.SortFunc(lines, func(a, b journal.Record) int { return cmp.Compare(a.Seq, b.Seq) })
	lines = slices.CompactFunc(lines, func(a, b journal.Record) bool { return a.Seq == b.Seq })
	for _, r := range lines {
		w.known.Marks.add(r.Batch)
		for _, f := range w.known.folds()[1:] { // all but the stock
			if !f.Reads(r.Kind, r.Batch, r.At, r.Line) {
				continue
			}
			v, err := book.Fact(r)
			if err != nil {
				return err
			}
			f.Add(v)
		}
	}
	return nil
}

func (w *walk) line(r journal.Record) error {
	switch known := w.book.Place(); {
	case r.Seq > known.Lines:
		w.book.Add(r)
	case r.Seq == known.Lines && r.Hash != known.Head:
		return journal.ErrElsewhere
	}
	f, err := read(r, &w.known)
	switch {
	case f.Body != nil:
		w.known.Add(f)
	case err != nil && (r.Batch == "" || w.known.Stock.Reads(r.Kind, r.Batch, r.At, nil)):
		w.unread = errors.Join(w.unread, err)
	}
	w.known.Marks.add(r.Batch) // whatever its line says
	return nil
}

// checkpoint is that of the place up to which all was read.
func (w *walk) checkpoint() (Checkpoint, error) {
	c := Checkpoint{Place: w.book.Place()}
	var err error
	c.Stock, err = w.known.Stock.MarshalJSON()
	return c, err
}

// whole reports whether the lines that were read are all that the index knows.
func (w *walk) whole(rep journal.Report) bool { return rep.Lines >= w.book.Place().Lines }

// open opens the journal. With ErrElsewhere, it is not as the checkpoint says.
func (w *walk) open(dir string, o journal.Options) (*journal.Journal, journal.Report, error) {
	o.From, o.Each = w.from, w.line
	j, rep, err := journal.Open(dir, o)
	if err == nil && !w.whole(rep) {
		_ = j.Close()
		return nil, rep, journal.ErrElsewhere
	}
	return j, rep, err
}

// read is open for one who changes nothing.
func (w *walk) read(dir string) (journal.Report, error) {
	rep, err := journal.ReadWith(dir, journal.Options{From: w.from, Each: w.line})
	if err == nil && !w.whole(rep) {
		err = journal.ErrElsewhere
	}
	return rep, err
}
