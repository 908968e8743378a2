package session

import (
	"slices"
	"strings"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/fact"
	"tared/session/question"
	"tared/session/text"
)

// startAgain closes the batch with a reason and starts it again, from the same plan.
func (t *change) startAgain(c Command) error {
	b := t.s.Batch
	why, over := c.Rest, -1
	if i := b.Current(); i >= 0 && b.Steps[i].Over() {
		over = i
	}
	switch {
	case b.Plan.Series.Cup > 0:
		tub, err := t.s.tub()
		if err != nil {
			return err
		}
		if lacks := tub.lacks(); lacks > 0 && over < 0 { // the question of an overpour has said it
			short, rest, _ := strings.Cut(why, " ")
			if short != "short" {
				return text.Refuse("command.anew-short", text.Mass("left", tub.left, tub.places), text.Mass("need", tub.need, tub.places), text.Mass("lacks", lacks, tub.places))
			}
			why = rest
		}
	case c.mark == "":
		return text.Refuse("command.anew-no-mark")
	}
	d := fact.Decided{Question: "batch", Answer: "anew", Words: why}
	if over >= 0 {
		st := b.Steps[over]
		d.Question, d.Material, d.Amount = "overpour", st.Material, st.Delivered-st.Target
		if why == "" {
			why = text.New("command.anew-overpour", text.Name("material", st.Name())).String()
		}
	}
	if why == "" {
		return text.Refuse("command.anew-why")
	}
	t.Record(d)
	t.Record(fact.Noted{Text: why})
	t.Record(b.Closing(true))
	return t.afresh(c.mark, why)
}

// afresh opens the batch that takes the place of the one that was closed: with this
// mark, or with one of the series where it is a cup.
func (t *change) afresh(mark, why string) error {
	b := t.s.Batch
	p := b.Plan
	if p.Series.Cup > 0 {
		r := *t.s.Series
		r.Next = int(p.Series.Cup) - 1
		var err error
		if p, err = r.Cup(b.Reminded); err != nil {
			return text.Refuse("command.anew-cup", text.Because("why", err))
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
	t.s.asked, t.s.overAt = question.Case{}, 0
	t.put(mark, by, p)
	t.Tell(text.New("notice.anew", text.Name("batch", b.Mark), text.Name("why", strings.TrimSuffix(why, ".")), text.Name("next", mark)))
	return nil
}

// nextCup opens the next cup of the series, if there is one to fill.
func (t *change) nextCup() bool {
	r := t.s.Series
	if !r.More() {
		return false
	}
	p, err := r.Cup(t.s.Batch.Reminded)
	if err != nil {
		t.Tell(text.New("notice.no-cup", text.Because("why", err)))
		return false
	}
	by := t.s.Batch.By
	t.s.reset()
	t.s.asked, t.s.overAt = question.Case{}, 0
	t.put(batch.CupMark(r.Tub.Mark, p.Series.Cup), by, p)
	t.Tell(text.New("notice.cup", text.Count("cup", int(p.Series.Cup)), text.Count("cups", int(p.Series.Cups)), text.Name("label", p.Series.Label)))
	if take := p.Mixes[0].Take; r.Left < take.Low {
		p := protocol.Apart(max(r.Left, 0), take.Target, 1)
		t.Tell(text.New("notice.tub-short", text.Mass("left", max(r.Left, 0), p), text.Mass("need", take.Target, p)))
	}
	return true
}
