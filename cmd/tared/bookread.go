package main

import (
	"context"
	"errors"
	"io/fs"
	"runtime/debug"
	"sync"
	"time"

	"tared/session"
	"tared/session/book"
	"tared/session/fact"
	"tared/session/glaze"
	"tared/session/journal"
)

// bookReader lends the index of a running bench's journal to the pages. The bench feeds it
// what it writes; neither it nor a page waits while another reads the journal.
type bookReader struct {
	dir   string
	shelf glaze.Shelf // of the bench

	mu    sync.Mutex
	index *book.Index // nil: there is none
	err   error       // why not, or not to its end

	journal   *journal.Journal // nil: it could not be opened
	unchecked journal.Place    // up to which it is still to be checked again
	next      session.Checkpoint
	saved     uint64 // lines that the checkpoint knows
	making    bool   // rows of the list are being made

	fed   sync.Mutex
	lines [][]byte      // that were written since
	news  chan struct{} // closes when lines are written; nil: nobody waits for any

	todo chan struct{} // there is something to keep; holds one
}

// begin takes a journal that was opened, perhaps anew; err is what was wrong with it.
func (r *bookReader) begin(j *journal.Journal, past *session.Past, err error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.fed.Lock()
	defer r.fed.Unlock()
	r.index, r.err, r.lines = past.Book, err, nil
	if r.index != nil {
		r.index.Shelf = r.shelf
	}
	r.journal, r.unchecked, r.saved, r.next = j, past.Unchecked, past.Unchecked.Lines, past.Checkpoint
	past.Stock.Recall = r.facts
	r.tell()
}

func (r *bookReader) tell() {
	select {
	case r.todo <- struct{}{}:
	default:
	}
}

// facts gives what happened in a batch so far.
func (r *bookReader) facts(mark string) (all []fact.Fact) {
	_ = r.with(func(x *book.Index) (err error) {
		all, err = x.Facts(mark)
		return err
	})
	return all
}

// keep reads again what the start took as an earlier one had checked it, makes what is
// still to be made of the index, piece by piece, and keeps it for the next start; it goes
// on until ctx ends.
func (r *bookReader) keep(ctx context.Context) {
	wait := time.NewTimer(time.Hour)
	defer wait.Stop()
	for ctx.Err() == nil {
		r.check(ctx)
		began, rest := time.Now(), time.Second
		if r.digest(atATime) {
			rest = time.Since(began) // half the time belongs to the scales and the pages
		} else {
			r.save(tooMany)
			select {
			case <-r.todo:
			case <-ctx.Done():
			}
		}
		wait.Reset(rest)
		select {
		case <-wait.C:
		case <-ctx.Done():
		}
	}
}

const (
	atATime = 20   // batches
	tooMany = 5000 // lines that a start would have to read anew
)

// digest makes up to so many rows of a list, and reports whether there are more to make.
func (r *bookReader) digest(most int) (more bool) {
	_ = r.with(func(x *book.Index) error { more = x.Digest(most); return nil })
	r.mu.Lock()
	defer r.mu.Unlock()
	r.making = more
	return more
}

// made is how much of the list is made, in percent: all, where nobody makes it.
func (r *bookReader) made() (percent int) {
	r.mu.Lock()
	making := r.making
	r.mu.Unlock()
	percent = 100
	if making {
		_ = r.with(func(x *book.Index) error {
			made, all := x.Made()
			percent = 100 * made / max(all, 1)
			return nil
		})
	}
	return percent
}

// save keeps a checkpoint where it is so many lines behind.
func (r *bookReader) save(behind uint64) {
	_ = r.with(func(x *book.Index) error {
		r.mu.Lock()
		next, wanted, lines := r.next, r.err == nil, x.Place().Lines
		wanted = wanted && lines >= r.saved+behind
		r.mu.Unlock()
		if wanted && next.Save(r.dir, x) == nil {
			r.mu.Lock()
			r.saved = lines
			r.mu.Unlock()
		}
		return nil
	})
}

// check holds the lines that nobody has read since the start against the checkpoint. Where
// they are damaged, recording stops, and the next start reads all.
func (r *bookReader) check(ctx context.Context) {
	r.mu.Lock()
	from, j := r.unchecked, r.journal
	r.mu.Unlock()
	if from.Lines == 0 {
		return
	}
	err := from.Check(ctx, r.dir)
	r.mu.Lock()
	defer r.mu.Unlock()
	if ctx.Err() != nil || j != r.journal {
		return
	}
	if r.unchecked = (journal.Place{}); err != nil {
		r.err = err
		session.DropCheckpoint(r.dir)
		j.Break(err)
	}
}

// toCheck tells how many lines are still to be checked.
func (r *bookReader) toCheck() int {
	r.mu.Lock()
	defer r.mu.Unlock()
	return int(r.unchecked.Lines)
}

// feed takes lines that are on the disk.
func (r *bookReader) feed(lines [][]byte) {
	r.fed.Lock()
	r.lines = append(r.lines, lines...)
	if r.news != nil {
		close(r.news)
		r.news = nil
	}
	r.fed.Unlock()
	r.tell()
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
	r.take()
	x, err := r.index, r.err
	r.mu.Unlock()
	if x == nil {
		return err
	}
	return use(x)
}

// readIndex reads the journal in dir, with the rows of its list where they are wanted. Where
// a line is damaged it gives what stands before it, with the error.
func readIndex(dir string, rows bool) (*book.Index, error) {
	if !rows {
		debug.SetGCPercent(25) // a machine of a bench has little memory, and a command that looks at a batch little to do
	}
	return indexBy(func(dir string) (*book.Index, error) { return session.ReadIndex(dir, rows) }, dir)
}

func indexBy(read func(dir string) (*book.Index, error), dir string) (*book.Index, error) {
	x, err := read(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, noJournal(dir)
	case errors.Is(err, journal.ErrDamaged):
		return x, failf("cli.journal-in-only-what-comes", dir, err)
	case err != nil:
		return nil, failf("cli.read-the-journal-in", dir, err)
	}
	return x, nil
}

// withIndex lends the index of a directory to use, also where only what stands before a
// fault can be shown. Where the journal is not as its checkpoint says, all of it is read.
func withIndex(dir string, rows bool, shelf glaze.Shelf, use func(x *book.Index) error) error {
	x, err := readIndex(dir, rows)
	if x == nil {
		return err
	}
	x.Shelf, x.Reader = shelf, language
	used := use(x)
	if errors.Is(used, book.ErrChanged) {
		if x, err = indexBy(session.ReadWholeIndex, dir); x != nil {
			x.Shelf, x.Reader = shelf, language
			used = use(x)
		}
	}
	return errors.Join(err, used)
}

// withBatch lends one batch of it, found by its mark.
func withBatch(dir string, shelf glaze.Shelf, mark string, use func(n *book.Batch) error) error {
	return withIndex(dir, false, shelf, func(x *book.Index) error {
		n, err := batchOf(x, dir, mark)
		if err != nil {
			return err
		}
		return use(n)
	})
}

func noJournal(dir string) error {
	return failf("cli.there-is-no-journal-in", dir)
}
