package main

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"time"

	"tared/session/book"
	"tared/session/text"
	"tared/web"
)

// bookOf gives the pages the record in dir, as it stands on the disk when they ask.
func bookOf(dir string) web.Book { return pageBook{&bookReader{dir: dir}} }

type pageBook struct{ record *bookReader }

func (p pageBook) Batches(_ context.Context, find string) ([]book.Row, error) {
	q, err := book.ParseQuery(find)
	if err != nil {
		return nil, &text.Refusal{Message: text.Written(err.Error())}
	}
	var rows []book.Row
	err = p.record.with(func(b *book.Book) error {
		for _, n := range b.Search(q) {
			rows = append(rows, n.Row())
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
			return noBatch(mark)
		}
		use(n)
		return nil
	})
}

func noBatch(mark string) error { return fmt.Errorf("batch %q: %w", mark, web.ErrNoBatch) }

func (p pageBook) Batch(_ context.Context, mark string) (made book.Made, err error) {
	err = p.batch(mark, func(n *book.Batch) { made = n.Made() })
	return made, err
}

// After tells what came after a batch was closed.
func (p pageBook) After(_ context.Context, mark, wanted string) (a book.After, err error) {
	want, err := wantedGravity(wanted)
	if err != nil {
		return a, &text.Refusal{Message: text.Written(err.Error())}
	}
	err = p.batch(mark, func(n *book.Batch) { a = n.After(time.Now(), want) })
	return a, err
}

// Amendable gives an entry of a batch.
func (p pageBook) Amendable(_ context.Context, mark string, seq uint64) (w book.Amendable) {
	_ = p.batch(mark, func(n *book.Batch) { w = n.Amendable(seq) }) // no batch has no entries
	return w
}

func (p pageBook) Compare(_ context.Context, marks ...string) (c book.Comparison, err error) {
	err = p.record.with(func(b *book.Book) error {
		for _, m := range marks {
			if b.Find(m) == nil {
				return noBatch(m)
			}
		}
		var err error
		if c, err = compare(b, p.record.dir, marks); err != nil {
			return &text.Refusal{Message: text.Written(err.Error())}
		}
		return nil
	})
	return c, err
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

// Label draws the labels of a batch.
func (p pageBook) Label(_ context.Context, mark, sheet, count, link string) (drawn string, err error) {
	n, _ := strconv.Atoi(count) // what is no number asks for all
	err = p.record.with(func(b *book.Book) error {
		var err error
		if drawn, err = drawLabel(b, mark, link, sheet, n); err != nil && !errors.Is(err, web.ErrNoBatch) {
			return &text.Refusal{Message: text.Written(err.Error())}
		}
		return err
	})
	return drawn, err
}
