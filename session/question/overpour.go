package question

import (
	"math/big"

	"tared/protocol"
	"tared/session/batch"
	"tared/session/fact"
	"tared/session/text"
)

// Overpour: too much is in the batch already. It can be kept, the batch enlarged, or
// closed and started again; what each would lead to is said first.
var Overpour = &Question{
	Key:  "overpour",
	When: func(s *Scene) bool { return s.Step >= 0 && s.Batch.Steps[s.Step].Over() },
	Head: func(s *Scene) text.Message { return text.New("ask.over-head", s.material()) },
	Ask: func(s *Scene) (text.Message, []text.Message) {
		st := s.step()
		d := s.Batch.Scale(st.Scale).Step.Places()
		says := text.New("ask.over", text.Exact("amount", st.Delivered, d), s.material(), text.Mass("target", st.Target, d))
		if st.IsWater() {
			return says, []text.Message{text.New("ask.over-water")}
		}
		lines := enlargedBy(s.Batch)
		if e, ok := exactly(s); ok {
			lines = append(lines, leftOver(s.Batch, e)...)
		}
		lines = append(lines, keptAs(s.Batch)...)
		if !inSeries(s) {
			return says, lines
		}
		again, err := s.CupAgain()
		if err != nil {
			again = []text.Message{text.Of(err)}
		}
		return says, append(lines, again...)
	},
	Answers: []Answer{
		{Word: Enlarge, If: func(s *Scene) bool { _, err := s.Batch.Enlarge(); return err == nil && !s.step().IsWater() },
			Label: func(s *Scene) text.Message {
				e, _ := s.Batch.Enlarge() // it is offered, so it can be
				return text.New("ask.over-enlarge", text.Mass("base", e.Base, 1))
			},
			Do: func(s *Scene, rest string) error {
				e, _ := s.Batch.Enlarge()
				scaleUp(s, e, Enlarge, rest)
				return nil
			}},
		{Word: Exact, If: func(s *Scene) bool { _, ok := exactly(s); return ok },
			Label: func(s *Scene) text.Message {
				e, _ := exactly(s) // it is offered, so it can be
				return text.New("ask.over-exact", text.Mass("base", e.Base, 1))
			},
			Do: func(s *Scene, rest string) error {
				e, _ := exactly(s)
				scaleUp(s, e, Exact, rest)
				return nil
			}},
		{Word: Keep, Label: says(text.New("ask.over-keep")), Do: func(s *Scene, rest string) error {
			decideOver(s, Keep, rest)
			s.Bench.Finish()
			return nil
		}},
		{Word: Undo, Label: says(text.New("ask.over-undo"))},
		{Word: Anew, If: canStartAgain, Label: func(s *Scene) text.Message {
			if inSeries(s) {
				return text.New("ask.over-anew-cup")
			}
			return text.New("ask.over-anew")
		}},
	},
	Refuse: func(s *Scene, word string) error {
		if _, err := s.Batch.Enlarge(); word == Enlarge && err != nil && !s.step().IsWater() {
			return text.Refuse("ask.over-cannot-enlarge", text.Because("why", err), text.Names("answers", s.Words()))
		}
		return text.Refuse("ask.over-first", s.material(), text.Names("answers", s.Words()))
	},
}

func inSeries(s *Scene) bool { return s.Batch.Plan.Series.Cup > 0 }

func canStartAgain(s *Scene) bool {
	if s.step().IsWater() {
		return false
	}
	if !inSeries(s) {
		return true
	}
	_, err := s.CupAgain()
	return err == nil
}

func decideOver(s *Scene, word, rest string) {
	st := s.step()
	s.Bench.Record(fact.Decided{Question: s.Key, Answer: word, Material: st.Material, Amount: st.Delivered - st.Target, Words: rest})
}

// exactly is the batch that has nothing over its target, where that is another than the
// smallest that has all inside their bands.
func exactly(s *Scene) (fact.Enlarged, bool) {
	if s.step().IsWater() {
		return fact.Enlarged{}, false
	}
	e, err := s.Batch.Exactly()
	smallest, wrong := s.Batch.Enlarge()
	return e, err == nil && (wrong != nil || smallest.Factor != e.Factor)
}

func scaleUp(s *Scene, e fact.Enlarged, word, rest string) {
	e.Because = s.step().Material
	decideOver(s, word, rest)
	s.Bench.Record(e)
	s.Bench.Finish()
}

// leftOver says what stays over its target in a larger batch.
func leftOver(b *batch.Batch, e fact.Enlarged) (lines []text.Message) {
	percent := func(m, of protocol.Mass) string {
		r := big.NewRat(int64(m), int64(of))
		return r.Mul(r, big.NewRat(100, 1)).FloatString(2)
	}
	for _, o := range b.Excess(e) {
		lines = append(lines, text.New("ask.over-left", text.Mass("base", e.Base, 1), text.Name("material", o.Line.Material),
			text.Share("over", percent(o.By, o.Line.Target)), text.Share("allowed", percent(o.Allowed, o.Line.Target))))
	}
	if len(lines) == 0 {
		return []text.Message{text.New("ask.over-left-nothing", text.Mass("base", e.Base, 1))}
	}
	return lines
}

// enlargedBy says what is to be topped up where the batch is enlarged, or why it cannot be.
func enlargedBy(b *batch.Batch) (lines []text.Message) {
	e, err := b.Enlarge()
	if err != nil {
		return []text.Message{text.Of(err)}
	}
	for _, l := range e.Lines {
		if k := b.StepOf(l.Material); k >= 0 && b.Steps[k].Part == batch.NoPart && b.Steps[k].Delivered > 0 && b.Steps[k].Delivered < l.Low {
			lines = append(lines, text.New("ask.over-enlarged", text.Mass("amount", l.Target-b.Steps[k].Delivered, b.Scale(l.Scale).Step.Places()), text.Name("material", b.Steps[k].Name())))
		}
	}
	return append(lines, leftOver(b, e)...)
}

// leastChange is the difference in percent points of the base from which it is told.
var leastChange = big.NewRat(1, 20)

// keptAs says what the recipe would be if all that went in stayed, and what is still to
// come were met.
func keptAs(b *batch.Batch) (lines []text.Message) {
	went := b.Deliveries()
	for i, l := range b.Lines {
		if k := b.StepOf(l.Material); !went[i].Skipped && !(k >= 0 && b.Steps[k].Part == batch.NoPart && (b.Steps[k].Done() || b.Steps[k].Over())) {
			went[i].Delivered = max(went[i].Delivered, l.Target)
		}
	}
	made, base, _ := batch.AsMade(b.Lines, went)
	if base <= protocol.Mass(0) {
		return nil
	}
	for i, l := range b.Lines {
		plan, ok := new(big.Rat).SetString(l.Share)
		is, ok2 := new(big.Rat).SetString(made[i].Share)
		if !ok || !ok2 || went[i].Skipped {
			continue
		}
		off := new(big.Rat).Sub(is, plan)
		if new(big.Rat).Abs(off).Cmp(leastChange) < 0 {
			continue
		}
		places := min(2, b.Scale(l.Scale).Step.DigitsOf(base, 100)) // nothing less than a step can be told
		share, planned, sign := is.FloatString(places), plan.FloatString(places), "+"
		if share == planned {
			continue // the scale cannot tell them apart
		}
		if off.Sign() < 0 {
			sign = "−"
		}
		lines = append(lines, text.New("ask.over-kept", text.Name("material", l.Material), text.Share("share", share), text.Share("planned", planned),
			text.Number("points", sign+off.Abs(off).FloatString(places))))
	}
	return lines
}
