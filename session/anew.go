package session

import (
	"fmt"
	"math/big"
	"slices"
	"strings"

	"tared/session/book"
	"tared/session/fact"
)

// What can be done about too much that is in the batch already, beside enlarging
// it: keep it and know what the recipe becomes, or close the batch and begin it
// once more.

// becomes says what the recipe would be if all that went in stayed, and what is
// still to come were met: for each material that would be off by a twentieth of a
// percent point of the base and more, its share, the planned one, and the
// difference.
func (b *Batch) becomes() (lines []string) {
	went := b.went()
	for i, l := range b.Lines {
		if k := b.index(l.Material); went[i].Skipped || k >= 0 && b.Steps[k].Part == NoPart && (b.Steps[k].Done() || b.Steps[k].Over()) {
			continue
		}
		went[i].Delivered = max(went[i].Delivered, l.Target)
	}
	made, base, _ := book.AsMade(b.Lines, went)
	if base <= 0 {
		return nil
	}
	least := big.NewRat(1, 20)
	for i, l := range b.Lines {
		plan, ok := new(big.Rat).SetString(l.Share)
		is, ok2 := new(big.Rat).SetString(made[i].Share)
		if !ok || !ok2 || went[i].Skipped {
			continue
		}
		off := new(big.Rat).Sub(is, plan)
		if new(big.Rat).Abs(off).Cmp(least) < 0 {
			continue
		}
		sign := "+"
		if off.Sign() < 0 {
			sign = "−"
		}
		lines = append(lines, fmt.Sprintf("Kept: %s %s %% of the base, planned %s %% (%s%s points)", l.Material, is.FloatString(2), plan.FloatString(2),
			sign, off.Abs(off).FloatString(2)))
	}
	return lines
}

// anew closes the batch with a reason and begins it once more, from the same plan.
func (t *turn) anew(c Command) error {
	b := t.s.Batch
	why := c.Rest
	if i := b.step(); i >= 0 && b.Steps[i].Over() {
		st := b.Steps[i]
		if why == "" {
			why = fmt.Sprintf("too much %s was tipped", name(st))
		}
		t.emit(fact.Decided{Question: "overpour", Answer: "anew", Material: st.Material, Amount: st.Delivered - st.Target, Words: c.Rest})
	}
	switch {
	case why == "":
		return refuse("`anew` closes the batch, begins it once more, and needs a reason behind it: anew the bag was damp")
	case b.Plan.Series.Cup > 0:
		return refuse("this cup comes out of a tub that is mixed already, and may not hold enough for one more: close it with `abandon` and a reason, and plan one for itself")
	case c.mark == "":
		return refuse("there is no mark for another batch")
	}
	t.emit(fact.Noted{Text: why})
	t.emit(b.closing(true))
	p := b.Plan
	p.Again = b.Mark
	p.Lots = slices.Clone(p.Lots)
	for i, went := range b.went() {
		for k := range p.Lots {
			if u := &p.Lots[k]; u.Material == b.Lines[i].Material && u.Has > 0 && went.As == "" {
				u.Has = max(u.Has-went.Delivered, 1) // none at all would say that nobody keeps a stock of it
			}
		}
	}
	by := b.By
	t.s.reset()
	t.s.asked, t.s.overAt = question{}, 0
	t.put(c.mark, by, p)
	t.say("Batch %s is closed: %s. Batch %s begins, from the same plan.", b.Mark, strings.TrimSuffix(why, "."), c.mark)
	return nil
}
