package main

import (
	"bytes"
	"context"
	"errors"
	"os/exec"
	"strconv"
	"strings"
	"time"

	"tared/session/book"
	"tared/session/label"
	"tared/session/text"
	"tared/web"
)

// labelPrinter prints labels by a command. No shell has a part in it.
type labelPrinter struct{ label.Printer }

// printWait is how long it may take: a queue takes a label at once.
const printWait = 30 * time.Second

// mostPrinted is how many labels are printed at a time.
const mostPrinted = 50

// print has so many labels of a batch printed.
func (p labelPrinter) print(ctx context.Context, x *book.Index, mark, link string, count int) error {
	if len(p.Command) == 0 {
		return text.Refuse("label.no-printer")
	}
	if count < 1 || count > mostPrinted {
		return text.Refuse("label.print-count", text.Count("count", count), text.Number("most", strconv.Itoa(mostPrinted)))
	}
	l, err := closedLabel(x, mark, link)
	if err != nil {
		return err
	}
	out, times, err := p.Draw(l, count)
	for ; times > 0 && err == nil; times-- {
		err = p.run(ctx, out)
	}
	return err
}

func (p labelPrinter) run(ctx context.Context, drawn string) error {
	ctx, cancel := context.WithTimeout(ctx, printWait)
	defer cancel()
	c := exec.CommandContext(ctx, p.Command[0], p.Command[1:]...)
	c.Stdin = strings.NewReader(drawn)
	said := capped{}
	c.Stdout, c.Stderr = &said, &said
	c.WaitDelay = time.Second // what it started may hold its output open
	err := c.Run()
	if err == nil {
		return nil
	}
	if ctx.Err() != nil {
		err = ctx.Err()
	} else if words := strings.TrimSpace(said.String()); words != "" {
		err = errors.New(words)
	}
	return text.Refuse("label.print-failed", text.Name("command", strings.Join(p.Command, " ")), text.Because("why", err))
}

// capped keeps the beginning of what a command says.
type capped struct{ bytes.Buffer }

// Write takes all, and keeps some.
func (c *capped) Write(b []byte) (int, error) {
	if room := 500 - c.Len(); room > 0 {
		_, _ = c.Buffer.Write(b[:min(room, len(b))]) // it never fails
	}
	return len(b), nil
}

// pagePrinter prints what the page asks for.
type pagePrinter struct {
	labelPrinter
	record *bookReader
}

// Print has so many labels of a batch printed.
func (p pagePrinter) Print(ctx context.Context, mark, link string, count int) error {
	err := p.record.with(func(x *book.Index) error {
		return p.print(ctx, x.For(text.From(ctx)), mark, link, count)
	})
	if err != nil && !errors.Is(err, web.ErrNoBatch) {
		err = &text.Refusal{Message: text.Of(err)}
	}
	return err
}

// pagePrinterOf is the printer of settings; nil where there is none.
func pagePrinterOf(s settings, record *bookReader) web.Printer {
	p, err := label.ReadPrinter(s.printer, s.as)
	if err != nil || len(p.Command) == 0 { // they were checked with the other settings
		return nil
	}
	return pagePrinter{labelPrinter{p}, record}
}
