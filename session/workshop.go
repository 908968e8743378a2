package session

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"syscall"
	"time"

	"tared/session/batch"
	"tared/session/book"
	"tared/session/fact"
	"tared/session/journal"
	"tared/session/recipebook"
	"tared/session/sheet"
	"tared/session/signer"
	"tared/session/stock"
	"tared/session/text"
)

// A fold is told what happened, fact after fact, and knows how things stand.
type fold interface {
	// Reads reports whether a fact of this kind, of this batch, from this time, in this line
	// can matter to it, so that years of lines need not be understood to open a bench.
	Reads(kind, batch string, at time.Time, line []byte) bool
	// Add takes the next fact; one that does not matter changes nothing.
	Add(f fact.Fact)
}

// Workshop is what the journal knows beside the batches themselves. The zero value
// is empty; it is not safe for use while Add runs.
type Workshop struct {
	Stock   stock.Stock
	Recipes recipebook.Book
	Vessels vessels
	Devices devices    // that were ever paired
	Roles   givenRoles // of materials that no table knows
	Marks   marks      // of all batches, so that none is given twice

	epochs   epochs  // of this journal
	scales   gauges  // as instruments
	standing buckets // batches with water in them
}

// folds are what a Workshop is made of. A line that one of them reads and cannot
// understand is an error.
func (w *Workshop) folds() []fold {
	return []fold{&w.Stock, &w.Recipes, &w.Vessels, &w.Devices, &w.Roles, &w.epochs, &w.scales, &w.standing}
}

// Reads reports whether such a fact can matter.
func (w *Workshop) Reads(kind, batch string, at time.Time, line []byte) bool {
	for _, f := range w.folds() {
		if f.Reads(kind, batch, at, line) {
			return true
		}
	}
	return false
}

// Add takes the next fact.
func (w *Workshop) Add(f fact.Fact) {
	w.Marks.add(f.Batch)
	for _, fold := range w.folds() {
		fold.Add(f)
	}
}

// Measured gives a scale with what the journal knows of it as it is now: its repeatability,
// where the user named none, and its last known weight.
func (w *Workshop) Measured(s sheet.Scale) sheet.Scale { return w.scales.measured(s) }

// ReadWorkshop reads the journal of a data directory, which may be in use. Where a
// line is damaged it gives what stands before it, with the error. For now see Open.
func ReadWorkshop(dir string, now time.Time) (*Workshop, error) {
	w := newWalk(dir, now, true)
	_, err := w.read(dir)
	if errors.Is(err, journal.ErrElsewhere) {
		w = newWalk(dir, now, false)
		_, err = w.read(dir)
	}
	return &w.known, errors.Join(err, w.unread)
}

// read understands a line, where somebody reads it; else the fact has no body.
func read(r journal.Record, by fold) (f fact.Fact, err error) {
	if by.Reads(r.Kind, r.Batch, r.At, r.Line) {
		if f, err = book.Fact(r); err != nil {
			err = fmt.Errorf("journal %w", err)
		}
	}
	return f, err
}

// Past is what a bench must know of the journal to stand where it left off. The
// batches that were closed are not in it: their facts stay on the disk until the
// book is asked for.
type Past struct {
	Workshop
	Seq   uint64      // of the last line
	Begin *fact.Began // what a bench must record before all else; nil: nothing
	Facts []fact.Fact // of the last batch that was planned, and of its tub if it is a cup
	Book  *book.Index // of all batches, as far as the journal was read

	Key    *signer.Key // of the bench; nil: nothing is signed
	Closed []byte      // line that closed that batch, where it is not signed yet

	// Unchecked is a place before which the lines were taken as an earlier start had checked
	// them: Check of it does so again.
	Unchecked  journal.Place
	Checkpoint Checkpoint // for the next start
}

// Open opens the journal of a data directory, checks all of it, and gives what a
// bench must know, in one pass of its lines. It reads what a line says only where
// that matters now: a line of the last batch that cannot be understood is an error
// here, one of an earlier batch is an error when the book is read. With a damaged
// journal, Past is what stands before the damage; where nothing can be written in dir,
// it is what can be read. From now on it is reckoned which batches may still wait to be
// measured; the zero time has it look at all of them.
//
// The journal is held against the note of its head in a witness file, and the note is
// kept; empty: there is none. Past says what the bench must record about it.
func Open(dir, witness string, now time.Time) (*journal.Journal, Past, journal.Report, error) {
	j, past, rep, err := openWith(dir, now, journal.Options{Witness: witness})
	switch {
	case err == nil:
		past.Begin = past.epochs.begins(rep)
	case errors.Is(err, fs.ErrPermission) || errors.Is(err, syscall.EROFS):
		w := newWalk(dir, now, false)
		if _, e := w.read(dir); e == nil {
			past, _ = w.past()
		}
	}
	return j, past, rep, err
}

