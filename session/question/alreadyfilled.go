package question

import (
	"tared/scale/pan"
	"tared/session/text"
)

// AlreadyFilled: the material in work belongs on a scale where a container stands with
// something in it.
var AlreadyFilled = &Question{
	Key:    "early",
	Raised: func(p *pan.Pan) bool { return p.Content() > p.Steps(pan.ZeroSlack) },
	Head:   says(text.New("ask.what-is-it")),
	Ask: func(s *Scene) (text.Message, []text.Message) {
		return text.New("ask.early", s.exact("amount", s.Before), s.scale(), s.material()), nil
	},
	Answers: []Answer{
		{Word: Keep, Label: func(s *Scene) text.Message { return text.New("ask.early-keep", s.material()) }, Do: func(s *Scene, _ string) error { return goOn(s, Keep) }},
		{Word: Again, Label: says(text.New("ask.early-again")), Do: func(s *Scene, _ string) error { return goOn(s, Again) }},
	},
	True: went,
}

func goOn(s *Scene, word string) error {
	if err := s.steady(); err != nil {
		return err
	}
	s.decide(word, s.Pan.Content())
	if word == Again {
		s.Pan.Stand(s.Pan.Gross())
	}
	s.Pan.Unmark()
	s.Bench.Tare(s.Pan, "answered")
	return nil
}
