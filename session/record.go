package session

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"time"

	"tared/session/book"
	"tared/session/fact"
	"tared/session/journal"
	"tared/session/text"
)

// RecordAfter does what Bench.After does where no bench is running: it opens the
// journal of a data directory, reads it once, adds the line, and closes it again. It
// gives the line. The mark of the batch may stand in any case.
func RecordAfter(dir string, at time.Time, r AfterRequest) (added fact.Fact, err error) {
	var all book.Book
	// The lock of the journal comes first: with a bench running, that one decides.
	j, past, _, err := openBeside(dir, at, func(r journal.Record) error {
		f, _, err := fact.Decode(bytes.Clone(r.Line))
		if err != nil {
			return fmt.Errorf("line %d: %w", r.Seq, err)
		}
		all.Add(f, r.Hash)
		return nil
	})
	if err != nil {
		return added, err
	}
	defer func() { err = errors.Join(err, j.Close()) }()
	if r.Watered != nil {
		w := *r.Watered
		if err := w.resolve(past.Vessels, nil); err != nil {
			return added, err
		}
		r.Watered = &w
	}
	n := all.Find(r.Batch)
	if n != nil {
		r.Batch = n.Mark
	}
	body, err := r.Body(func(seq uint64) (w book.Amendable) {
		if n != nil {
			w = n.Amendable(seq)
		}
		return w
	})
	if err == nil {
		err = photosThere(body, dir)
	}
	if err != nil {
		return added, err
	}
	s := State{}
	for _, f := range past.Facts {
		s = s.Apply(f)
	}
	open := ""
	if s.open() {
		open = s.Batch.Mark
	}
	if err := closed(r.Batch, past.Marks, open); err != nil {
		return added, err
	}
	f := fact.Fact{Seq: past.Seq + 1, At: at, Batch: r.Batch, By: strings.TrimSpace(r.By), Body: body}
	if _, err := Into(j).Append([]fact.Fact{f}); err != nil {
		return added, text.Kind(err, text.Refuse("entry.write", text.Because("why", err)))
	}
	return f, nil
}