// openWith is Open with more options of the journal.
func openWith(dir string, now time.Time, o journal.Options) (*journal.Journal, Past, journal.Report, error) {
	w := newWalk(dir, now, true)
	j, rep, err := w.open(dir, o)
	past, unread := w.past()
	if doubt := errors.Join(err, unread); errors.Is(doubt, journal.ErrElsewhere) || errors.Is(doubt, book.ErrChanged) {
		if err == nil {
			_ = j.Close() // nothing was written
		}
		w = newWalk(dir, now, false)
		j, rep, err = w.open(dir, o)
		past, unread = w.past()
	}
	if err == nil && unread != nil {
		_ = j.Close()
		return nil, Past{}, rep, unread
	}
	return j, past, rep, err
}

// ErrNewer is in the chain of the error for a journal that only a newer tared understands.
var ErrNewer = errors.New("a newer tared wrote this journal")

func (w *walk) past() (Past, error) {
	p := Past{Workshop: w.known, Seq: w.book.Place().Lines, Book: w.book, Unchecked: w.from}
	if w.known.epochs.format > fact.Format {
		return Past{}, text.Kind(ErrNewer, text.Refuse("bench.newer-format", text.Count("format", int(w.known.epochs.format)), text.Count("known", fact.Format)))
	}
	lines, err := w.latest()
	if err != nil {
		return Past{}, fmt.Errorf("journal: %w", err)
	}
	mark := w.book.Mark(w.book.Len())
	_, cup := batch.TubMark(mark)
	closed := slices.ContainsFunc(lines, func(r journal.Record) bool { return r.Batch == mark && r.Kind == (fact.Finished{}).Kind() })
	for _, r := range lines {
		f, err := book.Fact(r)
		if err != nil {
			return Past{}, fmt.Errorf("journal %w", err)
		}
		if _, unknown := f.Body.(fact.Unknown); unknown && (!closed || cup) {
			return Past{}, text.Kind(ErrNewer, text.Refuse("bench.newer-kind", text.Count("line", int(r.Seq)), text.Name("kind", r.Kind), text.Name("batch", r.Batch)))
		}
		p.Facts = append(p.Facts, f)
		switch f.Body.(type) {
		case fact.Finished:
			if since := w.known.epochs.since; since > 0 && f.Seq > since { // what was closed before the bench had its key, it cannot vouch for
				p.Closed = bytes.Clone(r.Line)
			}
		case fact.Signed, fact.Planned:
			p.Closed = nil
		}
	}
	p.Checkpoint, err = w.checkpoint()
	return p, errors.Join(w.unread, err)
}

// latest gives the lines of the batch that was planned last, and of its tub if it is a cup.
func (w *walk) latest() (lines []journal.Record, err error) {
	mark := w.book.Mark(w.book.Len())
	each := func(r journal.Record) error { lines = append(lines, r); return nil }
	if tub, cup := batch.TubMark(mark); cup {
		err = w.book.Lines(tub, each)
	}
	if err == nil {
		err = w.book.Lines(mark, each)
	}
	slices.SortFunc(lines, func(a, b journal.Record) int { return cmp.Compare(a.Seq, b.Seq) })
	return lines, err
}

// Recorder puts facts on disk. When Append returns without an error they are
// there, all of them, in order; it returns the lines as written.
type Recorder interface {
	Append(facts []fact.Fact) ([][]byte, error)
}

// Into records facts in a journal.
func Into(j *journal.Journal) Recorder { return recorder{j} }

type recorder struct{ j *journal.Journal }

// Check gives an error where the journal is not at its place any more.
func (r recorder) Check(at time.Time) error { return r.j.Check(at) }

func (r recorder) Append(facts []fact.Fact) ([][]byte, error) {
	es := make([]journal.Entry, len(facts))
	for i, f := range facts {
		es[i] = journal.Entry{At: f.At, Kind: f.Body.Kind(), Batch: f.Batch, By: f.By, Body: f.Body}
	}
	recs, err := r.j.AppendAll(es...)
	if err != nil {
		return nil, err
	}
	lines := make([][]byte, len(recs))
	for i, rec := range recs {
		if rec.Seq != facts[i].Seq {
			return nil, errors.New(text.New("bench.other-writer", text.Number("line", entryNumber(rec.Seq)), text.Number("next", entryNumber(facts[i].Seq))).String())
		}
		lines[i] = rec.Line
	}
	return lines, nil
}
