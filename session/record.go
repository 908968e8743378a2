package session

import (
	"bytes"
	"fmt"
	"slices"

	"tared/session/batch"
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

// Past is what a bench must know of the journal to stand where it left off. The
// batches that were closed are not in it: their facts stay on the disk until the
// book is asked for.
type Past struct {
	Seq   uint64          // of the last line
	Marks map[string]bool // of all batches, so that none is given twice
	Roles []fact.Role     // of materials that no table knows, oldest first
	Facts []fact.Fact     // of the last batch that was planned, after those of its tub if it is a cup
	// Checks are the checks of the scales themselves, and the runs that measured
	// their repeatability, oldest first.
	Checks []fact.Fact

	Vessels []fact.Vessel // that were measured, by name

	stands buckets // batches with water in them
	Shelf  Shelf   // lots and recipes
}

// Open opens the journal of a data directory, checks all of it, and gives what a
// bench must know. It reads what a line says only where that matters now: a line
// of the last batch that cannot be understood is an error here, one of an earlier
// batch is an error when the book is read. With a damaged journal, Past is what
// stands before the damage.
func Open(dir string) (*journal.Journal, Past, journal.Report, error) {
	last := latest{marks: map[string]bool{}, stands: buckets{}}
	j, rep, err := journal.Open(dir, journal.Options{Each: last.line})
	past, unread := last.past(rep.Lines)
	if err == nil && unread != nil {
		_ = j.Close() // nothing was written
		return nil, Past{}, rep, unread
	}
	return j, past, rep, err
}

// latest keeps the lines of the batch that was planned last, as they go by.
type latest struct {
	marks map[string]bool
	seen  string // batch of the line before
	mark  string
	lines []byte // with their newlines
	heads []journal.Record
	tub   []journal.Record // of the tub, where that batch is a cup of a series

	roles   []journal.Record // of materials, with their lines
	gauges  []journal.Record // checks of the scales, with their lines
	stands  buckets
	vessels []journal.Record // with their lines
	shelf   Shelf
	unread  error // of a line about lots or recipes
}

func (l *latest) line(r journal.Record) error {
	if r.Kind == (fact.Planned{}).Kind() {
		switch tub, cup := batch.TubMark(r.Batch); {
		case cup && tub == l.mark:
			l.tub = l.records()
		case !cup || len(l.tub) == 0 || tub != l.tub[0].Batch:
			l.tub = nil
		}
		l.mark, l.lines, l.heads = r.Batch, l.lines[:0], l.heads[:0]
	}
	if r.Kind == (fact.Checked{}).Kind() || r.Kind == (fact.Repeatability{}).Kind() {
		r.Line = bytes.Clone(r.Line)
		l.gauges = append(l.gauges, r)
	}
	if r.Kind == (fact.Role{}).Kind() {
		r.Line = bytes.Clone(r.Line)
		l.roles = append(l.roles, r)
	}
	l.stands.line(r)
	if r.Kind == (fact.Vessel{}).Kind() {
		r.Line = bytes.Clone(r.Line)
		l.vessels = append(l.vessels, r)
	}
	if r.Batch != l.seen && r.Batch != "" {
		l.seen = r.Batch
		l.marks[r.Batch] = true
	}
	if r.Batch == l.mark && (len(l.heads) > 0 || r.Kind == (fact.Planned{}).Kind()) {
		l.lines = append(l.lines, r.Line...)
		l.heads = append(l.heads, r)
	}
	if l.unread == nil {
		l.unread = l.shelf.line(r)
	}
	return nil
}

// records gives the kept lines of the batch.
func (l *latest) records() []journal.Record {
	out := slices.Clone(l.heads)
	rest := bytes.Clone(l.lines)
	for i := range out {
		out[i].Line, rest = rest[:len(out[i].Line)], rest[len(out[i].Line):]
	}
	return out
}

func (l *latest) past(seq uint64) (Past, error) {
	if l.unread != nil {
		return Past{}, l.unread
	}
	p := Past{Seq: seq, Marks: l.marks, stands: l.stands, Shelf: l.shelf}
	for _, r := range append(l.tub, l.records()...) {
		body, err := fact.DecodeBody(r.Kind, r.Line)
		if err != nil {
			return Past{}, fmt.Errorf("journal line %d: %w", r.Seq, err)
		}
		p.Facts = append(p.Facts, fact.Fact{Seq: r.Seq, At: r.At, Batch: r.Batch, By: r.By, Body: body})
	}
	for _, r := range l.roles {
		body, err := fact.DecodeBody(r.Kind, r.Line)
		if err != nil {
			return Past{}, fmt.Errorf("journal line %d: %w", r.Seq, err)
		}
		if v, ok := body.(fact.Role); ok {
			p.Roles = append(p.Roles, v)
		}
	}
	for _, r := range l.vessels {
		body, err := fact.DecodeBody(r.Kind, r.Line)
		if err != nil {
			return Past{}, fmt.Errorf("journal line %d: %w", r.Seq, err)
		}
		if v, ok := body.(fact.Vessel); ok {
			p.Vessels = withVessel(p.Vessels, v)
		}
	}
	for _, r := range l.gauges {
		body, err := fact.DecodeBody(r.Kind, r.Line)
		if err != nil {
			return Past{}, fmt.Errorf("journal line %d: %w", r.Seq, err)
		}
		p.Checks = append(p.Checks, fact.Fact{Seq: r.Seq, At: r.At, By: r.By, Body: body})
	}
	return p, nil
}
