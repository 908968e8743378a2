package question

import (
	"slices"

	"tared/protocol"
	"tared/scale/pan"
	"tared/session/fact"
	"tared/session/text"
)

// LiftedTooSoon: the container was lifted before the reading was steady, and is back.
var LiftedTooSoon = &Question{
	Key:    "unsettled",
	Raised: func(p *pan.Pan) bool { return !p.Lift().Sure },
	Head:   says(text.New("ask.unsettled-head")),
	Ask: func(s *Scene) (text.Message, []text.Message) {
		if s.Pan.Lift().Keyed {
			return text.New("ask.unsettled-key", s.scale()), nil
		}
		return text.New("ask.unsettled", s.exact("amount", s.Before-s.After)), nil
	},
	Answers: []Answer{
		{Word: Keep, If: func(s *Scene) bool { return !s.Pan.Lift().Keyed && !s.Pan.Lift().Gapped }, Label: says(text.New("ask.unsettled-keep")), Do: func(s *Scene, _ string) error {
			s.Bench.Weigh(s.Pan, Weighing{Before: s.Before, After: s.After, How: "unsettled", Raw: s.Raw, U: Doubt(s.Batch, s.Pan), Remarks: []string{"highest"}})
			return nil
		}},
		{Word: Typed, Needs: "mass", Label: says(text.New("ask.unsettled-typed")), Sure: soMuch, Do: func(s *Scene, rest string) error { return s.typed(rest, "lifted-early") }},
		{Word: Again, Label: says(text.New("ask.unsettled-again")), Do: func(s *Scene, _ string) error {
			s.Bench.Record(fact.Decided{Question: "lifted", Answer: Again, Material: s.step().Material}) // as it was called in old journals
			s.Pan.Stays()
			return nil
		}},
	},
	True: went,
}

// typed records as much as a person says went in.
func (s *Scene) typed(rest string, remarks ...string) error {
	w, err := s.bySaying(rest, remarks...)
	if err == nil {
		s.Bench.Weigh(s.Pan, w)
	}
	return err
}

// bySaying is a portion by a person's word.
func (s *Scene) bySaying(rest string, remarks ...string) (w Weighing, err error) {
	m, err := protocol.ParseMass(rest)
	if err != nil || m <= 0 {
		return w, text.Refuse("ask.unsettled-typed-what")
	}
	return Weighing{Before: s.Before, After: s.After, How: "typed", Raw: append(slices.Clone(s.Raw), "typed "+rest), Delivered: m, Remarks: remarks}, nil
}
