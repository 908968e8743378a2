package question

import (
	"tared/scale/pan"
	"tared/session/text"
)

// LittleMissing: a little less came back than was lifted. It was tipped, or the container
// stands off the centre of the pan.
var LittleMissing = &Question{
	Key: "little",
	Raised: func(p *pan.Pan) bool { // so little that the place on the pan may account for it
		less := p.Lift().Before - p.Gross()
		return p.Lift().Sure && less <= p.Steps(3) && less*20 <= p.LiftedContent()
	},
	Head: says(text.New("ask.was-it-tipped")),
	Ask: func(s *Scene) (text.Message, []text.Message) {
		return text.New("ask.little", s.exact("amount", s.Before-s.After)), nil
	},
	Answers: []Answer{
		{Word: Again, Label: says(text.New("ask.little-again")), Do: func(s *Scene, _ string) error { return s.cameBackUntipped() }},
		{Word: Keep, Label: says(text.New("ask.little-keep")), Do: func(s *Scene, _ string) error {
			s.Bench.Weigh(s.Pan, Weighing{Before: s.Before, After: s.After, How: "tipped", Raw: s.Raw})
			return nil
		}},
	},
	True: went,
}
