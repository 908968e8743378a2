package question

import (
	"tared/scale/pan"
	"tared/session/text"
)

// LeftInGap: less is in the container than before the scale was lost. Was it tipped into
// the batch, or taken out?
var LeftInGap = &Question{
	Key: "gone",
	Raised: func(p *pan.Pan) bool {
		before, _ := p.Expected()
		return before-p.Vessel().Base > p.Steps(3) && p.Gross() < before-p.Steps(pan.SameSlack)
	},
	Head: says(text.New("ask.was-it-tipped")),
	Ask: func(s *Scene) (text.Message, []text.Message) {
		return text.New("ask.gone", s.exact("amount", s.Before-s.After)), nil
	},
	Answers: []Answer{
		{Word: Keep, If: func(s *Scene) bool { return !s.Unsure }, Label: says(text.New("ask.gone-keep")), Do: func(s *Scene, _ string) error {
			s.decide(Keep, s.Before-s.After)
			u := NetU(s.Batch, s.Pan) + s.Pan.Step()
			if s.Pan.On() != pan.Unknown { // it was heard all the time
				u = max(u, Doubt(s.Batch, s.Pan))
			}
			s.Pan.Stays()
			s.Bench.Weigh(s.Pan, Weighing{Before: s.Before, After: s.After, How: "unsettled", Raw: s.Raw, U: u, Remarks: []string{"last-heard"}})
			return nil
		}},
		{Word: Typed, Needs: "mass", Label: says(text.New("ask.unsettled-typed")), Sure: soMuch, Do: func(s *Scene, rest string) error {
			s.Pan.Stays()
			return s.typed(rest, "last-heard")
		}},
		{Word: Again, Label: says(text.New("ask.gone-again")), Sure: func(s *Scene, _ string) text.Message {
			return text.New("ask.gone-again-sure", s.exact("amount", s.Before-s.After))
		}, Do: func(s *Scene, _ string) error {
			s.decide(Again, s.Before-s.After)
			s.Pan.Stays()
			s.Bench.Tare(s.Pan, "answered")
			return nil
		}},
	},
	True: went,
}
