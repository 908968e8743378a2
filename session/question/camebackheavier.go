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
		return more > max(p.Steps(3), p.LiftedContent()/20) && (p.Lift().Sure || more > p.Steps(pan.LeastContainer))
	},
	Head: says(text.New("ask.another-container")),
	Ask: func(s *Scene) (text.Message, []text.Message) {
		return text.New("ask.heavier", s.exact("amount", s.After-s.Before)), nil
	},
	Answers: []Answer{
		{Word: Keep, Label: says(text.New("ask.heavier-keep")), Do: func(s *Scene, _ string) error { return s.cameBackUntipped() }},
		{Word: Again, Label: says(text.New("ask.heavier-again")), Do: anotherCameBack},
	},
	True: always(Keep), // there is but one container for each scale
}

// cameBackUntipped records that what was lifted came back as it was.
func (s *Scene) cameBackUntipped() error {
	s.Bench.Record(fact.Returned{Material: s.Lift.Material, Scale: s.Pan.Name(), After: s.After, Raw: s.Raw})
	s.Pan.Stays()
	return nil
}
