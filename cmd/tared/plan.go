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
)

func planCommand() *cobra.Command {
	var batch batchFlags
	var scales scaleFlags
	var asJSON bool
	var data string
	cmd := &cobra.Command{
		Use:   "plan RECIPE (--base|--dry|--wet|--cup SIZE) --scale SCALE…",
		Short: "The weigh sheet: what to weigh on which scale, and what cannot be weighed",
		Args:  oneArg("RECIPE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			configs, err := scales.parse(true)
			if err != nil {
				return err
			}
			if len(configs) == 0 {
				return usagef("a scale is missing: give at least its step, as --scale name=bench,step=0.1g,max=2000g")
			}
			for _, c := range configs {
				if c.Step == 0 {
					return usagef("--scale name=%s: step is missing: a plan needs it, as step=0.1g", c.Name)
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
				_, _ = fmt.Fprintf(cmd.ErrOrStderr(), "The repeatability of the scales is assumed: the journal in %s cannot be read: %v\n", data, err)
			}
			if w != nil {
				scales, wish.Stock = withMeasured(w, scales), w.Stock.Snapshot()
			} else {
				_, _ = fmt.Fprintln(cmd.ErrOrStderr(), "The stock is left out.")
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
	cmd.Flags().BoolVar(&asJSON, "json", false, "one JSON object")
	return cmd
}

// writeSheet writes a weigh sheet for people.
func writeSheet(w io.Writer, s sheet.Sheet) error {
	title := s.Title
	if title == "" {
		title = "A recipe without a title"
	}
	var b strings.Builder
	b.WriteString("Read as\n")
	for _, l := range s.Read {
		b.WriteString("  " + l + "\n")
	}
	fmt.Fprintf(&b, "\n%s\n%s of base, %s dry\n\n", title, s.Sized(s.Base), s.Sized(s.Dry))
	writeShort(&b, s)
	t := newTable("material", "role", "share>", "target>", "from>", "to>", "scale", "", "U>", "")
	for _, l := range s.Lines {
		plus := ""
		if l.Addition {
			plus = "+ "
		}
		portions := ""
		if l.Portions > 1 {
			portions = "in " + strconv.Itoa(l.Portions) + " portions"
		}
		t.add(plus+l.Material, string(l.Role), l.Percent+" %", l.Exact()+" "+l.Measure(), fromMark(l), toMark(l),
			l.Scale, string(l.Verdict), mark(l.Assumed)+l.Doubt()+" "+l.Measure(), portions)
	}
	b.WriteString(t.String())
	if l := s.Water; l != nil {
		portions := ""
		if l.Portions > 1 {
			portions = " in " + strconv.Itoa(l.Portions) + " portions"
		}
		fmt.Fprintf(&b, "\nThen %s of water (%s %% of everything dry), %s to %s, on the %s scale%s.\n", l.Own()+" "+l.Measure(), l.Percent,
			l.Lowest()+" "+l.Measure(), l.Highest()+" "+l.Measure(), l.Scale, portions)
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
	_, err := io.WriteString(w, b.String())
	return err
}

// writeDiluted writes what goes in by way of a mixture.
func writeDiluted(b *strings.Builder, s sheet.Sheet) {
	for _, l := range s.Lines {
		if l.Less > 0 {
			fmt.Fprintf(b, "\n%s: %s of it come with the mixture; weigh %s by itself.\n", l.Material, inUnit(l, l.Less), inUnit(l, l.Target-l.Less))
		}
		if l.Aliquot != nil {
			fmt.Fprintf(b, "\n%s goes in diluted:\n", l.Material)
			for i, words := range l.Aliquot.Steps {
				fmt.Fprintf(b, "  %d. %s\n", i+1, words)
			}
		}
	}
	for _, l := range s.Lines {
		if l.Assumed {
			b.WriteString("\n~ rests on an assumed repeatability of half a step; measure it and say spread=… to have it exact.\n")
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
		fmt.Fprintf(b, "\n%s: %s on the %s scale. Ways out:\n", l.Material, l.Verdict, l.Scale)
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
				fmt.Fprintf(b, "cup %d: %s is %s on the %s scale: %s, or make the cups larger\n", i+1, l.Material, l.Verdict, l.Scale, l.Outs[o].Words)
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
			b.WriteString("Short: " + l.Words + "\n")
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
	t := newTable("from stock", "lot", "take>", "has>", "moisture>", "price/kg>", "")
	for _, l := range s.Lots {
		short := ""
		if l.Short {
			short = "too little"
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
				what += ", in " + inUnit(l, a.Take-a.Off) + " of lot " + a.Lot
			}
			t.add(no, what, l.Own()+" "+l.Measure(), l.Lowest()+" "+l.Measure(), l.Highest()+" "+l.Measure(), l.Scale, string(l.Verdict), mark(l.Assumed)+l.Doubt()+" "+l.Measure())
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
