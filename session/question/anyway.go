package question

import (
	"tared/protocol"
	"tared/scale/pan"
	"tared/session/batch"
	"tared/session/text"
)

// NotKnown is the answer of one who does not know.
const NotKnown = batch.Unknown

// anyway are the two answers that a question about a pan has besides its own: whatever
// hands did, one of all is true.
var anyway = []Answer{
	{Word: Typed, Needs: "mass", Label: says(text.New("ask.anyway-typed")), Sure: soMuch, Do: func(s *Scene, rest string) error {
		w, err := s.bySaying(rest, "said")
		if err != nil {
			return err
		}
		return s.wentAnyhow(w)
	}},
	{Word: NotKnown, If: func(s *Scene) bool { return !s.Batch.Steps[s.of()].InCup() }, // else the cup is thrown away: skip
		Label: says(text.New("ask.anyway-not-known")), Do: func(s *Scene, _ string) error {
			return s.wentAnyhow(Weighing{How: NotKnown, Raw: s.Raw})
		}},
}

// soMuch asks whether so much went in as was typed.
func soMuch(s *Scene, rest string) text.Message {
	m, _ := protocol.ParseMass(rest)
	return text.New("ask.said", text.Exact("amount", m, 0), text.Name("material", s.Batch.Steps[s.of()].Name()))
}

// of gives the step that what is asked about belongs to.
func (s *Scene) of() int {
	if n := len(s.Batch.Takes); s.Question == LiftedUnseen && n > 0 {
		return s.Batch.Takes[n-1].Step
	}
	return s.Step
}

// wentAnyhow records what went in by a person's word. What stands on the pan then is the
// container of the next pour, whatever is in it; where nothing stands, one is asked for.
func (s *Scene) wentAnyhow(w Weighing) error {
	p := s.Pan
	w.Of, w.On, w.Before, w.After = s.of()+1, p.Name(), s.Before, s.After
	stands := p.On() != pan.Lifted && p.Usable() && p.AtRest() && p.Gross() >= p.Least()
	s.Bench.Weigh(p, w)
	switch {
	case !s.Bench.InWork():
	case !stands:
		p.Forget()
	case !s.Bench.InTurn(p):
		p.StandUntared(false)
	default:
		return s.tareAsItStands("answered")
	}
	return nil
}
