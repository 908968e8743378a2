package question

import "tared/session/text"

// ByEye: a balance that a person reads. What it shows is typed in.
var ByEye = &Question{
	Key:  "typed",
	When: func(s *Scene) bool { return s.Step >= 0 && s.Pan == nil },
	Ask: func(s *Scene) (text.Message, []text.Message) {
		return text.New("ask.typed", text.Name("scale", s.step().Scale), s.material()), nil
	},
	Answers: []Answer{
		{Word: Typed, Needs: "mass", Label: says(text.New("ask.typed-typed"))},
		{Word: Skip, Label: says(text.New("ask.typed-skip"))},
	},
}
