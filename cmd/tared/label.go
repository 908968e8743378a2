package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"tared/session/book"
	"tared/session/label"
	"tared/session/material"
	"tared/session/signer"
	"tared/session/text"
	"tared/web"
)

// labelTiles is how many marks for tiles stand on a label.
const labelTiles = 6

func labelCommand() *cobra.Command {
	var dir, sheet, link, own, printer, as string
	var count int
	var prints bool
	cmd := &cobra.Command{
		Use:  "label BATCH",
		Args: oneArg("BATCH"),
		RunE: func(cmd *cobra.Command, args []string) error {
			x, err := readIndex(dir, false)
			if err != nil {
				return err
			}
			x.Reader = language
			if x.Shelf.Table, err = openMaterials(own); err != nil {
				return err
			}
			if web.OnlyHere(link) {
				_, _ = fmt.Fprintln(cmd.ErrOrStderr(), language.Say(text.New("label.only-here", text.Name("url", link))))
			}
			if prints {
				p, err := label.ReadPrinter(printer, as)
				if err != nil {
					return err
				}
				return labelPrinter{p}.print(cmd.Context(), x, args[0], link, max(count, 1))
			}
			svg, err := drawLabel(x, args[0], link, sheet, count)
			if err != nil {
				return err
			}
			_, err = io.WriteString(cmd.OutOrStdout(), svg+"\n")
			return err
		},
	}
	addData(cmd, &dir)
	f := cmd.Flags()
	f.StringVar(&sheet, "sheet", "", "")
	f.IntVar(&count, "count", 0, "")
	f.StringVar(&link, "link", "http://"+web.DefaultAddr+"/", "")
	f.BoolVar(&prints, "print", false, "")
	f.StringVar(&printer, "printer", "", "")
	f.StringVar(&as, "printer-as", "", "")
	fills(f, "link", "url")
	fills(f, "printer", "print_label")
	fills(f, "printer-as", "print_as")
	addMaterials(cmd, &own)
	return cmd
}

// errNoLabel says that a batch has no label yet, or never.
var errNoLabel = errors.New("no label")

func drawLabel(x *book.Index, mark, link, sheet string, count int) (string, error) {
	l, err := closedLabel(x, mark, link)
	if err != nil {
		return "", err
	}
	if sheet == "" {
		return l.SVG(105, 74)
	}
	paper, sheet := label.A4, strings.ToLower(sheet)
	if on, letter := strings.CutSuffix(sheet, " letter"); letter {
		paper, sheet = label.Letter, on
	}
	c, r, ok := strings.Cut(sheet, "x")
	if size, mm := strings.CutSuffix(r, "mm"); ok && mm {
		w, err := strconv.ParseFloat(c, 64)
		h, err2 := strconv.ParseFloat(size, 64)
		if err != nil || err2 != nil {
			return "", usagef("cli.sheet-give-the-size-of", sheet)
		}
		svg, err := l.SheetOf(paper, w, h, count)
		if err != nil {
			return "", usage(err)
		}
		return svg, nil
	}
	columns, err := strconv.Atoi(c)
	rows, err2 := strconv.Atoi(r)
	if !ok || err != nil || err2 != nil {
		return "", usagef("cli.sheet-give-columns-and-rows", sheet)
	}
	svg, err := l.Sheet(paper, columns, rows, count)
	if err != nil {
		return "", usage(err)
	}
	return svg, nil
}

// closedLabel is the label of a batch that is closed.
func closedLabel(x *book.Index, mark, link string) (label.Label, error) {
	n, err := x.Find(mark)
	if err != nil {
		return label.Label{}, err
	}
	m := n.Made()
	if m.Hash == "" {
		return label.Label{}, failf("cli.yet-batch-is-still-open", errNoLabel, m.Mark)
	}
	return labelOf(m, x.Shelf.Table, x.Number(mark), link, x.Reader), nil
}

// labelOf says what stands on the label of the batch that was planned as number n.
func labelOf(m book.Made, table *material.Table, n int, link string, reader *text.Language) label.Label {
	l := label.Label{Reader: reader, Mark: m.Mark, Title: m.Title, Date: m.Finished.Format("2006-01-02"), Hash: book.Short(m.Hash), Tiles: label.Marks(signer.OfMark(m.Mark), n, labelTiles),
		Link: strings.TrimSuffix(link, "/") + "/book/" + m.Mark + "#" + m.Hash[:16]}
	if m.Bench != "" {
		l.Bench = book.Short(m.Bench)
	}
	if m.State != book.Finished {
		l.Lines = append(l.Lines, reader.Say(text.New("label.early")))
	}
	if m.Simulated {
		l.Lines = append(l.Lines, reader.Say(text.New("label.simulated")))
	}
	if slices.ContainsFunc(m.Lines, func(l book.Line) bool { return l.AtClosing != nil }) {
		l.Lines = append(l.Lines, reader.Say(text.New("label.corrected")))
	}
	type hazard struct {
		name string
		m    material.Material
	}
	var hazards []hazard
	for _, line := range m.Lines {
		name := cmp.Or(line.As, line.Material)
		if line.Delivered.Mass <= 0 {
			continue
		}
		if line.Addition && line.Share != "" {
			l.Lines = append(l.Lines, "+ "+name+" "+reader.Digits(line.ShareShown())+" %")
		}
		if mat, ok := table.Or().Lookup(name); !ok || len(mat.Codes) > 0 {
			hazards = append(hazards, hazard{name, mat})
		}
	}
	// What has most to say goes first: the label may be too small for all.
	slices.SortStableFunc(hazards, func(a, b hazard) int { return len(b.m.Codes) - len(a.m.Codes) })
	l.Hazards = append(l.Hazards, reader.Say(text.New("label.dust")))
	for i, h := range hazards {
		if i == 0 {
			l.Hazards = append(l.Hazards, reader.Say(text.New("label.hazards")))
		}
		said := text.New("label.hazard", text.Name("material", h.name), text.Name("codes", strings.Join(h.m.Codes, " ")))
		if h.m.Name == "" {
			said = text.New("label.hazard-unknown", text.Name("material", h.name))
		}
		l.Hazards = append(l.Hazards, reader.Say(said))
	}
	return l
}
