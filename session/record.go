package session

import (
	"errors"
	"time"

	"tared/session/book"
	"tared/session/fact"
	"tared/session/journal"
	"tared/session/text"
)

// What people record where no bench is running.

// alone opens the journal of a data directory, makes a bench over it that nobody sees, and
// closes the journal again. each sees the lines as they are read; nil: nobody does.
func alone[T any](dir string, at time.Time, each func(journal.Record) error, do func(*Bench) (T, error)) (got T, err error) {
	// The lock of the journal comes first: with a bench running, that one decides.
	j, past, _, err := openWith(dir, at, journal.Options{Each: each})
	if err != nil {
		return got, err
	}
	defer func() { err = errors.Join(err, j.Close()) }()
	b := New(Config{Recorder: Into(j), Past: past, Now: func() time.Time { return at }})
	if got, err = do(b); err != nil && b.broken != "" {
		return got, text.Kind(err, text.Refuse("entry.write", text.Because("why", errors.Unwrap(err))))
	}
	return got, err
}

// RecordEntry does what Bench.AddEntry does where no bench is running, and gives what was
// recorded, and the book with it. The mark of the batch may stand in any case.
func RecordEntry(dir string, at time.Time, r EntryRequest) (added fact.Fact, all *book.Book, err error) {
	all = &book.Book{}
	read := func(r journal.Record) error {
		f, err := Fact(r)
		if err == nil {
			all.Add(f, r.Hash)
		}
		return err
	}
	added, err = alone(dir, at, read, func(b *Bench) (fact.Fact, error) {
		entry := func(uint64) book.Amendable { return book.Amendable{} }
		if n := all.Find(r.Batch); n != nil {
			r.Batch, entry = n.Mark, n.Amendable
		}
		r, err := r.resolved(b.workshop.Vessels, nil)
		if err != nil {
			return fact.Fact{}, err
		}
		body, err := r.Body(entry, dir)
		if err != nil {
			return fact.Fact{}, err
		}
		f, err := b.addEntry(r, body)
		if err == nil {
			all.Add(f, [32]byte{}) // no closing line: nothing rests on its hash
		}
		return f, err
	})
	return added, all, err
}

// RecordKeep does what Bench.Keep does where no bench is running.
func RecordKeep(dir string, at time.Time, r KeepRequest) (Receipt, error) {
	return alone(dir, at, nil, func(b *Bench) (Receipt, error) { return b.keep(r) })
}

// RecordVessel does what Bench.Measure does where no bench is running.
func RecordVessel(dir string, at time.Time, w VesselRequest) (fact.Vessel, error) {
	if w.Weighed != (WeighedHere{}) {
		return fact.Vessel{}, text.Refuse("vessel.no-bench")
	}
	return alone(dir, at, nil, func(b *Bench) (fact.Vessel, error) { return b.measure(w) })
}
