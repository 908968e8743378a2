package question

import (
	"tared/session/fact"
	"tared/session/text"
)

// PouredElsewhere: powder came into a container on a scale out of turn, and the material
// in work can be meant, or a later one.
var PouredElsewhere = &Question{
	Key:  "which",
	Head: says(text.New("ask.what-is-it")),
	Ask: func(s *Scene) (text.Message, []text.Message) {
		says := text.New("ask.which", s.exact("amount", max(s.Pan.Gained(), 0)), s.scale(), s.material(), text.Name("other", s.step().Scale))
		if _, why := s.fits(); !why.None() {
			return says, []text.Message{why}
		}
		return says, nil
	},
	Answers: []Answer{
		{Word: Keep, If: func(s *Scene) bool { _, why := s.fits(); return why.None() }, Label: func(s *Scene) text.Message { return text.New("ask.which-keep", s.material()) },
			Do: func(s *Scene, _ string) error {
				l, _ := s.fits()
				s.Bench.MoveTo(s.Pan, l)
				return nil
			}},
		{Word: Next, If: hasLater, Label: func(s *Scene) text.Message { return text.New("ask.which-next", s.laterMaterial()) },
			Do: func(s *Scene, _ string) error {
				s.Bench.Record(fact.Decided{Question: "order", Answer: Next, Material: s.Batch.Steps[s.later()].Material})
				s.Pan.Unmark()
				s.Bench.Tare(s.Pan, "container")
				return nil
			}},
		{Word: Again, Label: says(text.New("ask.which-again")), Do: func(s *Scene, _ string) error {
			if err := s.steady(); err != nil {
				return err
			}
			s.decide(Again, s.Pan.Gained())
			s.Pan.StandUntared(false)
			return nil
		}},
	},
	True: went,
}
