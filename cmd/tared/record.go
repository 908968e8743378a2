package main

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"tared/session/book"
)

func recordCommand() *cobra.Command {
	var dir, find, own string
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
			table, err := openMaterials(own)
			if err != nil {
				return err
			}
			return withIndex(dir, len(args) == 0, table, func(x *book.Index) error {
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
	addMaterials(cmd, &own)
	cmd.Flags().BoolVar(&asJSON, "json", false, "for a program")
	cmd.Flags().StringVar(&find, "find", "", "list only batches in which these words stand")
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
		_, err := fmt.Fprintln(out, "No batch matches.")
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
	there := "it has none yet"
	if x.Len() > 0 {
		var marks []string
		for k := max(1, x.Len()-7); k <= x.Len(); k++ {
			marks = append(marks, x.Mark(k))
		}
		there = "it has " + strings.Join(marks, ", ")
	}
	return nil, fmt.Errorf("no batch %s in %s: %s", mark, dir, there)
}

// mostCompared is how many batches are set side by side at most: more columns
// than that nobody reads.
const mostCompared = 40

// compare sets batches side by side.
func compare(x *book.Index, marks []string) (book.Comparison, error) {
	if len(marks) < 2 || len(marks) > mostCompared {
		return book.Comparison{}, usagef("give the numbers of 2 to %d batches to compare, not %d", mostCompared, len(marks))
	}
	var seen []int
	for _, mark := range marks {
		k := x.Number(mark)
		if k > 0 && slices.Contains(seen, k) {
			return book.Comparison{}, usagef("batch %s is given twice: it does not differ from itself", x.Mark(k))
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
