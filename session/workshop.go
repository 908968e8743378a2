package session

import (
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"syscall"
	"time"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/fact"
	"tared/session/journal"
	"tared/session/recipebook"
	"tared/session/sheet"
	"tared/session/stock"
	"tared/session/text"
)

// A fold is told what happened, fact after fact, and knows how things stand.
type fold interface {
	// Reads reports whether facts of this kind, of this batch, from this time, can matter
	// to it, so that years of lines need not be understood to open a bench.
	Reads(kind, batch string, at time.Time) bool
	// Add takes the next fact; one that does not matter changes nothing.
	Add(f fact.Fact)
}

// Workshop is what the journal knows beside the batches themselves. The zero value
// is empty; it is not safe for use while Add runs.
type Workshop struct {
	Stock   stock.Stock
	Recipes recipebook.Book
	Vessels vessels
	Roles   givenRoles // of materials that no table knows
	Marks   marks      // of all batches, so that none is given twice

	epochs   epochs  // of this journal
	scales   gauges  // as instruments
	standing buckets // batches with water in them
}

// folds are what a Workshop is made of. A line that one of them reads and cannot
// understand is an error.
func (w *Workshop) folds() []fold {
	return []fold{&w.Stock, &w.Recipes, &w.Vessels, &w.Roles, &w.epochs, &w.scales, &w.standing}
}

// Reads reports whether facts of this kind, of this batch, from this time, can matter.
func (w *Workshop) Reads(kind, batch string, at time.Time) bool {
	for _, f := range w.folds() {
		if f.Reads(kind, batch, at) {
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

// Measured gives the repeatability of a scale that the journal knows; 0: none was
// measured on it as it is now.
func (w *Workshop) Measured(s sheet.Scale) protocol.Mass { return w.scales.spread(s) }

// ReadWorkshop reads the journal of a data directory, which may be in use. Where a
// line is damaged it gives what stands before it, with the error. For now see Open.
func ReadWorkshop(dir string, now time.Time) (*Workshop, error) {
	w := &Workshop{standing: buckets{since: dueSince(now)}}
	_, err := journal.Read(dir, func(r journal.Record) error {
		f, err := read(r, w)
		if err == nil && f.Body != nil {
			w.Add(f)
		}
		return err
	})
	return w, err
}

// read understands a line, where somebody reads it; else the fact has no body.
func read(r journal.Record, by fold) (f fact.Fact, err error) {
	if by.Reads(r.Kind, r.Batch, r.At) {
		if f, err = Fact(r); err != nil {
			err = fmt.Errorf("journal %w", err)
		}
	}
	return f, err
}

// Fact understands a line of the journal, of which the head was read already. It keeps
// nothing of the record's Line. Where the line cannot be understood, the fact has no body.
func Fact(r journal.Record) (fact.Fact, error) {
	f := fact.Fact{Seq: r.Seq, At: r.At, Batch: r.Batch, By: r.By}
	var err error
	if f.Body, err = fact.DecodeBody(r.Kind, r.Line); err != nil {
		return f, fmt.Errorf("line %d: %w", r.Seq, err)
	}
	return f, nil
}

// Past is what a bench must know of the journal to stand where it left off. The
// batches that were closed are not in it: their facts stay on the disk until the
// book is asked for.
type Past struct {
	Workshop
	Seq   uint64      // of the last line
	Begin *fact.Began // what a bench must record before all else; nil: nothing
	Facts []fact.Fact // of the last batch that was planned, and of its tub if it is a cup
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
		l := newLatest(now)
		if r, e := journal.Read(dir, l.line); e == nil {
			past, _ = l.past(r.Lines)
		}
	}
	return j, past, rep, err
}

// openWith is Open for one who reads all lines for something else in the same pass.
func openWith(dir string, now time.Time, o journal.Options) (*journal.Journal, Past, journal.Report, error) {
	l, each := newLatest(now), o.Each
	o.Each = l.line
	if each != nil {
		o.Each = func(r journal.Record) error { return errors.Join(each(r), l.line(r)) }
	}
	j, rep, err := journal.Open(dir, o)
	past, unread := l.past(rep.Lines)
	if err == nil && unread != nil {
		_ = j.Close() // nothing was written
		return nil, Past{}, rep, unread
	}
	return j, past, rep, err
}

// latest keeps the lines of the batch that was planned last, as they go by, and of
// its tub.
type latest struct {
	known     Workshop
	mark, tub string // tub: of the series, where that batch is a cup of one
	lines     []pastLine
	closed    bool   // that batch
	text      []byte // of the lines that nobody has read yet; its room serves for batch after batch
	unread    error  // of a line that somebody reads
}

func newLatest(now time.Time) *latest {
	return &latest{known: Workshop{standing: buckets{since: dueSince(now)}}}
}

// pastLine is one line; its fact has a body once it was read.
type pastLine struct {
	journal.Record
	fact fact.Fact
}

func (l *latest) line(r journal.Record) error {
	f, err := read(r, &l.known)
	switch {
	case f.Body != nil:
		l.known.Add(f)
	case err != nil && (r.Batch == "" || l.known.Stock.Reads(r.Kind, r.Batch, r.At)):
		l.unread = errors.Join(l.unread, err)
	}
	l.known.Marks.add(r.Batch) // whatever its line says
	if r.Kind == (fact.Planned{}).Kind() {
		l.begin(strings.Clone(r.Batch))
	}
	if l.mark == "" || r.Batch != l.mark && r.Batch != l.tub {
		return nil
	}
	l.closed = l.closed || r.Batch == l.mark && r.Kind == (fact.Finished{}).Kind()
	if f.Body == nil {
		l.text = append(l.text, r.Line...)
		r.Line = l.text[len(l.text)-len(r.Line):]
	}
	l.lines = append(l.lines, pastLine{r, f})
	return nil
}

// begin forgets what does not belong to a batch that is planned: all but its tub.
func (l *latest) begin(mark string) {
	l.mark, l.tub, l.closed = mark, "", false
	if tub, cup := batch.TubMark(mark); cup {
		l.tub = tub
	}
	l.lines = slices.DeleteFunc(l.lines, func(x pastLine) bool { return x.Batch != l.tub })
	if len(l.lines) == 0 {
		l.text = l.text[:0]
	}
}

// ErrNewer is in the chain of the error for a journal that only a newer tared understands.
var ErrNewer = errors.New("a newer tared wrote this journal")

func (l *latest) past(seq uint64) (Past, error) {
	p := Past{Workshop: l.known, Seq: seq}
	if l.known.epochs.format > fact.Format {
		return Past{}, text.Kind(ErrNewer, text.Refuse("bench.newer-format", text.Count("format", int(l.known.epochs.format)), text.Count("known", fact.Format)))
	}
	for _, x := range l.lines {
		f := x.fact
		if f.Body == nil {
			var err error
			if f, err = Fact(x.Record); err != nil {
				return Past{}, fmt.Errorf("journal %w", err)
			}
		}
		if _, unknown := f.Body.(fact.Unknown); unknown && (!l.closed || l.tub != "") {
			return Past{}, text.Kind(ErrNewer, text.Refuse("bench.newer-kind", text.Count("line", int(x.Seq)), text.Name("kind", x.Kind), text.Name("batch", x.Batch)))
		}
		p.Facts = append(p.Facts, f)
	}
	return p, l.unread
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
