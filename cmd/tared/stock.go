package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"tared/protocol"
	"tared/session"
	"tared/session/journal"
	"tared/session/stock"
)

// stockFlags are those of stock.
type stockFlags struct {
	keepFlags
	add, correct, reason, left, of, mix, in   string
	amount, supplier, opened, moisture, price string
	note                                      string
	all                                       bool
}

func stockCommand() *cobra.Command {
	var s stockFlags
	cmd := &cobra.Command{
		Use:   "stock [LOT]",
		Short: "The lots of materials: what there is, how moist, what it cost; add and correct",
		Args:  maybeOneArg("LOT"),
		RunE: func(cmd *cobra.Command, args []string) error {
			out := cmd.OutOrStdout()
			values := s.amount + s.supplier + s.opened + s.moisture + s.price + s.note + s.reason
			switch {
			case s.doings() > 1:
				return usagef("--add, --keep-left, --mix and --correct are done one at a time: give one of them")
			case len(args) == 1 && s.doings() > 0:
				return usagef("%q: a lot is shown by its mark alone; leave --add, --keep-left, --mix and --correct out", args[0])
			case s.left != "":
				if s.supplier+s.opened+s.moisture+s.price+s.reason != "" {
					return usagef("--keep-left takes --of, --amount and --note, and no more")
				}
				return s.keep(cmd.Context(), out, session.KeepRequest{Left: &session.LeftRequest{Batch: s.left, Material: s.of, Amount: s.amount, Words: s.note}})
			case s.mix != "":
				if s.amount+s.supplier+s.opened+s.moisture+s.price+s.reason != "" {
					return usagef("--mix takes --in and --note, and no more: how much there is follows from the two weights")
				}
				what, weighed, _ := strings.Cut(s.mix, "=")
				carrier, into, _ := strings.Cut(s.in, "=")
				return s.keep(cmd.Context(), out, session.KeepRequest{Mixed: &session.MixedRequest{Material: what, Weighed: weighed, Carrier: carrier, Into: into, Words: s.note}})
			case s.in != "":
				return usagef("--in says what a mixture is diluted in: it belongs to --mix")
			case s.of != "":
				return usagef("--of says which mixture is kept: it belongs to --keep-left")
			case s.add != "":
				if s.reason != "" {
					return usagef("--reason is for --correct; what is to be said of a new lot goes behind --note")
				}
				return s.keep(cmd.Context(), out, session.KeepRequest{Lot: &session.LotRequest{Material: s.add, Amount: s.amount, Supplier: s.supplier,
					Opened: s.opened, Moisture: s.moisture, Price: s.price, Words: s.note}})
			case s.correct != "":
				if s.note != "" {
					return usagef("--note is for --add; a correction has its --reason")
				}
				return s.keep(cmd.Context(), out, session.KeepRequest{Correct: &session.CorrectRequest{Lot: s.correct, Reason: s.reason, Amount: s.amount,
					Moisture: s.moisture, Price: s.price, Opened: s.opened, Supplier: s.supplier}})
			case values != "":
				return usagef("what is to be done with these? Say --add MATERIAL, --keep-left BATCH, --mix MATERIAL=WEIGHT, or --correct LOT")
			}
			return s.list(out, args)
		},
	}
	s.addTo(cmd)
	f := cmd.Flags()
	f.StringVar(&s.add, "add", "", "bring a lot of this material into stock")
	f.StringVar(&s.left, "keep-left", "", "keep what is left of a mixture or a solution of this batch, such as 261201a, as a lot with its content")
	f.StringVar(&s.of, "of", "", "with --keep-left: the material that is diluted in it, where there were several")
	f.StringVar(&s.mix, "mix", "", `bring a mixture or a solution into stock that was weighed by itself: the material and its weight, with all digits that the scale showed, such as "Cobalt sulfate=8.0g"`)
	f.StringVar(&s.in, "in", "", `with --mix: what it is diluted in, such as "Quartz=312.0g" or "Water=312.0g"`)
	f.StringVar(&s.correct, "correct", "", "correct the lot of this mark, such as L3; wants --reason")
	f.StringVar(&s.amount, "amount", "", "what is in it, such as 25kg")
	f.StringVar(&s.supplier, "supplier", "", "the supplier's mark on the bag")
	f.StringVar(&s.opened, "opened", "", "the day it was opened, such as 2026-11-25")
	f.StringVar(&s.moisture, "moisture", "", "water in it, in percent of the whole (wet basis), such as 3.5%")
	f.StringVar(&s.price, "price", "", `of a kilogram as it lies there, such as 0.84 or "0.84 EUR"`)
	f.StringVar(&s.note, "note", "", "anything else about a new lot")
	f.StringVar(&s.reason, "reason", "", "why a lot is corrected")
	f.BoolVar(&s.all, "all", false, "list lots that are used up as well")
	return cmd
}

