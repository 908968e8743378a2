package question

import "tared/session/text"

// Disagree: what was worked out does not follow from the lines of the scale, so it is not
// recorded. A person says how much went in, or that nobody knows.
var Disagree = &Question{
	Key:  "lines",
	Head: says(text.New("ask.lines-head")),
	Ask: func(s *Scene) (text.Message, []text.Message) {
		return text.New("ask.lines", s.scale(), s.material()), nil
	},
	Answers: []Answer{
		{Word: Again, Label: says(text.New("ask.lines-again")), Do: func(s *Scene, _ string) error {
			if s.Lift != nil {
				return s.cameBackUntipped()
			}
			s.decide(Again, 0)
			return nil
		}},
	},
	True: always(NotKnown),
}
