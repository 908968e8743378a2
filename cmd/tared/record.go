package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"tared/session/book"
)

func recordCommand() *cobra.Command {
	var dir, find string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "record [BATCH…]",
		Short: "What was made, beside what was planned",
		RunE: func(cmd *cobra.Command, args []string) error {
			q, err := book.ParseQuery(find)
			if err != nil {
				return usage(err)
			}
			if len(args) > 0 && find != "" {
				return usagef("--find lists batches: leave %q out", args[0])
			}
			if len(args) > 1 {
				return writeComparison(cmd.OutOrStdout(), dir, args, asJSON)
			}
			if len(args) == 1 {
				return writeRecord(cmd.OutOrStdout(), dir, args[0], asJSON)
			}
			return writeList(cmd.OutOrStdout(), dir, q, asJSON)
		},
	}
	addData(cmd, &dir)
	cmd.Flags().BoolVar(&asJSON, "json", false, "for a program")
	cmd.Flags().StringVar(&find, "find", "", "list only batches in which these words stand")
	return cmd
}

func writeList(out io.Writer, dir string, q book.Query, asJSON bool) error {
	return withBook(dir, func(b *book.Book) error {
		var rows []book.Row
		for _, n := range b.Search(q) { // the newest first
			rows = append(rows, n.Row())
		}
		switch {
		case asJSON:
			return writeLines(out, rows)
		case len(rows) == 0 && len(b.Batches()) > 0:
			_, err := fmt.Fprintln(out, "No batch matches.")
			return err
		}
		return book.RenderList(out, rows)
	})
}

func writeRecord(out io.Writer, dir, mark string, asJSON bool) error {
	return withBatch(dir, mark, func(n *book.Batch) error { return render(out, asJSON, n.Made()) })
}

// batchOf finds a batch, and says which there are where it does not.
func batchOf(b *book.Book, dir, mark string) (*book.Batch, error) {
	if n := b.Find(mark); n != nil {
		return n, nil
	}
	var marks []string
	for _, n := range b.Batches() {
		marks = append(marks, n.Mark)
	}
	there := "it has none yet"
	if len(marks) > 0 {
		there = "it has " + strings.Join(marks[max(0, len(marks)-8):], ", ")
	}
	return nil, fmt.Errorf("no batch %s in %s: %s", mark, dir, there)
}

// mostCompared is how many batches are set side by side at most: more columns
// than that nobody reads.
const mostCompared = 40

// compare sets batches side by side.
func compare(b *book.Book, dir string, marks []string) (book.Comparison, error) {
	if len(marks) < 2 || len(marks) > mostCompared {
		return book.Comparison{}, usagef("give the numbers of 2 to %d batches to compare, not %d", mostCompared, len(marks))
	}
	var all []*book.Batch
	for _, mark := range marks {
		n, err := batchOf(b, dir, mark)
		if err != nil {
			return book.Comparison{}, err
		}
		if slices.Contains(all, n) {
			return book.Comparison{}, usagef("batch %s is given twice: it does not differ from itself", n.Mark)
		}
		all = append(all, n)
	}
	return book.Compare(all...), nil
}

func writeComparison(out io.Writer, dir string, marks []string, asJSON bool) error {
	return withBook(dir, func(b *book.Book) error {
		c, err := compare(b, dir, marks)
		if err != nil {
			return err
		}
		return render(out, asJSON, c)
	})
}
