package main

import (
	"context"
	"fmt"
	"time"

	"tared/session"
	"tared/session/book"
	"tared/web"
)

// bookOf gives the pages the record in dir, as it stands on the disk when they ask.
func bookOf(dir string) web.Book { return pageBook{&bookReader{dir: dir}} }

type pageBook struct{ record *bookReader }

func (p pageBook) Batches(_ context.Context, find string) ([]web.BatchRow, error) {
	q, err := book.ParseQuery(find)
	if err != nil {
		return nil, &session.Refusal{Words: err.Error()}
	}
	rows := []web.BatchRow{}
	err = p.record.with(func(b *book.Book) error {
		for _, n := range b.Search(q) {
			rows = append(rows, pageRow(n.Row()))
		}
		return nil
	})
	return rows, err
}

// batch lends the batch of a mark to use.
func (p pageBook) batch(mark string, use func(n *book.Batch)) error {
	return p.record.with(func(b *book.Book) error {
		n := b.Find(mark)
		if n == nil {
			return fmt.Errorf("batch %q: %w", mark, web.ErrNoBatch)
		}
		use(n)
		return nil
	})
}

func (p pageBook) Batch(_ context.Context, mark string) (made web.BatchMade, err error) {
	err = p.batch(mark, func(n *book.Batch) { made = pageMade(n) })
	return made, err
}

func pageMade(n *book.Batch) web.BatchMade {
	m := n.Made()
	out := web.BatchMade{BatchRow: pageRow(m.Row), Recipe: m.Recipe, Words: m.Words, Hash: m.Hash, Verify: m.Check, Lines: []web.LineMade{}, Pours: []web.PourRow{}, Facts: []web.FactRow{}}
	for _, l := range m.Lines {
		out.Lines = append(out.Lines, lineMade(l))
	}
	if out.Series = n.Plan.Series.Of; n.Plan.Series.Cups > 0 && out.Series == "" {
		out.Series = n.Mark
	}
	if m.Water != nil {
		w := lineMade(*m.Water)
		out.Water = &w
	}
	out.Picture, out.Slim = m.Picture(false), m.Picture(true)
	for _, p := range m.Pours {
		row := web.PourRow{Seq: p.Seq, Material: p.Material, Before: p.Before.String(), After: p.After.String(), Delivered: p.Delivered.String(),
			U: p.U.Doubt(), Verdict: p.Verdict, Confirmed: p.Confirmed, Void: p.Void, Raw: p.Raw, Picture: p.Picture()}
		if p.As != "" {
			row.Material = p.As + ", instead of " + p.Material
		}
		if p.Is != nil {
			row.Corrected = p.Is.String()
		}
		if c := p.Correction; c != nil {
			row.NewU = c.U.Doubt()
			row.Why = fmt.Sprintf("%s, %s: %s", c.By, c.At.Format("2 January 2006, 15:04"), c.Reason)
			if c.Typed {
				row.Why = "typed by " + row.Why
			}
		}
		if p.How == "typed" {
			row.Before, row.After, row.Typed = "", "", p.By
		}
		out.Pours = append(out.Pours, row)
	}
	for _, f := range m.Facts {
		words := f.Words
		if f.Void {
			words += " (no longer counts)"
		}
		out.Facts = append(out.Facts, web.FactRow{Seq: f.Seq, At: f.At.Format(time.RFC3339), Kind: f.Kind, By: f.By, Words: words, Hash: f.Hash})
	}
	return out
}

// After tells what came after a batch was closed.
func (p pageBook) After(_ context.Context, mark, wanted string) (a book.After, err error) {
	want, err := wantedGravity(wanted)
	if err != nil {
		return a, &session.Refusal{Words: err.Error()}
	}
	err = p.batch(mark, func(n *book.Batch) { a = n.After(time.Now(), want) })
	return a, err
}

// Was gives an entry of a batch.
func (p pageBook) Was(_ context.Context, mark string, seq uint64) (w book.Was) {
	_ = p.batch(mark, func(n *book.Batch) { w = n.Was(seq) }) // no batch has no entries
	return w
}

func (p pageBook) Compare(_ context.Context, marks ...string) (web.Comparison, error) {
	var c book.Comparison
	err := p.record.with(func(b *book.Book) error {
		for _, m := range marks {
			if b.Find(m) == nil {
				return fmt.Errorf("batch %q: %w", m, web.ErrNoBatch)
			}
		}
		var err error
		if c, err = compare(b, p.record.dir, marks); err != nil {
			return &session.Refusal{Words: err.Error()}
		}
		return nil
	})
	if err != nil {
		return web.Comparison{}, err
	}
	out := web.Comparison{Explains: c.Explains, Verdict: c.Verdict, Notes: c.Notes, Causes: []string{}, Lines: []web.CompareLine{}}
	for _, r := range c.Batches {
		out.Batches = append(out.Batches, pageRow(r))
	}
	for _, x := range c.Causes {
		out.Causes = append(out.Causes, x.Words)
	}
	for _, l := range c.Lines {
		row := web.CompareLine{Material: l.Material, Addition: l.Addition, Differs: l.Differs}
		for k, x := range l.Cells {
			cell := web.CompareCell{Mark: c.Batches[k].Mark, As: x.As, Difference: x.Less, JointU: x.JointU, Differs: x.Differs}
			if x.In {
				cell.Share, cell.U, cell.Was = x.Share, x.U, x.Was
			}
			row.Cells = append(row.Cells, cell)
		}
		out.Lines = append(out.Lines, row)
	}
	return out, nil
}

// Series lays out the series to which a batch belongs.
func (p pageBook) Series(_ context.Context, mark string) (s book.Series, err error) {
	err = p.record.with(func(b *book.Book) error {
		var ok bool
		if s, ok = b.Series(mark); !ok {
			return fmt.Errorf("a series with batch %q: %w", mark, web.ErrNoBatch)
		}
		return nil
	})
	return s, err
}

func lineMade(l book.Line) web.LineMade {
	out := web.LineMade{Material: l.Material, As: l.As, Role: l.Role, Scale: l.Scale, Target: l.Target.String(), Low: l.Low.String(), High: l.High.String(),
		Planned: l.Planned, Verdict: l.Verdict}
	if b := l.Bag; b != nil {
		out.Bag = b.String()
	}
	out.WasShare, out.Corrected = l.WasShare, l.Corrected
	if l.Was != nil {
		out.Was = l.Was.String()
	}
	if !l.Weighed() {
		if l.VerdictWord() == "nothing in" {
			out.Verdict = "none"
		}
		return out
	}
	out.Delivered, out.Deviation, out.Bands, out.U, out.Share = l.Delivered.String(), l.Deviation.Signed(), l.Bands, l.U.Doubt(), l.Share
	if l.Dry != nil {
		out.Dry = l.Dry.String()
	}
	return out
}

func pageRow(r book.Row) web.BatchRow {
	row := web.BatchRow{Mark: r.Mark, Title: r.Title, By: r.By, Started: r.Started.Format(time.RFC3339), Base: r.Base.String(),
		Done: r.Done, Of: r.Of, Off: r.Off, Worst: r.Worst, Early: r.State == book.Abandoned, Simulated: r.Simulated}
	if !r.Finished.IsZero() {
		row.Ended = r.Finished.Format(time.RFC3339)
	}
	return row
}
