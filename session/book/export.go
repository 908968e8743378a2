package book

import (
	"fmt"
	"io"
	"iter"
	"strings"
	"time"
)

// csvHead names the columns of WriteCSV; new ones go to the end.
var csvHead = []string{
	"batch", "title", "started", "finished", "by", "material", "as", "role", "scale", "target_g", "low_g", "high_g", "delivered_g",
	"deviation_g", "u_g", "beyond_u", "portions", "verdict", "planned_percent", "made_percent", "made_percent_u", "closing_hash",
	"dry_g", "lot", "moisture_percent", "cost", "currency",
	"percent_of", "delivered_at_closing_g", "made_percent_at_closing", "corrected",
}

// WriteCSV writes the materials of batches as RFC 4180: a head, a line for each
// material and for the first water, lines ended by CR LF, a decimal point or, with comma, a
// decimal comma and semicolons between. Masses
// are in full. What was corrected after the batch was closed has what the closing
// line says beside it. Shares are percent of what "percent_of" says: base, or dry for the
// water. Nothing of water is dry.
//
// A text that a spreadsheet would take for a formula gets an apostrophe before it:
// a material may be named by whoever wrote the recipe. The journal has it as it
// was written. With names to hide, they are numbers.
func WriteCSV(w io.Writer, comma bool, hide *Names, batches iter.Seq2[*Batch, error]) error {
	c, err := newSheetWriter(w, comma, csvHead)
	if err != nil {
		return err
	}
	for n, err := range batches {
		if err != nil {
			return err
		}
		m := n.Made()
		hide.Hide(&m)
		finished := ""
		if !m.Finished.IsZero() {
			finished = m.Finished.Format(time.RFC3339)
		}
		for _, l := range m.rows() {
			g := func(a Amount) string { return a.Grams(a.Places) }
			dry, bag := l.Delivered, Bag{}
			switch {
			case l.Of() == "dry":
				dry.Mass = 0
			case l.Dry != nil:
				dry = *l.Dry
			}
			closing := ""
			if l.AtClosing != nil {
				closing = g(*l.AtClosing)
			}
			if l.Bag != nil {
				bag = *l.Bag
			}
			if bag.Cost == "" {
				bag.Currency = ""
			}
			in, off, u, dried, beyond := g(l.Delivered), g(l.Deviation), g(l.U), g(dry), fmt.Sprint(l.Beyond)
			if l.Unknown() {
				in, off, u, dried, beyond = "", "", "", "", ""
			}
			err := c.Write([]string{
				inert(m.Mark), inert(m.Title), m.Started.Format(time.RFC3339), finished, inert(m.By), inert(l.Material), inert(l.As), l.Role,
				inert(l.Scale), g(l.Target), g(l.Low), g(l.High), in, off, u, beyond, fmt.Sprint(l.Portions),
				l.Verdict, l.Planned, l.Share, l.ShareU, m.Hash,
				dried, inert(bag.Lot), bag.Moisture, bag.Cost, inert(bag.Currency),
				l.Of(), closing, l.ShareAtClosing, inert(strings.Join(l.Corrected, "; ")),
			})
			if err != nil {
				return err
			}
		}
	}
	c.Flush()
	return c.Error()
}

// inert keeps a spreadsheet from running a text.
func inert(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}

// Only gives some batches one after the other.
func Only(batches ...*Batch) iter.Seq2[*Batch, error] {
	return func(yield func(*Batch, error) bool) {
		for _, n := range batches {
			if !yield(n, nil) {
				return
			}
		}
	}
}
