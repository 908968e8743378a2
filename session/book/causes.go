package book

import (
	"cmp"
	"slices"
	"strings"

	"tared/session/batch"
	"tared/session/text"
)

// why says why the batches may differ: the verdict on the weighing, each cause
// in a sentence, and what else is to be known.
func (c *Comparison) why(batches []*Batch, sides [][]side) {
	c.Causes, c.Notes, c.Words = []Cause{}, []string{}, []string{}
	var closed []*Batch
	for _, n := range batches {
		if n.Finished {
			closed = append(closed, n)
		}
	}
	note := func(m text.Message) { c.Notes = append(c.Notes, c.reader.Say(m)) }
	if len(closed) > 1 {
		c.weighing(batches, sides)
		c.besideWeighing(closed)
		slices.SortStableFunc(c.Causes, func(a, b Cause) int {
			return cmp.Compare(slices.Index(byWeight, a.Kind), slices.Index(byWeight, b.Kind))
		})
	}
	if len(batches) > 1 {
		for _, n := range batches {
			if !n.Finished {
				note(text.New("compare.open", text.Name("batch", n.Mark)))
			}
		}
		correctedNotes(batches, *c, note)
		notes(closed, note)
	}
	if c.Verdict != "" {
		c.Words = append(c.Words, c.Verdict)
	}
	for _, x := range c.Causes {
		if !strings.Contains(c.Verdict, x.Words) {
			c.Words = append(c.Words, x.Words)
		}
	}
	c.Words = append(c.Words, c.Notes...)
}

// weighing judges what went in.
func (c *Comparison) weighing(batches []*Batch, sides [][]side) {
	add := func(kind cause, material string, weighing bool, says ...text.Message) {
		c.Causes = append(c.Causes, Cause{kind, material, weighing, text.Join(c.reader, says)})
	}
	planned := false
	for m, l := range c.Lines {
		row := sides[m]
		plans := tally(batches, func(k int) string {
			return percentText(row[k].plan.RatString()) + " %"
		}, func(k int) bool { return !row[k].open })
		if len(plans) > 1 {
			planned = true
			add(byPlan, l.Material, false, text.New("compare.plan", text.Name("material", l.Material), text.Names("batches", grouped(plans))))
		}
	}
	found, shifted, slight := weighed(batches, *c, sides)
	for _, f := range found {
		add(f.kind, f.material, true, f.says...)
	}
	c.lots(batches, sides, add)
	if len(shifted) > 0 {
		add(byMoved, "", false, text.New("compare.moved", text.Names("materials", shifted)))
	}
	if len(slight) > 0 {
		add(bySmall, "", false, text.New("compare.small", text.Names("materials", slight)))
	}
	var unknown []string
	for m, l := range c.Lines {
		if slices.ContainsFunc(sides[m], func(s side) bool { return s.verdict == batch.Unknown }) {
			unknown = append(unknown, l.Material)
		}
	}
	c.Explains = len(found) > 0
	verdict := text.New("compare.no")
	if c.Hidden = c.hiddenIn(sides); c.Hidden == nil {
		c.Hidden = []Hidden{}
	}
	hidden := c.Hidden
	switch {
	case len(found) > 1:
		verdict = text.New("compare.yes-more", text.Name("what", text.Join(c.reader, found[0].says)), text.Count("count", len(found)-1))
	case len(found) == 1:
		verdict = text.New("compare.yes", text.Name("what", text.Join(c.reader, found[0].says)))
	case len(unknown) > 0:
		verdict = text.New("compare.not-known", text.Names("materials", unknown))
	case len(hidden) > 0:
		verdict, hidden = hidden[0].verdict(), hidden[1:]
	case planned:
		verdict = text.New("compare.no-recipes")
	case len(slight) > 0:
		verdict = text.New("compare.no-surely")
	}
	c.Verdict = c.reader.Say(verdict)
	for _, h := range hidden {
		c.Notes = append(c.Notes, c.reader.Say(text.New("compare.hidden", text.Exact("mass", h.Mass, 0), text.Share("percent", h.Percent), text.Name("material", h.Material))))
	}
}

// lots tells of materials that came from another bag.
func (c *Comparison) lots(batches []*Batch, sides [][]side, add func(kind cause, material string, weighing bool, says ...text.Message)) {
	for m, l := range c.Lines {
		row := sides[m]
		lot := func(k int) string { return batch.LotOf(batches[k].Plan.Lots, l.Material).Lot }
		from := tally(batches, lot, func(k int) bool { return row[k].in && !row[k].open && row[k].as == "" && lot(k) != "" })
		if len(from) > 1 {
			add(byLot, l.Material, false, text.New("compare.lots", text.Name("material", l.Material), text.Names("batches", grouped(from))))
		}
	}
}
