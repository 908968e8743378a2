package main

import (
	"context"
	"fmt"
	"time"

	"tared/session"
	"tared/session/book"
	"tared/web"
)

// bookOf gives the pages the record in dir. Each question reads the journal
// anew, so that an answer is what stands on the disk and nothing else.
func bookOf(dir string) web.Book { return pageBook{dir} }

type pageBook struct{ dir string }

func (p pageBook) Batches(_ context.Context, find string) ([]web.BatchRow, error) {
	q, err := book.ParseQuery(find)
	if err != nil {
		return nil, &session.Refusal{Words: err.Error()}
	}
	b, err := readBook(p.dir)
	if b == nil {
		return nil, err
	}
	rows := []web.BatchRow{}
	for _, n := range b.Search(q) {
		rows = append(rows, pageRow(n.Row()))
	}
	return rows, nil
}

func (p pageBook) find(mark string) (*book.Batch, error) {
	b, err := readBook(p.dir)
	if b == nil {
		return nil, err
	}
	n := b.Find(mark)
	if n == nil {
		return nil, fmt.Errorf("batch %q: %w", mark, web.ErrNoBatch)
	}
	return n, nil
}

func (p pageBook) Batch(_ context.Context, mark string) (web.BatchMade, error) {
	n, err := p.find(mark)
	if err != nil {
		return web.BatchMade{}, err
	}
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
	return out, nil
}

// After tells what came after a batch was closed.
func (p pageBook) After(_ context.Context, mark, wanted string) (book.After, error) {
	want, err := wantedGravity(wanted)
	if err != nil {
		return book.After{}, &session.Refusal{Words: err.Error()}
	}
	n, err := p.find(mark)
	if err != nil {
		return book.After{}, err
	}
	return n.After(time.Now(), want), nil
}

func (p pageBook) Compare(_ context.Context, marks ...string) (web.Comparison, error) {
	b, err := readBook(p.dir)
	if b == nil {
		return web.Comparison{}, err
	}
	for _, m := range marks {
		if b.Find(m) == nil {
			return web.Comparison{}, fmt.Errorf("batch %q: %w", m, web.ErrNoBatch)
		}
	}
	c, err := compare(b, p.dir, marks)
	if err != nil {
		return web.Comparison{}, &session.Refusal{Words: err.Error()}
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
				cell.Share, cell.U = x.Share, x.U
			}
			row.Cells = append(row.Cells, cell)
		}
		out.Lines = append(out.Lines, row)
	}
	return out, nil
}

// Series lays out the series to which a batch belongs.
func (p pageBook) Series(_ context.Context, mark string) (book.Series, error) {
	b, err := readBook(p.dir)
	if b == nil {
		return book.Series{}, err
	}
	s, ok := b.Series(mark)
	if !ok {
		return s, fmt.Errorf("a series with batch %q: %w", mark, web.ErrNoBatch)
	}
	return s, nil
}

func lineMade(l book.Line) web.LineMade {
	dry, bag := "", ""
	if l.Dry != nil {
		dry = l.Dry.String()
	}
	if b := l.Bag; b != nil {
		bag = b.String()
	}
	return web.LineMade{Dry: dry, Bag: bag, Material: l.Material, As: l.As, Role: l.Role, Scale: l.Scale,
		Target: l.Target.String(), Low: l.Low.String(), High: l.High.String(), Delivered: l.Delivered.String(), Deviation: l.Deviation.Signed(),
		Bands: l.Bands, U: l.U.Doubt(), Planned: l.Planned, Share: l.Share, Verdict: l.Verdict}
}

func pageRow(r book.Row) web.BatchRow {
	row := web.BatchRow{Mark: r.Mark, Title: r.Title, By: r.By, Started: r.Started.Format(time.RFC3339), Base: r.Base.String(),
		Done: r.Done, Of: r.Of, Off: r.Off, Simulated: r.Simulated}
	if !r.Finished.IsZero() {
		row.Ended = r.Finished.Format(time.RFC3339)
	}
	return row
}
