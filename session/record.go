package session

import (
	"errors"
	"time"

	"tared/session/book"
	"tared/session/fact"
	"tared/session/text"
)

// What people record where no bench is running.

// alone opens the journal of a data directory, makes a bench over it that nobody sees, and
// closes the journal again. What is written is noted in the witness file, as a bench does
// it, and a journal that does not bear out what stands there is named first. The book that
// it gives knows what the bench wrote.
func alone[T any](dir, witness string, at time.Time, do func(*Bench, *book.Index) (T, error)) (got T, all *book.Index, err error) {
	// The lock of the journal comes first: with a bench running, that one decides.
	j, past, _, err := Open(dir, witness, at)
	if err != nil {
		return got, nil, err
	}
	defer func() { err = errors.Join(err, j.Close()) }()
	var unread error
	b := New(Config{Recorder: Into(j), Past: past, Now: func() time.Time { return at }, OnFacts: func(lines [][]byte) { unread = past.Book.AddLines(lines) }})
	if past.Begin != nil && past.Begin.Why != "" {
		t := change{s: b.s, at: at}
		t.begin(past.Begin)
		if err := b.commit(t.s, t.facts); err != nil {
			return got, past.Book, err
		}
	}
	if got, err = do(b, past.Book); err != nil && b.broken != "" {
		return got, past.Book, text.Kind(err, text.Refuse("entry.write", text.Because("why", errors.Unwrap(err))))
	}
	return got, past.Book, errors.Join(err, unread)
}

// RecordEntry does what Bench.AddEntry does where no bench is running, and gives what was
// recorded, and the book with it. The mark of the batch may stand in any case.
func RecordEntry(dir, witness string, at time.Time, r EntryRequest) (added fact.Fact, all *book.Index, err error) {
	return alone(dir, witness, at, func(b *Bench, all *book.Index) (f fact.Fact, err error) {
		entry := func(uint64) book.Amendable { return book.Amendable{} }
		switch n, err := all.Find(r.Batch); {
		case err == nil:
			r.Batch, entry = n.Mark, n.Amendable
		case !errors.Is(err, book.ErrNoBatch):
			return f, err
		}
		r, err := r.resolved(b.workshop.Vessels, nil)
		if err != nil {
			return f, err
		}
		body, err := r.Body(entry, dir)
		if err != nil {
			return f, err
		}
		return b.addEntry(r, body)
	})
}

// RecordKeep does what Bench.Keep does where no bench is running.
func RecordKeep(dir, witness string, at time.Time, r KeepRequest) (Receipt, error) {
	got, _, err := alone(dir, witness, at, func(b *Bench, _ *book.Index) (Receipt, error) { return b.keep(r) })
	return got, err
}

// RecordVessel does what Bench.Measure does where no bench is running.
func RecordVessel(dir, witness string, at time.Time, w VesselRequest) (fact.Vessel, error) {
	if w.Weighed != (WeighedHere{}) {
		return fact.Vessel{}, text.Refuse("vessel.no-bench")
	}
	got, _, err := alone(dir, witness, at, func(b *Bench, _ *book.Index) (fact.Vessel, error) { return b.measure(w) })
	return got, err
}

// RecordDevice does what Bench.Pair does where no bench is running; it takes no device in.
func RecordDevice(dir, witness string, at time.Time, r DeviceRequest) error {
	_, _, err := alone(dir, witness, at, func(b *Bench, _ *book.Index) (fact.Fact, error) { return b.pair(r, "") })
	return err
}
