package main

import (
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"tared/protocol"
	"tared/session/sheet"
	"tared/session/text"
)

func planCommand() *cobra.Command {
	var batch batchFlags
	var scales scaleFlags
	var asJSON bool
	var data string
	cmd := &cobra.Command{
		Use:  "plan RECIPE (--base|--dry|--wet|--cup SIZE) --scale SCALE…",
		Args: oneArg("RECIPE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			configs, err := scales.parse(true)
			if err != nil {
				return err
			}
			if len(configs) == 0 {
				return usagef("cli.a-scale-is-missing-give")
			}
			for _, c := range configs {
				if c.Step == 0 {
					return usagef("cli.scale-name-step-is-missing", c.Name)
				}
			}
			text, err := recipeText(args[0], data, cmd.InOrStdin())
			if err != nil {
				return err
			}
			wish, err := batch.request(text, onSheet(configs))
			if err != nil {
				return err
			}
			scales := onSheet(configs)
			w, err := readWorkshop(data)
			if err != nil {
				// A plan needs no journal.
				_, _ = fmt.Fprintln(cmd.ErrOrStderr(), says("cli.the-repeatability-of-the-scales", data, inWords(err)))
			}
			if w != nil {
				scales, wish.Stock = withMeasured(w, scales), w.Stock.Snapshot()
			} else {
				_, _ = fmt.Fprintln(cmd.ErrOrStderr(), says("cli.the-stock-is-left-out"))
			}
			s, err := wish.Sheet(scales)
			if err != nil {
				return err
			}
			if asJSON {
				return json.NewEncoder(cmd.OutOrStdout()).Encode(s)
			}
			return writeSheet(cmd.OutOrStdout(), s)
		},
	}
	batch.add(cmd)
	scales.add(cmd)
	addData(cmd, &data)
	cmd.Flags().BoolVar(&asJSON, "json", false, "")
	return cmd
}

// writeSheet writes a weigh sheet for people.
func writeSheet(w io.Writer, s sheet.Sheet) error {
	_, err := io.WriteString(w, says("cli.read-as")+"\n  "+strings.Join(s.Read, "\n  ")+"\n\n"+sheetWords(s))
	return err
}

// sheetWords is a weigh sheet, without what its recipe was read as.
func sheetWords(s sheet.Sheet) string {
	title := s.Title
	if title == "" {
		title = says("cli.no-title")
	}
	var b strings.Builder
	b.WriteString(title + "\n" + says("cli.sized", language.Digits(s.Sized(s.Base)), language.Digits(s.Sized(s.Dry))) + "\n\n")
	writeShort(&b, s)
	t := newTable("material", "role", "share>", "target>", "from>", "to>", "scale", "", "U>", "")
	for _, l := range s.Lines {
		plus := ""
		if l.Addition {
			plus = "+ "
		}
		portions := ""
		if l.Portions > 1 {
			portions = says("cli.in-portions", l.Portions)
		}
		t.add(plus+l.Material, string(l.Role), l.Percent+" %", l.Exact()+" "+l.Measure(), fromMark(l), toMark(l),
			l.Scale, language.Term(string(l.Verdict)), mark(l.Assumed)+l.Doubt()+" "+l.Measure(), portions)
	}
	b.WriteString(t.String())
	if l := s.Water; l != nil {
		own, share, low, high := text.Grams("", l.Own()+" "+l.Measure()), text.Share("", l.Percent), text.Grams("", l.Lowest()+" "+l.Measure()), text.Grams("", l.Highest()+" "+l.Measure())
		then := says("cli.then-water", own, share, low, high, l.Scale)
		if l.Portions > 1 {
			then = says("cli.then-water-portions", own, share, low, high, l.Scale, l.Portions)
		}
		b.WriteString("\n" + then + "\n")
	}
	writeCups(&b, s)
	writeLots(&b, s)
	writeDiluted(&b, s)
	writeOuts(&b, s)
	writeHazards(&b, s)
	for i, words := range s.Words {
		if i == 0 {
			b.WriteString("\n")
		}
		b.WriteString(words + "\n")
	}
	return b.String()
}

// writeDiluted writes what goes in by way of a mixture.
func writeDiluted(b *strings.Builder, s sheet.Sheet) {
	for _, l := range s.Lines {
		if l.Less > 0 {
			fmt.Fprint(b, "\n"+says("cli.of-it-come-with-the", l.Material, inUnit(l, l.Less), inUnit(l, l.Target-l.Less))+"\n")
		}
		if l.Aliquot != nil {
			fmt.Fprint(b, "\n"+says("cli.goes-in-diluted", l.Material)+"\n")
			for i, words := range l.Aliquot.Steps {
				fmt.Fprintf(b, "  %d. %s\n", i+1, words)
			}
		}
	}
	for _, l := range s.Lines {
		if l.Assumed {
			b.WriteString("\n" + says("cli.rests-on-an-assumed-repeatability") + "\n")
			break
		}
	}
}

