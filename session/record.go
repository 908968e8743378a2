package session

import (
	"bytes"
	"errors"
	"fmt"
	"tared/session/book"
	"tared/session/fact"
	"tared/session/journal"
	"tared/session/text"
	"time"
)

// What people record where no bench is running.

// alone opens the journal of a data directory, makes a bench over it that nobody sees, and
// closes the journal again. each sees the lines as they are read.
func alone(dir string, at time.Time, each func(journal.Record) error, do func(*Bench) error) (err error) {
	// The lock of the journal comes first: with a bench running, that one decides.
	j, past, _, err := openWith(dir, at, journal.Options{Each: each})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, j.Close()) }()
	b := New(Config{Recorder: Into(j), Past: past, Now: func() time.Time { return at }})
	if err = do(b); err != nil && b.broken != "" {
		return text.Kind(err, text.Refuse("entry.write", text.Because("why", errors.Unwrap(err))))
	}
	return err
}

func unseen(journal.Record) error { return nil }

// RecordEntry does what Bench.AddEntry does where no bench is running, and gives what was
// recorded, and the book with it. The mark of the batch may stand in any case.
func RecordEntry(dir string, at time.Time, r EntryRequest) (added fact.Fact, all *book.Book, err error) {
	all = &book.Book{}
	read := func(r journal.Record) error {
		f, _, err := fact.Decode(bytes.Clone(r.Line))
		if err != nil {
			return fmt.Errorf("line %d: %w", r.Seq, err)
		}
		all.Add(f, r.Hash)
		return nil
	}
	err = alone(dir, at, read, func(b *Bench) error {
		entry := func(uint64) book.Amendable { return book.Amendable{} }
		if n := all.Find(r.Batch); n != nil {
			r.Batch, entry = n.Mark, n.Amendable
		}
		r, err := r.resolved(b.workshop.Vessels, nil)
		if err != nil {
			return err
		}
		body, err := r.Body(entry, dir)
		if err == nil {
			added, err = b.addEntry(r, body)
		}
		all.Add(added, [32]byte{}) // no closing line: nothing rests on its hash
		return err
	})
	return added, all, err
}

// RecordKeep does what Bench.Keep does where no bench is running.
func RecordKeep(dir string, at time.Time, r KeepRequest) (got Receipt, err error) {
	err = alone(dir, at, unseen, func(b *Bench) (err error) {
		got, err = b.keep(r)
		return err
	})
	return got, err
}

// RecordVessel does what Bench.Measure does where no bench is running.
func RecordVessel(dir string, at time.Time, w VesselRequest) (v fact.Vessel, err error) {
	if w.Weighed != (WeighedHere{}) {
		return v, text.Refuse("vessel.no-bench")
	}
	err = alone(dir, at, unseen, func(b *Bench) (err error) {
		v, err = b.measure(w)
		return err
	})
	return v, err
}
