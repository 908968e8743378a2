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
	"tared/session/material"
	"tared/session/stock"
	"tared/session/text"
)

// stockFlags are those of stock.
type stockFlags struct {
	keepFlags
	add, correct, reason, left, of, mix, in   string
	amount, supplier, opened, moisture, price string
	note                                      string
	all, asWritten                            bool
}

func stockCommand() *cobra.Command {
	var s stockFlags
	cmd := &cobra.Command{
		Use:  "stock [LOT]",
		Args: maybeOneArg("LOT"),
		RunE: func(cmd *cobra.Command, args []string) error {
			out := cmd.OutOrStdout()
			values := s.amount + s.supplier + s.opened + s.moisture + s.price + s.note + s.reason
			switch {
			case s.doings() > 1:
				return usagef("cli.add-keep-left-mix-and")
			case len(args) == 1 && s.doings() > 0:
				return usagef("cli.a-lot-is-shown-by", args[0])
			case s.left != "":
				if s.supplier+s.opened+s.moisture+s.price+s.reason != "" {
					return usagef("cli.keep-left-takes-of-amount")
				}
				return s.keep(cmd.Context(), out, session.KeepRequest{Left: &session.LeftRequest{Batch: s.left, Material: s.of, Amount: s.amount, Words: s.note}})
			case s.mix != "":
				if s.amount+s.supplier+s.opened+s.moisture+s.price+s.reason != "" {
					return usagef("cli.mix-takes-in-and-note")
				}
				what, weighed, err := materialWeight("mix", s.mix)
				if err != nil {
					return err
				}
				carrier, into, err := materialWeight("in", s.in)
				if err != nil {
					return err
				}
				return s.keep(cmd.Context(), out, session.KeepRequest{Mixed: &session.MixedRequest{Material: what, Weighed: weighed, Carrier: carrier, Into: into, Words: s.note}})
			case s.in != "":
				return usagef("cli.in-says-what-a-mixture")
			case s.of != "":
				return usagef("cli.of-says-which-mixture-is")
			case s.add != "":
				if s.reason != "" {
					return usagef("cli.reason-is-for-correct-what")
				}
				if err := s.known(); err != nil {
					return err
				}
				return s.keep(cmd.Context(), out, session.KeepRequest{Lot: &session.LotRequest{Material: s.add, Amount: s.amount, Supplier: s.supplier,
					Opened: s.opened, Moisture: s.moisture, Price: s.price, Words: s.note}})
			case s.correct != "":
				if s.note != "" {
					return usagef("cli.note-is-for-add-a")
				}
				return s.keep(cmd.Context(), out, session.KeepRequest{Correct: &session.CorrectRequest{Lot: s.correct, Reason: s.reason, Amount: s.amount,
					Moisture: s.moisture, Price: s.price, Opened: s.opened, Supplier: s.supplier}})
			case values != "":
				return usagef("cli.what-is-to-be-done")
			}
			return s.list(out, args)
		},
	}
	s.addTo(cmd)
	f := cmd.Flags()
	f.StringVar(&s.add, "add", "", "")
	f.StringVar(&s.left, "keep-left", "", "")
	f.StringVar(&s.of, "of", "", "")
	f.StringVar(&s.mix, "mix", "", "")
	f.StringVar(&s.in, "in", "", "")
	f.StringVar(&s.correct, "correct", "", "")
	f.StringVar(&s.amount, "amount", "", "")
	f.StringVar(&s.supplier, "supplier", "", "")
	f.StringVar(&s.opened, "opened", "", "")
	f.StringVar(&s.moisture, "moisture", "", "")
	f.StringVar(&s.price, "price", "", "")
	f.StringVar(&s.note, "note", "", "")
	f.StringVar(&s.reason, "reason", "", "")
	f.BoolVar(&s.all, "all", false, "")
	f.BoolVar(&s.asWritten, "as-written", false, "")
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
		return s, failf("cli.journal-in-only-what-comes", dir, err)
	case err != nil:
		return nil, failf("cli.read-the-journal-in", dir, err)
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

// known asks about a new name that reads like a slip of one that is known.
func (s *stockFlags) known() error {
	t := material.Default()
	if _, ok := t.Lookup(s.add); ok || s.asWritten {
		return nil
	}
	near := t.Suggest(s.add)
	w, _ := readWorkshop(s.data) // what it lacks is no reason to refuse
	if len(near) == 0 || w != nil && slices.ContainsFunc(w.Stock.Lots(), func(l stock.Lot) bool { return strings.EqualFold(l.Material, strings.TrimSpace(s.add)) }) {
		return nil
	}
	return usagef("cli.of-flag", "add", text.Refuse("stock.slip", text.Name("material", s.add), text.Names("near", near)))
}

// materialWeight reads MATERIAL=WEIGHT. What of it is empty is asked for elsewhere.
func materialWeight(flag, value string) (material, weight string, err error) {
	material, weight, ok := strings.Cut(value, "=")
	if value != "" && !ok {
		err = usagef("cli.of-flag", flag, text.Refuse("stock.material-weight", text.Name("value", value)))
	}
	return material, weight, err
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
				return failf("cli.no-lot-in-tared-stock", args[0], s.data)
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
	t := newTable("lot", "material", "left>", "of>", "moisture>", "price-kg>", "opened", "supplier", "")
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
		b.WriteString(says("cli.no-lot-is-in-stock") + "\n")
	}
	if used > 0 {
		fmt.Fprint(&b, "\n"+says("cli.used-up-and-not-listed", used)+"\n")
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
	b.WriteString(says("cli.lot", l.Mark, l.Material) + "\n")
	t := newTable("", "")
	t.rows = nil
	for _, f := range []struct{ name, value string }{
		{head("left"), l.Shown(l.Left) + " g"}, {head("came-with"), says("cli.came-on", text.Grams("", l.Came.Grams(0)), l.Since.Format("2006-01-02"))}, {head("weighed"), l.Taken.Rounded(protocol.Apart(l.Taken, 0, l.Came.Places())) + " g"},
		{head("moisture"), percentOr(l.Moisture)}, {head("price-of-kg"), strings.TrimSpace(l.Price + " " + l.Currency)},
		{head("opened"), l.Opened}, {head("supplier"), l.Supplier}, {head("content"), language.Say(l.Holds())}, {head("caution"), language.Say(l.Caution())}, {head("note"), l.Words}, {"!", l.Trouble()},
	} {
		if f.value != "" {
			t.add(f.name, f.value)
		}
	}
	b.WriteString(t.String())
	if len(l.Entries) > 0 {
		b.WriteString("\n" + says("cli.corrected") + "\n")
		t := newTable("", "", "", "")
		t.rows = nil
		for _, e := range l.Entries {
			side := func(value string) string {
				switch {
				case value == "":
					return says("page.stock.nothing")
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
