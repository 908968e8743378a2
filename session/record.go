package session

import (
	"fmt"

	"tared/session/fact"
	"tared/session/journal"
)

// Into records facts in a journal.
func Into(j *journal.Journal) Recorder { return recorder{j} }

type recorder struct{ j *journal.Journal }

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
			return nil, fmt.Errorf("the journal is at %d and the bench at %d: another program wrote to it", rec.Seq, facts[i].Seq)
		}
		lines[i] = rec.Line
	}
	return lines, nil
}

// Open opens the journal of a data directory and gives what it holds.
func Open(dir string) (*journal.Journal, []fact.Fact, journal.Report, error) {
	var past []fact.Fact
	j, rep, err := journal.Open(dir, journal.Options{Each: func(r journal.Record) error {
		f, _, err := fact.Decode(r.Line)
		if err != nil {
			return fmt.Errorf("journal line %d: %w", r.Seq, err)
		}
		past = append(past, f)
		return nil
	}})
	return j, past, rep, err
}
