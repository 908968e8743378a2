package question

import (
	"tared/session/fact"
	"tared/session/text"
)

// Paused: the batch waits until somebody carries on.
var Paused = &Question{
	Key:   "paused",
	Alone: true,
	When:  func(s *Scene) bool { return s.Batch.Paused },
	Head:  says(text.New("bench.paused")),
	Ask:   func(*Scene) (text.Message, []text.Message) { return text.New("ask.paused"), nil },
	Answers: []Answer{
		{Word: Resume, Also: Yes, Label: says(text.New("ask.paused-resume")), Do: func(s *Scene, rest string) error {
			s.Bench.Record(fact.Resumed{Why: rest})
			return nil
		}},
	},
	Refuse: func(*Scene, string) error { return text.Refuse("ask.paused-first") },
}
