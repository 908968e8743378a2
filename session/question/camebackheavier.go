package question

import (
	"tared/scale/pan"
	"tared/session/fact"
	"tared/session/text"
)

// CameBackHeavier: what came back weighs more than what was lifted. More was put in, or
// it is another container.
var CameBackHeavier = &Question{
	Key: "heavier",
	Raised: func(p *pan.Pan) bool {
		more := p.Gross() - p.Lift().Before
		return more > p.Steps(3) && (p.Lift().Sure || more > max(p.Steps(pan.LeastContainer), p.LiftedContent()/20))
	},
	Head: says(text.New("ask.another-container")),
	Ask: func(s *Scene) (text.Message, []text.Message) {
		if asHeavy(s) {
			return text.New("ask.as-heavy"), nil
		}
		return text.New("ask.heavier", s.exact("amount", s.After-s.Before)), nil
	},
	Answers: []Answer{
		{Word: Keep, Label: func(s *Scene) text.Message {
			if asHeavy(s) {
				return text.New("ask.as-heavy-keep")
			}
			return text.New("ask.heavier-keep")
		}, Do: func(s *Scene, _ string) error { return s.cameBackUntipped() }},
		{Word: Again, Label: says(text.New("ask.heavier-again")), Do: anotherCameBack},
	},
	True: always(Keep), // there is but one container for each scale
}

func asHeavy(s *Scene) bool { return s.After-s.Before <= s.Pan.Steps(3) }

// cameBackUntipped records that what was lifted came back as it was.
func (s *Scene) cameBackUntipped() error {
	s.Bench.Record(fact.Returned{Material: s.Lift.Material, Scale: s.Pan.Name(), After: s.After, Raw: s.Raw})
	s.Pan.Stays()
	return nil
}