// writeOuts writes the ways out of what a scale cannot weigh well.
func writeOuts(b *strings.Builder, s sheet.Sheet) {
	for _, l := range s.Lines {
		if len(l.Outs) == 0 || l.Aliquot != nil {
			continue
		}
		fmt.Fprint(b, "\n"+says("cli.on-the-scale-ways-out", l.Material, language.Term(string(l.Verdict)), l.Scale)+"\n")
		for _, o := range l.Outs {
			fmt.Fprintf(b, "  - %s\n", o.Words)
		}
	}
	b.WriteString("\n")
	for i, c := range s.Cups {
		for _, l := range c.Lines {
			if l.Aliquot != nil {
				continue
			}
			if o := slices.IndexFunc(l.Outs, func(o sheet.Out) bool { return o.Kind == "finer" || o.Kind == "eye" }); o >= 0 {
				fmt.Fprintln(b, says("cli.cup-is-on-the-scale", i+1, l.Material, language.Term(string(l.Verdict)), l.Scale, l.Outs[o].Words))
			}
		}
	}
}

// writeHazards writes the first line of each hazard, which is the one to know at
// the bench; limits and statements are in --json and on the sheet page.
func writeHazards(b *strings.Builder, s sheet.Sheet) {
	all := slices.Clone(s.Lines)
	for _, c := range s.Cups {
		all = append(all, c.Lines...)
	}
	told := map[string]bool{}
	for _, l := range all {
		if len(l.Hazards) > 0 && !told[l.Material] {
			told[l.Material] = true
			fmt.Fprintf(b, "! %s: %s\n", l.Material, l.Hazards[0])
		}
	}
}

// writeShort says first what there is too little of.
func writeShort(b *strings.Builder, s sheet.Sheet) {
	lacks := false
	for _, l := range s.Lots {
		if l.Short {
			lacks = true
			b.WriteString(says("cli.short", l.Words) + "\n")
		}
	}
	if lacks && s.Instead != nil {
		b.WriteString(s.Instead.Words + "\n")
	}
	if lacks {
		b.WriteString("\n")
	}
}

// writeLots writes where the materials come from, as far as a stock is kept.
func writeLots(b *strings.Builder, s sheet.Sheet) {
	t := newTable("from-stock", "lot", "take>", "has>", "moisture>", "price-kg>", "")
	for _, l := range s.Lots {
		short := ""
		if l.Short {
			short = says("cli.too-little")
		}
		if l.Lot != "" {
			t.add(l.Material, l.Lot, l.Takes+" g", l.Holds+" g", percentOr(l.Moisture), strings.TrimSpace(l.Price+" "+l.Currency), short)
		}
	}
	if len(t.rows) > 1 {
		b.WriteString("\n" + t.String())
	}
}

// writeCups writes the cups of a series, in the order in which they are filled.
func writeCups(b *strings.Builder, s sheet.Sheet) {
	if len(s.Cups) == 0 {
		return
	}
	t := newTable("cup>", "what", "target>", "from>", "to>", "scale", "", "U>")
	for i, c := range s.Cups {
		no := strconv.Itoa(i + 1)
		lines := append([]sheet.Line{c.Take}, c.Lines...)
		if c.Water != nil {
			lines = append(lines, *c.Water)
		}
		for k, l := range lines {
			what := l.Material
			if k > 0 && k <= len(c.Lines) {
				what += " " + l.Percent + " %"
			}
			if l.Addition {
				what = "+ " + what
			}
			if a := l.Aliquot; a != nil {
				what = says("cli.in-of-lot", what, language.Digits(inUnit(l, a.Take-a.Off)), a.Lot)
			}
			t.add(no, what, l.Own()+" "+l.Measure(), l.Lowest()+" "+l.Measure(), l.Highest()+" "+l.Measure(), l.Scale, language.Term(string(l.Verdict)), mark(l.Assumed)+l.Doubt()+" "+l.Measure())
			no = ""
		}
	}
	b.WriteString("\n" + t.String())
}

func mark(assumed bool) string {
	if assumed {
		return "~"
	}
	return ""
}

// fromMark and toMark are the band as the scale can show it.
func fromMark(l sheet.Line) string {
	l.Less = 0
	return l.Lowest() + " " + l.Measure()
}

func toMark(l sheet.Line) string {
	l.Less = 0
	return l.Highest() + " " + l.Measure()
}

// inUnit is a mass as the scale of the line shows it.
func inUnit(l sheet.Line, m protocol.Mass) string { return m.In(l.Unit, l.Step) + " " + l.Measure() }
