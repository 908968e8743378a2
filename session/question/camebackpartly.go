package question

import "tared/session/text"

// CameBackPartly: what came back weighs more than the container did when the pour began,
// and less than what was lifted. Some was left in it, or it is another container.
var CameBackPartly = &Question{
	Key:  "partly",
	Head: says(text.New("ask.partly-head")),
	Ask: func(s *Scene) (text.Message, []text.Message) {
		return text.New("ask.partly", s.exact("amount", s.Pan.Content())), nil
	},
	Answers: []Answer{
		{Word: Keep, Label: says(text.New("ask.partly-keep")), Do: func(s *Scene, _ string) error {
			s.Bench.Weigh(s.Pan, Weighing{Before: s.Before, After: s.After, How: "tipped", Raw: s.Raw, Left: s.Pan.Content()})
			return nil
		}},
		{Word: Again, Label: says(text.New("ask.partly-again")), Do: anotherCameBack},
		{Word: Typed, Needs: "mass", Label: says(text.New("ask.unsettled-typed")), Sure: soMuch, Do: func(s *Scene, rest string) error { return s.typed(rest) }},
	},
	True: always(Keep), // there is but one container for each scale
}
