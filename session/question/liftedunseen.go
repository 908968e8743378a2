package question

import (
	"tared/session/text"
)

// LiftedUnseen: what seemed to be left in the container after a tip left the pan without
// a lift. It was a thing that lay there, or powder that was taken out.
var LiftedUnseen = &Question{
	Key:  "thing",
	Head: says(text.New("ask.thing-head")),
	Ask: func(s *Scene) (text.Message, []text.Message) {
		return text.New("ask.thing", s.exact("amount", s.Before)), nil
	},
	Answers: []Answer{
		{Word: Again, Label: says(text.New("ask.thing-again")), Do: func(s *Scene, _ string) error {
			s.Bench.CorrectLast(s.Pan, s.Pan.Left().Base+s.Pan.Left().Amount-s.Pan.Gross(), "not-powder")
			return nil
		}},
		{Word: Keep, Label: says(text.New("ask.thing-keep")), Do: func(s *Scene, _ string) error {
			s.decide(Keep, s.Before)
			s.Pan.Rebase()
			s.Bench.Tare(s.Pan, "answered")
			return nil
		}},
	},
	True: always(Again), // nobody spoons out what was tipped
}
