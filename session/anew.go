package session

import (
	"fmt"
	"math/big"
	"slices"
	"strings"

	"tared/session/batch"
	"tared/session/fact"
)

// What can be done about too much that is in the batch already, beside enlarging
// it: keep it and know what the recipe becomes, or close the batch and begin it
// once more.

// keptAs says what the recipe would be if all that went in stayed, and what is
// still to come were met: for each material that would be off by a twentieth of a
// percent point of the base and more, its share, the planned one, and the
// difference.
func keptAs(b *batch.Batch) (lines []string) {
	went := b.Deliveries()
	for i, l := range b.Lines {
		if k := b.StepOf(l.Material); went[i].Skipped || k >= 0 && b.Steps[k].Part == batch.NoPart && (b.Steps[k].Done() || b.Steps[k].Over()) {
			continue
		}
		went[i].Delivered = max(went[i].Delivered, l.Target)
	}
	made, base, _ := batch.AsMade(b.Lines, went)
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
	why, over := c.Rest, -1
	if i := b.Current(); i >= 0 && b.Steps[i].Over() {
		over = i
	}
	switch {
	case b.Plan.Series.Cup > 0:
		words, lacks, err := t.s.cupAnew()
		if err != nil {
			return err
		}
		if lacks && over < 0 { // the question of an overpour has said it
			short, rest, _ := strings.Cut(why, " ")
			if short != "short" {
				return refuse("%s To do it all the same, answer `anew short` and the reason", words)
			}
			why = rest
		}
	case c.mark == "":
		return refuse("there is no mark for another batch")
	}
	d := fact.Decided{Question: "batch", Answer: "anew", Words: why}
	if over >= 0 {
		st := b.Steps[over]
		d.Question, d.Material, d.Amount = "overpour", st.Material, st.Delivered-st.Target
		if why == "" {
			why = fmt.Sprintf("too much %s was tipped", name(st))
		}
	}
	if why == "" {
		return refuse("`anew` closes the batch, begins it once more, and needs a reason behind it: anew the bag was damp")
	}
	t.emit(d)
	t.emit(fact.Noted{Text: why})
	t.emit(b.Closing(true))
	return t.afresh(c.mark, why)
}

// afresh opens the batch that takes the place of the one that was closed: with this
// mark, or with one of the series where it is a cup.
func (t *turn) afresh(mark, why string) error {
	b := t.s.Batch
	p := b.Plan
	if p.Series.Cup > 0 {
		r := *t.s.Series
		r.Next = int(p.Series.Cup) - 1
		var err error
		if p, err = r.Cup(b.Reminded); err != nil {
			return refuse("the cup cannot be planned once more: %v", err)
		}
		for i := range p.Mixes {
			p.Mixes[i].Mixed = b.Mixes[i].Mixed
		}
		mark = afterMark(b.Mark)
	}
	p.Again = b.Mark
	p.Lots = slices.Clone(p.Lots)
	for i, went := range b.Deliveries() {
		for k := range p.Lots {
			if u := &p.Lots[k]; u.Material == b.Lines[i].Material && u.Has > 0 && went.As == "" && !b.InTub(u.Material) {
				u.Has = max(u.Has-went.Delivered, 1) // none at all would say that nobody keeps a stock of it
			}
		}
	}
	by := b.By
	t.s.reset()
	t.s.asked, t.s.overAt = question{}, 0
	t.put(mark, by, p)
	t.say("Batch %s is closed: %s. Batch %s begins, from the same plan.", b.Mark, strings.TrimSuffix(why, "."), mark)
	return nil
}

// cupAnew says what the tub holds, should the cup in work be begun once more, and
// whether that is too little for it and those to come. The error says that it does
// not do for this cup.
func (s *State) cupAnew() (words string, lacks bool, err error) {
	b, r := s.Batch, s.Series
	if r == nil || r.Tub.Mark != b.Plan.Series.Of || len(r.Tub.Plan.Series.Plans) < int(b.Plan.Series.Cup) {
		return "", false, refuse("nobody knows what the tub of this cup still holds: close it with `abandon` and a reason, and plan a batch of its own from its recipe")
	}
	cup := int(b.Plan.Series.Cup)
	this, left := r.Tub.Plan.Series.Plans[cup-1].Take, r.Left-b.TakenFromTub()
	need := this.Target
	for _, p := range r.Tub.Plan.Series.Plans[cup:] {
		need += p.Take.Target
	}
	d := places(b.Scale(this.Scale).Step)
	holds := fmt.Sprintf("By what was weighed the tub holds some %s g", max(left, 0).Rounded(d))
	if left < this.Low {
		return "", true, refuse("%s, and a cup wants %s g: this one cannot be begun once more. Keep it as it is, or close it with `abandon` and a reason and plan a batch of its own from its recipe",
			holds, this.Target.Rounded(d))
	}
	of := "this cup wants"
	if n := len(r.Tub.Plan.Series.Plans) - cup; n == 1 {
		of = "this cup and the one to come want"
	} else if n > 1 {
		of = fmt.Sprintf("this cup and the %d to come want", n)
	}
	words = fmt.Sprintf("%s; %s %s g.", holds, of, need.Rounded(d))
	if left < need && need-left > need/1000 { // a thousandth is what clings and what rounding makes
		return fmt.Sprintf("%s The last would be %s g short.", words, (need - left).Rounded(d)), true, nil
	}
	return words, false, nil
}

// afterMark is the mark of a cup that takes the place of another: 260302a-3, then
// 260302a-3a, 260302a-3c and on through markLetters.
func afterMark(mark string) string {
	last := mark[len(mark)-1:]
	if k := strings.Index(markLetters, last); k >= 0 && k+1 < len(markLetters) {
		return mark[:len(mark)-1] + markLetters[k+1:k+2]
	}
	return mark + markLetters[:1]
}
