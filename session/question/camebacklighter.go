package question

import (
	"tared/scale/pan"
	"tared/session/text"
)

// CameBackLighter: what came back weighs less than the container did when it was tared.
// Powder was in it then and went with the rest, or it is another one.
var CameBackLighter = &Question{
	Key:    "swapped",
	Raised: func(p *pan.Pan) bool { return p.Gross()-p.Lift().Zero < p.Vessel().Weight-p.Steps(3) },
	Head:   says(text.New("ask.another-container")),
	Ask: func(s *Scene) (text.Message, []text.Message) {
		tared := s.Pan.Vessel().Base
		if s.Lift != nil {
			tared = s.Lift.Empty
		}
		return text.New("ask.swapped", s.exact("amount", tared-s.After)), nil
	},
	Answers: []Answer{
		{Word: Keep, Label: func(s *Scene) text.Message { return text.New("ask.swapped-keep", s.exact("amount", s.Before-s.After)) }, Sure: func(s *Scene, _ string) text.Message {
			return text.New("ask.swapped-keep-sure", s.exact("amount", s.Before-s.After))
		}, Do: func(s *Scene, _ string) error {
			s.Bench.Weigh(s.Pan, Weighing{Before: s.Before, After: s.After, How: "tipped", Raw: s.Raw, U: Doubt(s.Batch, s.Pan), Remarks: []string{"lighter"}})
			s.Pan.Lightest(s.After)
			return nil
		}},
		{Word: Again, Label: says(text.New("ask.swapped-again")), Do: anotherCameBack},
	},
	True: always(Keep), // there is but one container for each scale
}

// anotherCameBack takes what stands on the pan for another container; the weight of the
// one that left stands in for what it would have weighed coming back.
func anotherCameBack(s *Scene, _ string) error {
	how := "not-returned"
	if !s.Pan.Lift().Sure {
		how = "unsettled"
	}
	return s.replaced("container", Weighing{Before: s.Before, After: s.Pan.Vessel().Base, How: how, U: Doubt(s.Batch, s.Pan), Remarks: []string{"another"}, Other: s.After})
}

// replaced records a portion from a container that is not there any more, then tares the
// one that is.
func (s *Scene) replaced(how string, w Weighing) error {
	w.Raw = s.Raw
	s.Bench.Weigh(s.Pan, w)
	s.Pan.Stand(s.Pan.Gross())
	if s.Bench.InWork() {
		s.Bench.Tare(s.Pan, how)
	}
	return nil
}