// readWorkshop reads what the journal knows beside the batches; empty where there is
// no journal yet.
func readWorkshop(dir string) (*session.Workshop, error) {
	s, err := session.ReadWorkshop(dir, time.Now())
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return s, nil
	case errors.Is(err, journal.ErrDamaged):
		return s, fmt.Errorf("journal in %s: %w: only what comes before is shown; see 'tared verify'", dir, err)
	case err != nil:
		return nil, fmt.Errorf("read the journal in %s: %w", dir, err)
	}
	return s, nil
}

// withWorkshop lends what the journal knows beside the batches to use, also where only
// what stands before a fault can be shown.
func withWorkshop(dir string, use func(w *session.Workshop) error) error {
	w, err := readWorkshop(dir)
	if w == nil {
		return err
	}
	return errors.Join(err, use(w))
}

// doings is how many things were asked for at once.
func (s *stockFlags) doings() (n int) {
	for _, what := range []string{s.add, s.left, s.mix, s.correct} {
		if what != "" {
			n++
		}
	}
	return n
}

func (s *stockFlags) list(out io.Writer, args []string) error {
	return withWorkshop(s.data, func(w *session.Workshop) error {
		lots := w.Stock.Lots()
		if len(args) == 1 {
			i := slices.IndexFunc(lots, func(l stock.Lot) bool { return strings.EqualFold(l.Mark, args[0]) })
			if i < 0 {
				return fmt.Errorf("no lot %s in %s. 'tared stock --all' lists them", args[0], s.data)
			}
			return s.one(out, lots[i])
		}
		if s.json {
			return writeLines(out, lots)
		}
		return s.table(out, lots)
	})
}

func (s *stockFlags) table(out io.Writer, lots []stock.Lot) error {
	var b strings.Builder
	t := newTable("lot", "material", "left>", "of>", "moisture>", "price/kg>", "opened", "supplier's mark", "")
	used := 0
	for _, l := range lots {
		if l.Left == 0 && !s.all {
			used++
			continue
		}
		t.add(l.Mark, l.Material, l.Shown(l.Left)+" g", l.Came.Grams(0)+" g", percentOr(l.Moisture), strings.TrimSpace(l.Price+" "+l.Currency), l.Opened, l.Supplier, l.Trouble())
	}
	if len(t.rows) > 1 {
		b.WriteString(t.String())
	} else {
		b.WriteString("No lot is in stock. Add one with: tared stock --add Quartz --amount 25kg --by NAME\n")
	}
	if used > 0 {
		fmt.Fprintf(&b, "\nUsed up and not listed: %d; --all shows them.\n", used)
	}
	_, err := io.WriteString(out, b.String())
	return err
}

func percentOr(s string) string {
	if s == "" {
		return ""
	}
	return s + " %"
}

func (s *stockFlags) one(out io.Writer, l stock.Lot) error {
	if s.json {
		return json.NewEncoder(out).Encode(l)
	}
	var b strings.Builder
	fmt.Fprintf(&b, "Lot %s  %s\n", l.Mark, l.Material)
	t := newTable("", "")
	t.rows = nil
	for _, f := range []struct{ name, value string }{
		{"left", l.Shown(l.Left) + " g"}, {"came with", l.Came.Grams(0) + " g on " + l.Since.Format("2006-01-02")}, {"weighed from it", l.Taken.Rounded(protocol.Apart(l.Taken, 0, l.Came.Places())) + " g"},
		{"moisture", percentOr(l.Moisture)}, {"price of a kilogram", strings.TrimSpace(l.Price + " " + l.Currency)},
		{"opened", l.Opened}, {"supplier's mark", l.Supplier}, {"content", l.Holds().String()}, {"caution", l.Caution().String()}, {"note", l.Words}, {"!", l.Trouble()},
	} {
		if f.value != "" {
			t.add(f.name, f.value)
		}
	}
	b.WriteString(t.String())
	if len(l.Entries) > 0 {
		b.WriteString("\nCorrected\n")
		t := newTable("", "", "", "")
		t.rows = nil
		for _, e := range l.Entries {
			side := func(value string) string {
				switch {
				case value == "":
					return "nothing"
				case e.Field == "moisture":
					return value + " %"
				}
				return value
			}
			t.add(fmt.Sprint(e.Seq), e.Field, side(e.Old)+" -> "+side(e.New), e.By+", "+e.At.Format("2006-01-02 15:04")+": "+e.Reason)
		}
		b.WriteString(t.String())
	}
	_, err := io.WriteString(out, b.String())
	return err
}
