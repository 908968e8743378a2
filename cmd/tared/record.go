package main

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"tared/session/book"
	"tared/session/text"
)

func recordCommand() *cobra.Command {
	var dir, find string
	var own ownFiles
	var asJSON bool
	cmd := &cobra.Command{
		Use: "record [BATCH…]",
		RunE: func(cmd *cobra.Command, args []string) error {
			q, err := book.ParseQuery(find)
			if err != nil {
				return usage(err)
			}
			if len(args) > 0 && find != "" {
				return usagef("cli.find-lists-batches-leave-out", args[0])
			}
			shelf, err := own.open()
			if err != nil {
				return err
			}
			return withIndex(dir, len(args) == 0, shelf, func(x *book.Index) error {
				switch out := cmd.OutOrStdout(); len(args) {
				case 0:
					return writeList(out, x, q, asJSON)
				case 1:
					n, err := batchOf(x, dir, args[0])
					if err != nil {
						return err
					}
					return render(out, asJSON, n.Made())
				default:
					return writeComparison(out, x, dir, args, asJSON)
				}
			})
		},
	}
	addData(cmd, &dir)
	own.add(cmd)
	cmd.Flags().BoolVar(&asJSON, "json", false, "")
	cmd.Flags().StringVar(&find, "find", "", "")
	return cmd
}

func writeList(out io.Writer, x *book.Index, q book.Query, asJSON bool) error {
	rows, _, err := x.Search(q, 0, x.Len())
	switch {
	case err != nil:
		return err
	case asJSON:
		return writeLines(out, rows)
	case len(rows) == 0 && x.Len() > 0:
		_, err := fmt.Fprintln(out, says("page.book.none-found"))
		return err
	}
	return book.RenderList(out, rows, language)
}

// batchOf finds a batch, and says which there are where it does not.
func batchOf(x *book.Index, dir, mark string) (*book.Batch, error) {
	n, err := x.Find(mark)
	if !errors.Is(err, book.ErrNoBatch) {
		return n, err
	}
	there := text.Put("cli.has-no-batch")
	if x.Len() > 0 {
		var marks []string
		for k := max(1, x.Len()-7); k <= x.Len(); k++ {
			marks = append(marks, x.Mark(k))
		}
		there = text.Put("cli.has-batches", strings.Join(marks, ", "))
	}
	return nil, failf("cli.no-batch-in", mark, dir, there)
}

// mostCompared is how many batches are set side by side at most: more columns
// than that nobody reads.
const mostCompared = 40

// compare sets batches side by side.
func compare(x *book.Index, marks []string) (book.Comparison, error) {
	if len(marks) < 2 || len(marks) > mostCompared {
		return book.Comparison{}, usagef("cli.give-the-numbers-of-to", mostCompared, len(marks))
	}
	var seen []int
	for _, mark := range marks {
		k := x.Number(mark)
		if k > 0 && slices.Contains(seen, k) {
			return book.Comparison{}, usagef("cli.batch-is-given-twice-it", x.Mark(k))
		}
		seen = append(seen, k)
	}
	all, err := x.FindAll(marks...)
	if err != nil {
		return book.Comparison{}, err
	}
	return book.Compare(all...), nil
}

func writeComparison(out io.Writer, x *book.Index, dir string, marks []string, asJSON bool) error {
	for _, mark := range marks {
		if x.Number(mark) == 0 {
			_, err := batchOf(x, dir, mark)
			return err
		}
	}
	c, err := compare(x, marks)
	if err != nil {
		return err
	}
	return render(out, asJSON, c)
}
