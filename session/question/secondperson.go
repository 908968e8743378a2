package question

import (
	"strings"

	"tared/session/batch"
	"tared/session/fact"
	"tared/session/text"
)

// SecondPerson: somebody other than the one who weighed looks at what is easily got wrong,
// where the workshop asks for that. Names are typed, here as elsewhere, and prove nobody.
var SecondPerson = &Question{
	Key:   "confirm",
	Alone: true,
	When:  func(s *Scene) bool { return s.Step >= 0 && s.Batch.Unconfirmed() >= 0 },
	Head:  says(text.New("ask.confirm-head")),
	Ask: func(s *Scene) (text.Message, []text.Message) {
		take, st := unconfirmed(s)
		d := s.Batch.Scale(st.Scale).Step.Places()
		if st.Typed {
			return text.New("ask.confirm-typed", text.Exact("amount", take.Delivered, d), text.Name("material", st.Name()), text.Mass("target", st.Target, d)), nil
		}
		return text.New("ask.confirm", text.Exact("amount", take.Delivered, d), text.Name("material", st.Name()), text.Mass("target", st.Target, d)), nil
	},
	Answers: []Answer{
		{Word: Yes, Needs: "name", Label: says(text.New("ask.confirm-yes")), Do: func(s *Scene, rest string) error {
			take, st := unconfirmed(s)
			who := strings.TrimSpace(rest)
			switch {
			case who == "":
				return text.Refuse("ask.confirm-who")
			case strings.EqualFold(who, take.By) || strings.EqualFold(who, s.Batch.By):
				return text.Refuse("ask.confirm-same", text.Name("name", who))
			}
			s.Bench.ActAs(who)
			s.Bench.Record(fact.Decided{Question: s.Key, Answer: Yes, Material: st.Material, With: who, Amount: take.Delivered})
			s.Bench.Tell(text.New("ask.confirmed", text.Name("name", who), text.Name("material", st.Name())))
			s.Bench.Finish()
			return nil
		}},
		{Word: Undo, Label: says(text.New("ask.confirm-undo"))},
	},
	Refuse: func(s *Scene, _ string) error {
		_, st := unconfirmed(s)
		return text.Refuse("ask.confirm-first", text.Name("material", st.Name()))
	},
}

func unconfirmed(s *Scene) (batch.Take, batch.Step) {
	take := s.Batch.Takes[s.Batch.Unconfirmed()]
	return take, s.Batch.Steps[take.Step]
}
