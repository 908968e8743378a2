package main

import (
	"context"
	"errors"
	"strconv"
	"time"

	"tared/session/book"
	"tared/session/text"
	"tared/web"
)

// pageBook gives the pages the record of a running bench.
type pageBook struct{ record *bookReader }

func (p pageBook) Batches(_ context.Context, find string, order book.Order, first, most int) (rows []book.Row, all int, err error) {
	return p.search(find, first, most, func(_ *book.Index, q *book.Query) error { q.Order = order; return nil })
}

func (p pageBook) Older(_ context.Context, find, before string, most int) (rows []book.Row, all int, err error) {
	return p.search(find, 0, most, func(x *book.Index, q *book.Query) error {
		if q.Before = x.Number(before); q.Before == 0 && before != "" {
			return text.Kind(book.ErrNoBatch, text.Refuse("entry.no-batch", text.Name("batch", before)))
		}
		return nil
	})
}

func (p pageBook) search(find string, first, most int, more func(x *book.Index, q *book.Query) error) (rows []book.Row, all int, err error) {
	q, err := book.ParseQuery(find)
	if err != nil {
		return nil, 0, &text.Refusal{Message: text.Of(err)}
	}
	look := (*book.Index).Search
	if p.record.made() < 100 {
		look = (*book.Index).SearchMade // the others are found when they are made
	}
	err = p.record.with(func(x *book.Index) (err error) {
		if err = more(x, &q); err == nil {
			rows, all, err = look(x, q, first, most)
		}
		return err
	})
	return rows, all, err
}

// Behind tells how many lines are still to be checked, and how much of the book is read
// as far as a search needs it, in percent.
func (p pageBook) Behind() (lines, read int) { return p.record.toCheck(), p.record.made() }

// read lends the index to use, for a reader of the language of ctx.
func (p pageBook) read(ctx context.Context, use func(x *book.Index) error) error {
	return p.record.with(func(x *book.Index) error { return use(x.For(text.From(ctx))) })
}

// batch lends the batch of a mark to use.
func (p pageBook) batch(ctx context.Context, mark string, use func(n *book.Batch)) error {
	return p.read(ctx, func(x *book.Index) error {
		n, err := x.Find(mark)
		if err == nil {
			use(n)
		}
		return err
	})
}

func (p pageBook) Batch(ctx context.Context, mark string) (made book.Made, err error) {
	err = p.batch(ctx, mark, func(n *book.Batch) { made = n.Made() })
	return made, err
}

// After tells what came after a batch was closed.
func (p pageBook) After(ctx context.Context, mark, wanted string) (a book.After, err error) {
	want, err := wantedGravity(wanted)
	if err != nil {
		return a, &text.Refusal{Message: text.Of(err)}
	}
	err = p.batch(ctx, mark, func(n *book.Batch) { a = n.After(time.Now(), want) })
	return a, err
}

// Amendable gives an entry of a batch.
func (p pageBook) Amendable(ctx context.Context, mark string, seq uint64) (w book.Amendable) {
	_ = p.batch(ctx, mark, func(n *book.Batch) { w = n.Amendable(seq) }) // no batch has no entries
	return w
}

func (p pageBook) Compare(ctx context.Context, marks ...string) (c book.Comparison, err error) {
	err = p.read(ctx, func(x *book.Index) (err error) {
		if c, err = compare(x, marks); err != nil && !errors.Is(err, web.ErrNoBatch) {
			return &text.Refusal{Message: text.Of(err)}
		}
		return err
	})
	return c, err
}

// Oxides works out the glaze behind the weights of a batch.
func (p pageBook) Oxides(ctx context.Context, mark string) (o book.Oxides, err error) {
	if found := p.batch(ctx, mark, func(n *book.Batch) { o, err = n.Oxides() }); found != nil {
		return o, found
	}
	return o, err
}

// Series lays out the series to which a batch belongs.
func (p pageBook) Series(ctx context.Context, mark string) (s book.Series, err error) {
	err = p.read(ctx, func(x *book.Index) error {
		var ok bool
		if s, ok, err = x.Series(mark); err == nil && !ok {
			err = text.Kind(web.ErrNoBatch, text.Refuse("page.series.none", text.Name("batch", mark)))
		}
		return err
	})
	return s, err
}

// Label draws the labels of a batch.
func (p pageBook) Label(ctx context.Context, mark, sheet, count, link string) (drawn string, err error) {
	n, _ := strconv.Atoi(count) // what is no number asks for all
	err = p.read(ctx, func(x *book.Index) error {
		var err error
		if drawn, err = drawLabel(x, mark, link, sheet, n); err != nil && !errors.Is(err, web.ErrNoBatch) {
			return &text.Refusal{Message: text.Of(err)}
		}
		return err
	})
	return drawn, err
}
