package question

import (
	"tared/scale/pan"
	"tared/session/text"
)

// CameSlowly: a weight grew on the empty pan little by little. It is powder that runs
// into a container tared with the scale's own key, or a container set down slowly.
var CameSlowly = &Question{
	Key:    "crept",
	Raised: func(p *pan.Pan) bool { return p.Vessel().Slow },
	Head:   says(text.New("ask.crept-head")),
	Ask: func(s *Scene) (text.Message, []text.Message) {
		return text.New("ask.crept", s.exact("amount", s.After), s.scale()), nil
	},
	Answers: []Answer{
		{Word: Keep, Label: says(text.New("ask.crept-keep")), Do: func(s *Scene, _ string) error {
			s.decide(Keep, s.After)
			s.Pan.StandFilled()
			s.Bench.Tare(s.Pan, "answered")
			return nil
		}},
		{Word: Again, Label: says(text.New("ask.crept-again")), Do: func(s *Scene, _ string) error {
			s.decide(Again, 0)
			return s.tareAsItStands("answered")
		}},
	},
	True: always(Keep),
}
