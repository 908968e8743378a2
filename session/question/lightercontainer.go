package question

import (
	"tared/scale/pan"
	"tared/session/text"
)

// LighterContainer: a container was put on the empty scale that weighs less than the one
// that left it. It is another one, or the same, filled before it was tared and
// tipped since: the two look alike.
var LighterContainer = &Question{
	Key:    "lighter",
	Raised: func(p *pan.Pan) bool { return p.Gross() < p.Prior().Before },
	Head:   says(text.New("ask.another-container")),
	Ask: func(s *Scene) (text.Message, []text.Message) {
		return text.New("ask.lighter", s.exact("amount", s.Before-s.After)), nil
	},
	Answers: []Answer{
		{Word: Again, Label: says(text.New("ask.lighter-again")), Do: func(s *Scene, _ string) error {
			s.decide(Again, s.Before-s.After)
			return s.tareAsItStands("answered")
		}},
		{Word: Keep, Label: func(s *Scene) text.Message { return text.New("ask.lighter-keep", s.exact("amount", s.Before-s.After)) },
			Do: func(s *Scene, _ string) error {
				s.Pan.Stand(s.Pan.Gross())
				s.Bench.Weigh(s.Pan, Weighing{Before: s.Before, After: s.After, How: "tipped", Raw: s.Raw, Remarks: []string{"untared"}})
				if s.Bench.InWork() {
					s.Bench.Tare(s.Pan, "container")
				}
				return nil
			}},
	},
	True: went,
}
